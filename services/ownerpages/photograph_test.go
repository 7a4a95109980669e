package ownerpages_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"halfshaft/services/internal/links"
	"halfshaft/services/ownerpages"
)

// quarters is a picture whose quarters are red, green, blue and white, clockwise
// from the top left.
func quarters(w, h int) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{200, 0, 0, 255}
			switch {
			case x >= w/2 && y < h/2:
				c = color.RGBA{0, 200, 0, 255}
			case x >= w/2:
				c = color.RGBA{0, 0, 200, 255}
			case y >= h/2:
				c = color.RGBA{255, 255, 255, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	return m
}

func asJPEG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB, m image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// held puts into a JPEG how its camera was held, and where: an APP1 segment
// with a TIFF of two entries (CIPA DC-008, Exif 2.32, section 4.5 and 4.6).
func held(t testing.TB, raw []byte, orientation uint16) []byte {
	t.Helper()
	tiff := []byte("MM\x00\x2a\x00\x00\x00\x08\x00\x02")
	tiff = binary.BigEndian.AppendUint16(tiff, 0x0112) // Orientation
	tiff = append(tiff, 0, 3, 0, 0, 0, 1)              // one SHORT
	tiff = binary.BigEndian.AppendUint16(tiff, orientation)
	tiff = append(tiff, 0, 0)
	tiff = binary.BigEndian.AppendUint16(tiff, 0x010e)                   // ImageDescription
	tiff = append(tiff, 0, 2, 0, 0, 0, 12, 0, 0, 0, 38)                  // twelve ASCII bytes at 38
	tiff = append(tiff, 0, 0, 0, 0)                                      // no directory more
	tiff = append(tiff, "at the sea!\x00"...)                            // what is to be forgotten
	segment := append([]byte("Exif\x00\x00"), tiff...)                   // its identifier
	length := binary.BigEndian.AppendUint16(nil, uint16(len(segment)+2)) // and length
	return bytes.Join([][]byte{raw[:2], {0xff, 0xe1}, length, segment, raw[2:]}, nil)
}

// corner names the colour of a pixel.
func corner(m image.Image, x, y int) string {
	r, g, b, _ := m.At(x, y).RGBA()
	switch {
	case r > 0xc000 && g > 0xc000 && b > 0xc000:
		return "white"
	case r > 0x8000 && g < 0x6000:
		return "red"
	case g > 0x8000 && r < 0x6000:
		return "green"
	case b > 0x8000 && r < 0x6000:
		return "blue"
	}
	return "mud"
}

func corners(m image.Image) string {
	b := m.Bounds()
	x1, x2, y1, y2 := b.Dx()/4, b.Dx()*3/4, b.Dy()/4, b.Dy()*3/4
	return strings.Join([]string{corner(m, x1, y1), corner(m, x2, y1), corner(m, x2, y2), corner(m, x1, y2)}, " ")
}

// The eight ways are those of Exif: which corner of the picture as it lies is
// the upper left one of what the camera saw. The words go clockwise from there.
func TestAPictureIsKeptUpright(t *testing.T) {
	for orientation, want := range map[uint16]string{
		1: "red green blue white", 2: "green red white blue", 3: "blue white red green", 4: "white blue green red",
		5: "red white blue green", 6: "white red green blue", 7: "blue green red white", 8: "green blue white red",
		0: "red green blue white", 9: "red green blue white",
	} {
		raw := held(t, asJPEG(t, quarters(400, 200)), orientation)
		small, err := ownerpages.Shrink(raw)
		if err != nil {
			t.Fatal(err)
		}
		m, err := jpeg.Decode(bytes.NewReader(small))
		if err != nil {
			t.Fatal(err)
		}
		wide := orientation < 5 || orientation > 8
		if got := corners(m); got != want || wide != (m.Bounds().Dx() == 400) {
			t.Errorf("%d: got %s, %v; want %s", orientation, got, m.Bounds(), want)
		}
		if bytes.Contains(small, []byte("at the sea")) || bytes.Contains(small, []byte("Exif")) {
			t.Errorf("%d: where it was taken is kept", orientation)
		}
	}
}

func TestAPictureIsMadeToFit(t *testing.T) {
	noise := image.NewRGBA(image.Rect(0, 0, 3000, 2000))
	source := rand.NewChaCha8([32]byte{1})
	source.Read(noise.Pix) // nothing is harder to make small
	for i := 3; i < len(noise.Pix); i += 4 {
		noise.Pix[i] = 255
	}
	for name, raw := range map[string][]byte{"noise": asJPEG(t, noise), "a screenshot": asPNG(t, quarters(1200, 3600)), "a small one": asJPEG(t, quarters(64, 48))} {
		small, err := ownerpages.Shrink(raw)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		m, err := jpeg.Decode(bytes.NewReader(small))
		if err != nil || len(small) > 900<<10 || max(m.Bounds().Dx(), m.Bounds().Dy()) > 2048 {
			t.Errorf("%s: %d bytes, %v, %v", name, len(small), m.Bounds(), err)
		}
	}
}

// What a PNG leaves clear is white, not black.
func TestAClearPictureIsOnWhite(t *testing.T) {
	small, err := ownerpages.Shrink(asPNG(t, image.NewRGBA(image.Rect(0, 0, 40, 40))))
	if err != nil {
		t.Fatal(err)
	}
	m, err := jpeg.Decode(bytes.NewReader(small))
	if err != nil || corner(m, 20, 20) != "white" {
		t.Errorf("it is %v, %v", m.At(20, 20), err)
	}
}

func TestWhatIsNoPicture(t *testing.T) {
	bomb := asPNG(t, image.NewRGBA(image.Rect(0, 0, 10, 10)))
	binary.BigEndian.PutUint32(bomb[16:], 30_000) // says that it is 30,000 by 30,000
	binary.BigEndian.PutUint32(bomb[20:], 30_000)
	binary.BigEndian.PutUint32(bomb[29:], crc32.ChecksumIEEE(bomb[12:29])) // as its header has it
	if _, err := png.DecodeConfig(bytes.NewReader(bomb)); err != nil {
		t.Fatal(err)
	}
	whole := asJPEG(t, quarters(400, 200))
	for name, raw := range map[string][]byte{
		"nothing": nil, "a text": []byte("not a picture"), "half of one": whole[:len(whole)/2], "far too many points": bomb,
		"another format": []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"),
	} {
		if small, err := ownerpages.Shrink(raw); err == nil {
			t.Errorf("%s: kept as %d bytes", name, len(small))
		}
	}
}

func FuzzShrink(f *testing.F) {
	f.Add(asJPEG(f, quarters(16, 8)))
	f.Add(held(f, asJPEG(f, quarters(16, 8)), 6))
	f.Add(asPNG(f, quarters(8, 8)))
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x08Exif\x00\x00"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		if config, _, err := image.DecodeConfig(bytes.NewReader(raw)); err == nil && config.Width*config.Height > 1<<20 {
			t.Skip("a large one takes its time")
		}
		small, err := ownerpages.Shrink(raw)
		if err != nil {
			return
		}
		if _, err := jpeg.Decode(bytes.NewReader(small)); err != nil || len(small) > 900<<10 {
			t.Errorf("%d bytes, %v", len(small), err)
		}
	})
}

