package typeset

import (
	_ "embed" // the fonts
	"fmt"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The fonts that are shipped with the program: Source Serif 4 and Source Sans 3,
// SIL Open Font License 1.1 (fonts/OFL-*.txt). All their figures are of one
// width, so numbers stand below each other.
var (
	//go:embed fonts/SourceSerif4-Regular.ttf
	serifTTF []byte
	//go:embed fonts/SourceSerif4-Semibold.ttf
	serifBoldTTF []byte
	//go:embed fonts/SourceSerif4-Italic.ttf
	serifItalicTTF []byte
	//go:embed fonts/SourceSans3-Regular.ttf
	sansTTF []byte
	//go:embed fonts/SourceSans3-Semibold.ttf
	sansBoldTTF []byte
)

// face is one of the fonts.
type face int

const (
	serif face = iota
	serifBold
	serifItalic
	sans
	sansBold
)

// name and style are what the PDF library calls the face.
func (f face) name() (name, style string) {
	return [...]string{"serif", "serif", "serif", "sans", "sans"}[f], [...]string{"", "B", "I", "", "B"}[f]
}

func (f face) ttf() []byte {
	return [...][]byte{serifTTF, serifBoldTTF, serifItalicTTF, sansTTF, sansBoldTTF}[f]
}

// other is the face that is used for characters that this one lacks.
func (f face) other() face {
	switch f {
	case serif, serifItalic:
		return sans
	case serifBold:
		return sansBold
	}
	return f
}

const faces = 5

// typefaces are the widths of all characters in all faces, in thousandths of
// the size; 0 for a character that a face lacks.
type typefaces [faces][]uint16

// loaded reads the fonts once.
var loaded = sync.OnceValues(func() (*typefaces, error) {
	var all typefaces
	for f := range all {
		widths, err := advances(face(f).ttf())
		if err != nil {
			return nil, fmt.Errorf("read the fonts: %w", err)
		}
		all[f] = widths
	}
	return &all, nil
})

// advances reads how wide a font's characters are. Those beyond the first plane
// are left out: the PDF library cannot write them.
func advances(ttf []byte) ([]uint16, error) {
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return nil, err
	}
	var buffer sfnt.Buffer
	widths := make([]uint16, 1<<16)
	for r := range rune(1 << 16) {
		i, err := f.GlyphIndex(&buffer, r)
		if err != nil || i == 0 {
			continue
		}
		w, err := f.GlyphAdvance(&buffer, i, fixed.I(1000), font.HintingNone)
		if err != nil {
			return nil, err
		}
		widths[r] = uint16(w.Round())
	}
	return widths, nil
}

// has says whether a character can be set in every face, from the other family
// where a face lacks it.
func (t *typefaces) has(r rune) bool {
	for f := range face(faces) {
		if t.faceOf(r, f) < 0 {
			return false
		}
	}
	return true
}

// faceOf gives the face in which a character is set where f is wanted; -1 for
// none.
func (t *typefaces) faceOf(r rune, f face) face {
	switch {
	case r < 0 || r >= 1<<16:
		return -1
	case t[f][r] > 0:
		return f
	case t[f.other()][r] > 0:
		return f.other()
	}
	return -1
}

// width is how wide a text is, in millimetres, set in a face and a size in
// points.
func (t *typefaces) width(text string, f face, size float64) float64 {
	sum := 0
	for _, r := range text {
		if g := t.faceOf(r, f); g >= 0 {
			sum += int(t[g][r])
		}
	}
	return float64(sum) * size / 1000 * Point
}

// Point is a typographic point in millimetres.
const Point = 25.4 / 72
