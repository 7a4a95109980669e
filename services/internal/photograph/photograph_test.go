package photograph

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"strings"
	"testing"

	"halfshaft/services/fault"
)

var (
	red    = color.RGBA{220, 20, 20, 255}
	green  = color.RGBA{20, 200, 20, 255}
	blue   = color.RGBA{20, 20, 220, 255}
	yellow = color.RGBA{230, 220, 20, 255}
)

// quarters is a picture of w by h whose quarters are red, green, blue and
// yellow: top left, top right, bottom left, bottom right.
func quarters(w, h int) *image.RGBA {
	p := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			p.SetRGBA(x, y, [2][2]color.RGBA{{red, green}, {blue, yellow}}[2*y/h][2*x/w])
		}
	}
	return p
}

func asJPEG(t *testing.T, p image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := jpeg.Encode(&out, p, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func asPNG(t *testing.T, p image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := png.Encode(&out, p); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// tiff is EXIF data with a place and an orientation.
func tiff(order binary.AppendByteOrder, orientation uint16) []byte {
	head := []byte("II*\x00")
	if order.String() == "BigEndian" {
		head = []byte("MM\x00*")
	}
	out := order.AppendUint32(head, 8)
	out = order.AppendUint16(out, 2)
	entry := func(tag uint16, value uint16) {
		out = order.AppendUint16(order.AppendUint16(out, tag), typeShort)
		out = order.AppendUint16(order.AppendUint16(order.AppendUint32(out, 1), value), 0)
	}
	entry(0x0100, 7)
	entry(tagOrientation, orientation)
	return append(out, "GPS 51.5007 -0.1246"...)
}

// withExif puts EXIF data behind the start of a JPEG file, after another
// segment.
func withExif(picture, tiff []byte) []byte {
	segment := func(marker byte, body []byte) []byte {
		return append(binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(body)+2)), body...)
	}
	out := append([]byte{}, picture[:2]...)
	out = append(out, segment(0xfe, []byte("taken by MARKED"))...)
	out = append(out, segment(markerApp1, append([]byte("Exif\x00\x00"), tiff...))...)
	return append(out, picture[2:]...)
}

func pngWithExif(picture, tiff []byte) []byte {
	const header = 8 + 12 + 13 // signature and IHDR
	chunk := append(binary.BigEndian.AppendUint32(nil, uint32(len(tiff))), append([]byte("eXIf"), tiff...)...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	return append(append(append([]byte{}, picture[:header]...), chunk...), picture[header:]...)
}

// near names the colour of a pixel, which JPEG changes a little.
func near(c color.Color) string {
	r, g, b, _ := c.RGBA()
	got := [3]int{int(r >> 8), int(g >> 8), int(b >> 8)}
	for name, want := range map[string]color.RGBA{"red": red, "green": green, "blue": blue, "yellow": yellow, "white": {255, 255, 255, 255}} {
		d := 0
		for i, v := range [3]uint8{want.R, want.G, want.B} {
			d = max(d, got[i]-int(v), int(v)-got[i])
		}
		if d < 40 {
			return name
		}
	}
	return fmt.Sprint(got)
}

// corners gives the colours of the four quarters, and the form.
func corners(t *testing.T, drawn []byte) string {
	t.Helper()
	p, format, err := image.Decode(bytes.NewReader(drawn))
	if err != nil || format != "jpeg" {
		t.Fatalf("got %s, %v", format, err)
	}
	w, h := p.Bounds().Dx(), p.Bounds().Dy()
	form := "wide"
	if h > w {
		form = "high"
	}
	return strings.Join([]string{form, near(p.At(w/4, h/4)), near(p.At(3*w/4, h/4)), near(p.At(w/4, 3*h/4)), near(p.At(3*w/4, 3*h/4))}, " ")
}

func TestAPictureStandsUprightWhateverItsOrientation(t *testing.T) {
	// The orientations as TIFF 6.0, section 8, defines them by where the stored
	// first row and column are shown; worked out by hand from there.
	want := map[uint16]string{
		1: "wide red green blue yellow",
		2: "wide green red yellow blue",
		3: "wide yellow blue green red",
		4: "wide blue yellow red green",
		5: "high red blue green yellow",
		6: "high blue red yellow green",
		7: "high yellow green blue red",
		8: "high green yellow red blue",
		0: "wide red green blue yellow",
		9: "wide red green blue yellow",
	}
	for o, want := range want {
		for _, order := range []binary.AppendByteOrder{binary.LittleEndian, binary.BigEndian} {
			for name, file := range map[string][]byte{
				"jpeg": withExif(asJPEG(t, quarters(96, 64)), tiff(order, o)),
				"png":  pngWithExif(asPNG(t, quarters(96, 64)), tiff(order, o)),
			} {
				drawn, err := Redraw(file)
				if err != nil {
					t.Fatal(err)
				}
				if got := corners(t, drawn); got != want {
					t.Errorf("%s, orientation %d, %v: got %s, want %s", name, o, order, got, want)
				}
			}
		}
	}
}

func TestNothingButThePixelsIsKept(t *testing.T) {
	file := withExif(asJPEG(t, quarters(96, 64)), tiff(binary.LittleEndian, 1))
	drawn, err := Redraw(append(file, "MARKED behind the picture"...))
	if err != nil {
		t.Fatal(err)
	}
	for _, hidden := range []string{"Exif", "GPS", "51.5", "MARKED"} {
		if !bytes.Contains(append(file, "MARKED"...), []byte(hidden)) || bytes.Contains(drawn, []byte(hidden)) {
			t.Errorf("%q is kept", hidden)
		}
	}
	segments(drawn, func(marker byte, _ []byte) bool {
		if marker >= 0xe0 && marker <= 0xef || marker == 0xfe {
			t.Errorf("a segment %x is kept", marker)
		}
		return false
	})
}

func TestAPictureIsOfBoundedSize(t *testing.T) {
	noise := image.NewRGBA(image.Rect(0, 0, 1700, 1000)) // the worst for JPEG
	random := rand.New(rand.NewPCG(1, 2))
	for i := range noise.Pix {
		noise.Pix[i] = byte(random.Uint32())
	}
	for name, c := range map[string]struct {
		picture image.Image
		long    int // 0: whatever fits
	}{
		"large": {quarters(3000, 2000), LongSide}, "small": {quarters(40, 30), 40}, "a line": {quarters(4000, 2), LongSide}, "noise": {noise, 0},
	} {
		drawn, err := Redraw(asJPEG(t, c.picture))
		if err != nil {
			t.Fatal(name, err)
		}
		p, err := jpeg.DecodeConfig(bytes.NewReader(drawn))
		if err != nil || len(drawn) > MostBytes || max(p.Width, p.Height) > LongSide || c.long > 0 && max(p.Width, p.Height) != c.long {
			t.Errorf("%s: %d by %d, %d bytes, %v", name, p.Width, p.Height, len(drawn), err)
		}
	}
}

func TestWhatIsTransparentBecomesWhite(t *testing.T) {
	drawn, err := Redraw(asPNG(t, image.NewNRGBA(image.Rect(0, 0, 40, 30))))
	if err != nil {
		t.Fatal(err)
	}
	if got := corners(t, drawn); got != "wide white white white white" {
		t.Errorf("got %s", got)
	}
}

// declared gives the head of a picture of a size, with no pixels behind it.
func declared(t *testing.T, w, h uint32) []byte {
	t.Helper()
	file := asPNG(t, quarters(4, 4))
	binary.BigEndian.PutUint32(file[16:], w)
	binary.BigEndian.PutUint32(file[20:], h)
	binary.BigEndian.PutUint32(file[29:], crc32.ChecksumIEEE(file[12:29]))
	return file
}

func TestWhatIsNoPictureOrTooLargeIsRefused(t *testing.T) {
	whole := asJPEG(t, quarters(400, 300))
	for name, c := range map[string]struct {
		file []byte
		want string
	}{
		"nothing":                 {nil, "a JPEG or PNG picture"},
		"a text":                  {[]byte("GIF89a, or so it says"), "a JPEG or PNG picture"},
		"cut short":               {whole[:len(whole)/2], "a whole JPEG or PNG picture"},
		"too many pixels":         {declared(t, 20_001, 2_000), "at most 40 million pixels"},
		"more than can be":        {declared(t, 1<<31-1, 1<<31-1), "a JPEG or PNG picture"},
		"high without being wide": {declared(t, 1, 1<<31-1), "at most 40 million pixels"},
	} {
		_, err := Redraw(c.file)
		if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

func TestAFormThatTakesMuchRoomMayHaveFewerPixels(t *testing.T) {
	head := image.Config{Width: 6000, Height: 5000, ColorModel: color.NRGBA64Model}
	if n := head.Width * head.Height * bytesPerPixel(head, "png", nil); n > mostMemory {
		t.Errorf("30 million pixels of 16 bits: %d bytes", n)
	}
	// SOF2, the frame of a progressive picture, in place of SOF0.
	file := bytes.Replace(asJPEG(t, quarters(64, 64)), []byte{0xff, 0xc0}, []byte{0xff, 0xc2}, 1)
	if !progressive(file) || progressive(asJPEG(t, quarters(64, 64))) {
		t.Error("a progressive picture is not told from another")
	}
	if n := bytesPerPixel(image.Config{}, "jpeg", file); n*30_000_000 <= mostMemory {
		t.Error("30 million pixels of a progressive picture are decoded")
	}
}

func FuzzOrientation(f *testing.F) {
	f.Add([]byte{0xff, 0xd8, 0xff, 0xe1, 0, 8, 'E', 'x', 'i', 'f', 0, 0})
	f.Add(append([]byte("\x89PNG\r\n\x1a\n"), make([]byte, 40)...))
	f.Add(tiff(binary.BigEndian, 6))
	f.Fuzz(func(t *testing.T, data []byte) {
		for _, o := range []int{orientation("jpeg", data), orientation("png", data), tiffOrientation(data)} {
			if o < 1 || o > 8 {
				t.Fatal(o)
			}
		}
		progressive(data)
	})
}
