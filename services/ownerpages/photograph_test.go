package ownerpages_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"net/url"
	"runtime"
	"strings"
	"testing"

	"halfshaft/services/internal/links"
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

// held puts into a JPEG how its camera was held, and where: an APP1 segment
// with a TIFF of two entries (CIPA DC-008, Exif 2.32, section 4.5 and 4.6).
func held(raw []byte, orientation uint16) []byte {
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

// bomb is a JPEG of a few hundred bytes that says it has 6,272 by 6,272 pixels
// in four components, coded in several passes: whoever decodes it needs room for
// all of its coefficients at once.
func bomb() []byte {
	b := []byte{0xff, 0xd8}
	segment := func(marker byte, body ...byte) {
		b = append(b, 0xff, marker)
		b = append(binary.BigEndian.AppendUint16(b, uint16(len(body)+2)), body...)
	}
	segment(0xdb, append([]byte{0}, bytes.Repeat([]byte{1}, 64)...)...) // quantization
	frame, scan := []byte{8, 0x18, 0x80, 0x18, 0x80, 4}, []byte{4}
	for component := byte(1); component <= 4; component++ {
		frame, scan = append(frame, component, 0x11, 0), append(scan, component, 0)
	}
	segment(0xc2, frame...)                                        // progressive (ITU-T T.81, B.2.2)
	segment(0xc4, append([]byte{0, 0, 1}, make([]byte, 15)...)...) // a Huffman table of one code
	segment(0xda, append(scan, 0, 0, 0)...)
	return append(b, make([]byte, 100)...)
}

func TestASmallFileThatSwellsIsNotOpened(t *testing.T) {
	if _, err := jpeg.DecodeConfig(bytes.NewReader(bomb())); err != nil {
		t.Fatal(err)
	}
	d, server := newDesk(t)
	address := link(t, server, links.Odometer)
	form := filled(get(t, address).page.form(t, "Send"), "value", "12345")
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	a := postPhoto(t, address, form, bomb())
	runtime.ReadMemStats(&after)
	if used := (after.TotalAlloc - before.TotalAlloc) >> 20; used > 20 || !strings.Contains(a.say(), "could not be read") || len(d.readings) != 1 {
		t.Errorf("%d MiB, %d, %s", used, a.StatusCode, a.say())
	}
}

func TestAPhotographGoesWithTheReading(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-05-15", "12000", "km")
	address := link(t, server, links.Odometer)
	form := get(t, address).page.form(t, "Send")
	// The form comes back because the value is unlikely; a browser does not send
	// the picture again.
	a := postPhoto(t, address, filled(form, "value", "18000"), held(asJPEG(t, quarters(400, 200)), 6))
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
	// What is kept stands upright, as Exif's orientation 6 says, and nothing but
	// the picture is in it.
	m, err := jpeg.Decode(bytes.NewReader(kept.GetContent()))
	if err != nil {
		t.Fatal(err)
	}
	if got := corners(m); got != "white red green blue" || m.Bounds().Dy() != 400 || bytes.Contains(kept.GetContent(), []byte("at the sea")) {
		t.Errorf("kept %s, %v, %d bytes", got, m.Bounds(), len(kept.GetContent()))
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

// The photograph that could not be read comes after its reading, or another one
// by the same form: the reading stays one.
func TestAPhotographThatComesLaterIsPutToItsReading(t *testing.T) {
	d, server := newDesk(t)
	address := link(t, server, links.Odometer)
	form := filled(get(t, address).page.form(t, "Send"), "value", "12345")
	a := postPhoto(t, address, form, []byte("not a picture"))
	if !strings.Contains(a.say(), "Thank you") || !strings.Contains(a.say(), "send them once more with another picture") || len(d.readings) != 1 {
		t.Fatalf("got %d, %s", a.StatusCode, a.say())
	}
	for n, form := range []url.Values{form, filled(get(t, address).page.form(t, "Send"), "value", "12345"), form} {
		picture := asJPEG(t, quarters(400+40*n, 200)) // each another one
		a := postPhoto(t, address, form, picture)
		want := fmt.Sprintf("people/p0031/documents/%d", n+1)
		if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "We have that already") || !strings.Contains(a.say(), "We have your photograph.") ||
			len(d.readings) != 1 || d.readings[0].GetPhotograph() != want {
			t.Errorf("%d: got %d, %s, %v", n, a.StatusCode, a.say(), d.readings)
		}
	}
}

// A form that comes back keeps the photograph: a browser would not send it again.
func TestAPhotographIsChosenOnce(t *testing.T) {
	d, server := newDesk(t)
	address := link(t, server, links.Odometer)
	form := filled(get(t, address).page.form(t, "Send"), "value", "3.150", "date", "2026-05-19")
	a := postPhoto(t, address, form, asJPEG(t, quarters(400, 200)))
	if !strings.Contains(a.say(), "We have your photograph.") || len(d.readings) != 0 {
		t.Fatalf("got %s", a.say())
	}
	a = post(t, address, filled(a.page.form(t, "Send"), "exact", "3150"))
	a = post(t, address, filled(a.page.form(t, "Send"), "value", "3150", "date", "2026-05-18"))
	if len(d.readings) != 1 || d.readings[0].GetPhotograph() != "people/p0031/documents/1" || len(d.documents) != 1 {
		t.Errorf("got %s, %v", a.say(), d.readings)
	}
}
