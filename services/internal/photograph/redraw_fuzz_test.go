package photograph

import (
	"bytes"
	"image"
	"image/jpeg"
	"testing"
)

func FuzzRedraw(f *testing.F) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, quarters(16, 8), nil); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte("\xff\xd8\xff\xe1\x00\x08Exif\x00\x00"))
	f.Fuzz(func(t *testing.T, content []byte) {
		if head, _, err := image.DecodeConfig(bytes.NewReader(content)); err == nil && head.Width*head.Height > 1<<20 {
			t.Skip("a large one takes its time")
		}
		drawn, err := Redraw(content)
		if err != nil {
			return
		}
		if _, err := jpeg.Decode(bytes.NewReader(drawn)); err != nil || len(drawn) > MostBytes {
			t.Errorf("%d bytes, %v", len(drawn), err)
		}
	})
}