func TestAPhotographGoesWithTheReading(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-05-15", "12000", "km")
	address := link(t, server, links.Odometer)
	form := get(t, address).page.form(t, "Send")
	// The form comes back because the value is unlikely; a browser does not send
	// the picture again.
	a := postPhoto(t, address, filled(form, "value", "18000"), asJPEG(t, quarters(400, 200)))
	if !strings.Contains(a.say(), "Is it right?") || !strings.Contains(a.say(), "We have your photograph.") || len(d.documents) != 1 {
		t.Fatalf("got %s, %d documents", a.say(), len(d.documents))
	}
	a = post(t, address, a.page.form(t, "It is right"))
	if a.StatusCode != http.StatusOK || len(d.readings) != 2 || d.readings[1].GetPhotograph() != "people/p0031/documents/1" || !strings.Contains(a.say(), "We have your photograph.") {
		t.Errorf("got %d, %s, %v", a.StatusCode, a.say(), d.readings)
	}
	kept := d.documents[0]
	if kept.GetParent() != thePerson || kept.GetDocument().GetVehicle() != theVehicle || len(kept.GetContent()) > 900<<10 {
		t.Errorf("kept %v", kept.GetDocument())
	}
}

func TestAReadingIsKeptWhateverTheirPictureIs(t *testing.T) {
	for name, c := range map[string]struct {
		photo []byte
		says  string
	}{
		"no picture":          {[]byte("not a picture"), "could not be read"},
		"more than 8 MiB":     {bytes.Repeat([]byte{0xff}, 8<<20+1), "larger than 8 MB"},
		"far more than 8 MiB": {bytes.Repeat([]byte{0xff}, 20<<20), "larger than 8 MB"},
		"none":                {nil, "We have 12,345 km"},
	} {
		d, server := newDesk(t)
		address := link(t, server, links.Odometer)
		a := postPhoto(t, address, filled(get(t, address).page.form(t, "Send"), "value", "12345"), c.photo)
		if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), c.says) || len(d.readings) != 1 || d.readings[0].GetPhotograph() != "" || len(d.documents) != 0 {
			t.Errorf("%s: got %d, %s, %v", name, a.StatusCode, a.say(), d.readings)
		}
	}
}

// A form that names somebody else's photograph names none.
func TestNobodyElsesPhotographIsTaken(t *testing.T) {
	d, server := newDesk(t)
	address := link(t, server, links.Odometer)
	form := filled(get(t, address).page.form(t, "Send"), "value", "12345", "photograph", "people/p0099/documents/1")
	if a := post(t, address, form); a.StatusCode != http.StatusOK || d.readings[0].GetPhotograph() != "" {
		t.Errorf("got %d, %v", a.StatusCode, d.readings)
	}
}

func TestAFormIsBounded(t *testing.T) {
	d, server := newDesk(t)
	long := url.Values{"value": {strings.Repeat("1", 40<<10)}}
	for _, purpose := range purposes {
		if purpose == links.Schedule {
			continue // it has no form
		}
		for _, a := range []answer{post(t, link(t, server, purpose), long), postPhoto(t, link(t, server, purpose), long, nil)} {
			if a.StatusCode != http.StatusBadRequest {
				t.Errorf("%c: got %d", purpose, a.StatusCode)
			}
		}
		if purpose != links.Odometer { // nobody else takes a file
			if a := postPhoto(t, link(t, server, purpose), url.Values{}, make([]byte, 1<<20)); a.StatusCode != http.StatusBadRequest {
				t.Errorf("%c with a file: got %d", purpose, a.StatusCode)
			}
		}
	}
	if a := do(t, "POST", link(t, server, links.Odometer), "application/json", "{}"); a.StatusCode != http.StatusBadRequest {
		t.Errorf("another kind of form: got %d", a.StatusCode)
	}
	if d.count() != 0 {
		t.Errorf("%d changes", d.count())
	}
}
