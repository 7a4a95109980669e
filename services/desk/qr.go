package desk

import (
	"fmt"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// scan is a code to scan, as the path of a drawing: no picture is loaded from
// anywhere.
type scan struct {
	Side int // in modules, with the quiet zone
	Path string
}

// quiet is how wide the empty zone around a code is, in modules (ISO/IEC 18004
// wants four; from memory).
const quiet = 4

// draw makes a code to scan of a text.
func draw(text string) (*scan, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return nil, fmt.Errorf("draw a code to scan: %w", err)
	}
	var b strings.Builder
	side := code.Bounds().Dx()
	for y := range side {
		for x := range side {
			if r, _, _, _ := code.At(x, y).RGBA(); r == 0 {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x+quiet, y+quiet)
			}
		}
	}
	return &scan{side + 2*quiet, b.String()}, nil
}

// grouped writes a key in groups of four, to be typed.
func grouped(key string) string {
	var groups []string
	for len(key) > 4 {
		groups, key = append(groups, key[:4]), key[4:]
	}
	return strings.Join(append(groups, key), " ")
}
