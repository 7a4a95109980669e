package reminderletter

import (
	"slices"
	"sync"

	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"halfshaft/services/internal/typeset"
)

// hasGlyph says which characters both fonts have. The Go fonts (BSD licence)
// have the 650 or so of WGL4: Latin with its accents, Greek, Cyrillic.
var hasGlyph = sync.OnceValues(func() (func(rune) bool, error) {
	return typeset.Glyphs(goregular.TTF, gobold.TTF)
})

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
		_, some := typeset.Printable(text, has)
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
