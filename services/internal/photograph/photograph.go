// Package photograph makes a picture that somebody sent anew from its pixels:
// upright, of a bounded size, and with nothing in the file but what can be seen.
// Where it was taken, with what and by whom is left behind.
package photograph

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	_ "image/png" // for image.Decode

	"golang.org/x/image/draw"

	"halfshaft/services/fault"
)

// MediaType is of what Redraw gives.
const MediaType = "image/jpeg"

const (
	// MostPixels is how many a picture may have.
	MostPixels = 40_000_000
	// MostBytes is about how large a picture is when it is drawn anew.
	MostBytes = 400 << 10
	// LongSide is the most pixels on the longer side of it.
	LongSide = 1600

	mostMemory = 320 << 20 // bytes that a decoder may need for the pixels
)

// Redraw decodes a JPEG or PNG picture and encodes it anew as JPEG, turned
// upright by its EXIF orientation, at most LongSide pixels long and MostBytes
// large. It is refused as Invalid, with a field without a name, when it is
// neither, is damaged, or has too many pixels; those are counted before any is
// decoded.
func Redraw(content []byte) ([]byte, error) {
	head, format, err := image.DecodeConfig(bytes.NewReader(content))
	if err != nil || format != "jpeg" && format != "png" {
		return nil, fault.InvalidField("", fmt.Sprintf("%d bytes of something else", len(content)), "a JPEG or PNG picture")
	}
	if head.Width < 1 || head.Height < 1 || head.Width > MostPixels || head.Height > MostPixels || head.Width*head.Height > MostPixels {
		return nil, fault.InvalidField("", fmt.Sprintf("%d by %d pixels", head.Width, head.Height), fmt.Sprintf("at most %d million pixels", MostPixels/1_000_000))
	}
	if head.Width*head.Height*bytesPerPixel(head, format, content) > mostMemory {
		return nil, fault.InvalidField("", fmt.Sprintf("%d by %d pixels in a form that takes much room", head.Width, head.Height), "fewer pixels, or a plain JPEG picture")
	}
	decoded, _, err := image.Decode(bytes.NewReader(content))
	if err != nil {
		return nil, fault.InvalidField("", fmt.Sprintf("a damaged %s picture", format), "a whole JPEG or PNG picture")
	}
	turn := orientation(format, content)
	for side := LongSide; ; side = side * 3 / 4 {
		drawn := turned(scaled(decoded, side), turn)
		for _, quality := range []int{85, 75, 60} {
			var out bytes.Buffer
			if err := jpeg.Encode(&out, drawn, &jpeg.Options{Quality: quality}); err != nil {
				return nil, fmt.Errorf("encode a picture: %w", err)
			}
			if out.Len() <= MostBytes {
				return out.Bytes(), nil
			}
		}
	}
}

// bytesPerPixel is what the decoder needs: for a progressive JPEG all
// coefficients (four bytes in each of up to four components) beside the pixels.
func bytesPerPixel(head image.Config, format string, content []byte) int {
	if format == "jpeg" {
		if progressive(content) {
			return 16
		}
		return 4
	}
	switch head.ColorModel {
	case color.NRGBA64Model, color.RGBA64Model:
		return 8
	}
	return 4
}

// scaled draws a picture on white with a longer side of at most so many pixels.
// It is halved as often as that goes, and the rest in one step: at two to one
// the approximation averages four pixels exactly, and unlike the exact kernel,
// whose working space is 32 bytes for each row of the source and column of the
// target, it needs none. A picture of one column of forty million would have
// taken more than a gigabyte.
func scaled(from image.Image, side int) *image.RGBA {
	for from.Bounds().Dx() >= 2*side || from.Bounds().Dy() >= 2*side {
		from = shrunk(from, max(1, from.Bounds().Dx()/2), max(1, from.Bounds().Dy()/2))
	}
	w, h := from.Bounds().Dx(), from.Bounds().Dy()
	if long := max(w, h); long > side {
		w, h = max(1, w*side/long), max(1, h*side/long)
	}
	return shrunk(from, w, h)
}

// shrunk draws a picture on white, at most twice as small.
func shrunk(from image.Image, w, h int) *image.RGBA {
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(to, to.Bounds(), image.White, image.Point{}, draw.Src)
	draw.ApproxBiLinear.Scale(to, to.Bounds(), from, from.Bounds(), draw.Over, nil)
	return to
}

// turned gives a picture as its EXIF orientation says that it is to be shown:
// 1 as it is, 2 mirrored, 3 upside down, 4 mirrored and upside down, 5 to 8 with
// its rows as columns.
func turned(from *image.RGBA, orientation int) *image.RGBA {
	if orientation == 1 {
		return from
	}
	w, h := from.Rect.Dx(), from.Rect.Dy()
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	if orientation >= 5 {
		to = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range to.Rect.Dy() {
		for x := range to.Rect.Dx() {
			fx, fy := source(orientation, x, y, w, h)
			copy(to.Pix[to.PixOffset(x, y):][:4], from.Pix[from.PixOffset(fx, fy):][:4])
		}
	}
	return to
}

// source gives which pixel of a picture of w by h is shown at x, y.
//
// The orientation tells where the stored first row and first column are shown:
// 1 top left, 2 top right, 3 bottom right, 4 bottom left, 5 left top, 6 right
// top, 7 right bottom, 8 left bottom (TIFF 6.0, section 8, Orientation; EXIF
// 2.3, 4.6.4 A; from memory).
func source(orientation, x, y, w, h int) (int, int) {
	switch orientation {
	case 2:
		return w - 1 - x, y
	case 3:
		return w - 1 - x, h - 1 - y
	case 4:
		return x, h - 1 - y
	case 5:
		return y, x
	case 6:
		return y, h - 1 - x
	case 7:
		return w - 1 - y, h - 1 - x
	case 8:
		return w - 1 - y, x
	}
	return x, y
}
