package ownerpages

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // a screenshot is one
	"math"
	"strings"

	"github.com/bep/imagemeta"
	"golang.org/x/image/draw"
	"golang.org/x/image/math/f64"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/rpcerr"
)

const (
	picturesAtOnce = 1          // one takes some hundred megabytes while it is read
	mostPixels     = 40_000_000 // of a picture that is read at all
	longestSide    = 2048       // of a picture that is kept, in pixels: a dial reads well
	mostDocument   = 880 << 10  // of a picture that is kept, in bytes: below what StoreDocument takes
)

// errPicture says that a file is no picture that can be read here.
var errPicture = errors.New("not a picture that can be read")

// keepPhoto stores the photograph that came with the form, if one did. said is
// the phrase that says what was wrong with it; the reading is kept all the
// same.
func (v *visit) keepPhoto() (name, said string) {
	switch {
	case v.form.tooLarge:
		return "", "photograph.large"
	case len(v.form.photo) == 0:
		return "", ""
	}
	select {
	case v.pictures <- struct{}{}:
		defer func() { <-v.pictures }()
	case <-v.r.Context().Done():
		return "", "photograph.unread"
	}
	small, err := shrink(v.form.photo)
	if err != nil {
		return "", "photograph.unread"
	}
	kept, err := v.Owners.StoreDocument(v.owner(), &ownerv1.StoreDocumentRequest{
		Parent: v.person, Document: &ownerv1.Document{Vehicle: v.vehicle, Title: "odometer"}, Content: small,
		RequestId: second(v.form.request(), "photograph"),
	})
	if err != nil {
		v.Logger.Error("a photograph could not be kept", "reason", rpcerr.FromStatus(err).Reason)
		return "", "photograph.failed"
	}
	return kept.GetName(), ""
}

// ownDocument passes the name of a document of this person, and nothing else.
func (v *visit) ownDocument(name string) string {
	if strings.HasPrefix(name, v.person+"/documents/") {
		return name
	}
	return ""
}

// shrink makes a JPEG of a picture: upright, as its camera meant it, and small
// enough to keep.
func shrink(raw []byte) ([]byte, error) {
	size, format, err := image.DecodeConfig(bytes.NewReader(raw))
	if err != nil || size.Width < 1 || size.Height < 1 || size.Width > mostPixels/size.Height {
		return nil, errPicture
	}
	picture, _, err := image.Decode(bytes.NewReader(raw))
	if err != nil {
		return nil, errPicture
	}
	for side := longestSide; side >= longestSide/8; side /= 2 {
		upright := turned(picture, orientation(raw, format), side)
		for _, quality := range []int{85, 70} {
			var out bytes.Buffer
			if err := jpeg.Encode(&out, upright, &jpeg.Options{Quality: quality}); err != nil {
				return nil, errPicture
			}
			if out.Len() <= mostDocument {
				return out.Bytes(), nil
			}
		}
	}
	return nil, errPicture
}

// orientation is how the camera was held, 1 to 8 (CIPA DC-008, Exif 2.32,
// section 4.6.4, tag 274); 1 where the file does not say.
func orientation(raw []byte, format string) int {
	kind := imagemeta.JPEG
	if format == "png" {
		kind = imagemeta.PNG
	}
	how := 1
	_, err := imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(raw), ImageFormat: kind, Sources: imagemeta.EXIF,
		ShouldHandleTag: func(tag imagemeta.TagInfo) bool { return tag.Tag == "Orientation" },
		HandleTag: func(tag imagemeta.TagInfo) error {
			switch n := tag.Value.(type) {
			case uint16:
				how = int(n)
			case uint32:
				how = int(n)
			}
			return nil
		},
	})
	if err != nil || how < 1 || how > 8 {
		return 1
	}
	return how
}

// turned gives a picture upright, its longer side at most as long as given.
func turned(picture image.Image, how, longest int) image.Image {
	b := picture.Bounds()
	w, h := float64(b.Dx()), float64(b.Dy())
	scale := min(1, float64(longest)/max(w, h))
	x, y := w*scale, h*scale // of the picture as it lies
	// From the picture as it lies to the picture upright, for each orientation.
	turn := [8]f64.Aff3{
		{1, 0, 0, 0, 1, 0}, {-1, 0, x, 0, 1, 0}, {-1, 0, x, 0, -1, y}, {1, 0, 0, 0, -1, y},
		{0, 1, 0, 1, 0, 0}, {0, -1, y, 1, 0, 0}, {0, -1, y, -1, 0, x}, {0, 1, 0, -1, 0, x},
	}[how-1]
	width, height := x, y
	if how > 4 {
		width, height = y, x
	}
	out := image.NewRGBA(image.Rect(0, 0, max(1, int(math.Round(width))), max(1, int(math.Round(height)))))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src) // a PNG may be clear in places
	for i := range turn {
		if i != 2 && i != 5 {
			turn[i] *= scale
		}
	}
	// The picture's own corner is where it begins.
	left, top := float64(b.Min.X), float64(b.Min.Y)
	turn[2] -= turn[0]*left + turn[1]*top
	turn[5] -= turn[3]*left + turn[4]*top
	draw.ApproxBiLinear.Transform(out, turn, picture, b, draw.Over, nil)
	return out
}
