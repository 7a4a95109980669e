package photograph

import (
	"bytes"
	"image"
	"image/png"
	"runtime"
	"testing"
)

// TestABombTakesBoundedMemory: small files that say that they are huge pictures.
// What may be decoded takes what mostMemory says; what may not is refused by its
// first bytes.
func TestABombTakesBoundedMemory(t *testing.T) {
	grey := func(w, h int) []byte {
		var b bytes.Buffer
		if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, image.NewGray(image.Rect(0, 0, w, h))); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	picture := asJPEG(t, quarters(64, 64))
	frame := func(sof byte, w, h int) []byte { // a picture of 64 by 64 that says it is larger
		out := bytes.Clone(picture)
		at := bytes.Index(out, []byte{0xff, 0xc0})
		out[at+1] = sof
		out[at+5], out[at+6], out[at+7], out[at+8] = byte(h>>8), byte(h), byte(w>>8), byte(w)
		return out
	}
	for _, c := range []struct {
		name      string
		file      []byte
		mebibytes uint64
	}{
		{"ten million grey pixels in a few bytes", grey(4000, 2500), 96},
		{"one column of ten million", grey(1, MostPixels/4), 128},
		{"a JPEG that breaks off after its head", frame(0xc0, 8000, 5000), mostMemory >> 20},
		{"a progressive one", frame(0xc2, 8000, 5000), 16},
		{"more pixels than there may be", frame(0xc0, 65535, 65535), 16},
		{"a PNG of more pixels than there may be", declared(t, 1<<30, 1<<30), 16},
	} {
		t.Run(c.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			_, _ = Redraw(c.file) // good or refused
			runtime.ReadMemStats(&after)
			if grown := after.HeapSys - min(before.HeapSys, after.HeapSys); grown > c.mebibytes<<20 {
				t.Errorf("%d bytes made the heap grow by %d MiB, want at most %d", len(c.file), grown>>20, c.mebibytes)
			}
		})
	}
}
