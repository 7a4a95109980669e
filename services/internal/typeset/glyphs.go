package typeset

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/norm"
)

// Absent stands where the fonts have no sign for a character.
const Absent = '□'

// same are characters that are printed as another that looks alike.
var same = strings.NewReplacer(
	"\u202f", "\u00a0", "\u2007", "\u00a0", // spaces that are not broken at
	"\u2009", " ", "\u2002", " ", "\u2003", " ", "\t", " ",
	"\u2010", "-", "\u2011", "-",
)

// Glyphs says which characters all of some fonts have.
func Glyphs(ttfs ...[]byte) (func(rune) bool, error) {
	var fonts []*sfnt.Font
	for _, ttf := range ttfs {
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
}

// Printable gives a text as it can be printed with the characters there are, and
// which characters it lost. Accents are joined with their letters; what has no
// shape is left out.
func Printable(text string, has func(rune) bool) (out string, lost []rune) {
	text = same.Replace(norm.NFC.String(strings.ToValidUTF8(text, "\uFFFD")))
	out = strings.Map(func(r rune) rune {
		switch {
		case r == '\n', has(r):
			return r
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Variation_Selector, r):
			return -1
		}
		lost = append(lost, r)
		return Absent
	}, text)
	return out, lost
}

// Unprintable gives the characters of a document for which the fonts have no
// sign, each once, in order of their numbers. They are printed as "□"; somebody
// should look before the document goes out.
func Unprintable(d Document) ([]rune, error) {
	t, err := loaded()
	if err != nil {
		return nil, err
	}
	var lost []rune
	for _, text := range d.Texts() {
		_, some := Printable(text, t.has)
		lost = append(lost, some...)
	}
	slices.Sort(lost)
	return slices.Compact(lost), nil
}
