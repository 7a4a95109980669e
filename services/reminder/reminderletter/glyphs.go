package reminderletter

import (
	"slices"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// absent stands where the font has no sign for a character.
const absent = '□'

// same are characters that are printed as another that looks alike.
var same = strings.NewReplacer(
	"\u202f", "\u00a0", "\u2007", "\u00a0", // spaces that are not broken at
	"\u2009", " ", "\u2002", " ", "\u2003", " ", "\t", " ",
	"\u2010", "-", "\u2011", "-",
)

// hasGlyph says which characters both fonts have. The Go fonts (BSD licence)
// have the 650 or so of WGL4: Latin with its accents, Greek, Cyrillic.
var hasGlyph = sync.OnceValues(func() (func(rune) bool, error) {
	var fonts []*sfnt.Font
	for _, ttf := range [][]byte{goregular.TTF, gobold.TTF} {
		f, err := sfnt.Parse(ttf)
		if err != nil {
			return nil, err
		}
		fonts = append(fonts, f)
	}
	return func(r rune) bool {
		for _, f := range fonts {
			if i, err := f.GlyphIndex(nil, r); err != nil || i == 0 {
				return false
			}
		}
		return true
	}, nil
})

// printable gives a text as it can be printed, and which characters it lost.
// Accents are joined with their letters; what has no shape is left out.
func printable(text string, has func(rune) bool) (out string, lost []rune) {
	text = same.Replace(norm.NFC.String(strings.ToValidUTF8(text, "\uFFFD")))
	out = strings.Map(func(r rune) rune {
		switch {
		case r == '\n', has(r):
			return r
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Variation_Selector, r):
			return -1
		}
		lost = append(lost, r)
		return absent
	}, text)
	return out, lost
}

// Unprintable gives the characters of a letter for which the font has no sign,
// each once, in order of their numbers. They are printed as "□"; somebody
// should look before the letter is posted.
func Unprintable(l Addressed) ([]rune, error) {
	has, err := hasGlyph()
	if err != nil {
		return nil, err
	}
	var lost []rune
	for _, text := range texts(l) {
		_, some := printable(text, has)
		lost = append(lost, some...)
	}
	slices.Sort(lost)
	return slices.Compact(lost), nil
}

// texts are all words of a letter.
func texts(l Addressed) []string {
	s := l.Sheet
	all := append(slices.Clone(l.To), l.Reference, s.Subject, s.Date, s.Serial)
	for _, b := range s.Blocks {
		all = append(append(all, b.Mark, b.Text), b.Rows...)
	}
	return all
}
