package typeset

import (
	"fmt"
	"strings"
	"unicode"
)

// style is how words are set: in which family, and how large.
type style struct {
	sans  bool
	bold  bool // all of it
	size  float64
	white bool // on a dark ground
}

// face gives the face of a run in a style. A sans has no italic of its own here:
// emphasis in tables is bold.
func (s style) face(kind RunKind) face {
	strong := s.bold || kind == Strong
	switch {
	case s.sans && (strong || kind == Emphasis):
		return sansBold
	case s.sans:
		return sans
	case strong:
		return serifBold
	case kind == Emphasis:
		return serifItalic
	}
	return serif
}

// piece is letters of one face that follow each other without a space between.
type piece struct {
	text  string
	face  face
	link  string // an anchor; "" for none
	width float64
}

// word is what is never parted, unless it is wider than a line.
type word struct {
	pieces []piece
	width  float64
	space  float64 // before it, unless it begins a line
	hyphen float64 // width of the hyphen that is added if the line ends behind it; 0 for none
}

// speller makes words of runs.
type speller struct {
	faces   *typefaces
	page    func(anchor string) (page, digits int)
	phrases Phrases
}

func (p *speller) clean(text string) string {
	out, _ := Printable(text, p.faces.has)
	return out
}

// spelling is words in the making.
type spelling struct {
	*speller
	style
	words []word
	open  bool // the next letters belong to the last word
}

// words spells running text in a style.
func (p *speller) words(runs Runs, s style) []word {
	sp := &spelling{speller: p, style: s}
	for _, r := range runs {
		sp.run(r)
	}
	return sp.words
}

func (sp *spelling) run(r Run) {
	text := sp.clean(r.Text)
	switch r.Kind {
	case Value:
		sp.glue(unbroken(sp.measured(r)), r.Kind, "")
	case Reference:
		sp.text(text, r.Kind, r.To)
		sp.pageOf(r.To, strings.TrimSpace(text) != "")
	default:
		sp.text(text, r.Kind, "")
	}
}

// measured joins a number with its unit.
func (sp *spelling) measured(r Run) string {
	number, unit := strings.TrimSpace(sp.clean(r.Text)), strings.TrimSpace(sp.clean(r.Unit))
	if unit == "" || strings.HasPrefix(unit, "°") && len(unit) == len("°") {
		return number + unit
	}
	return number + " " + unit
}

// unbroken puts spaces that are not broken at into a text.
func unbroken(text string) string { return strings.Join(strings.Fields(text), "\u00a0") }

// pageOf adds the page of an anchor: ", page 12".
func (sp *spelling) pageOf(anchor string, after bool) {
	page, digits := sp.page(anchor)
	if after {
		sp.glue(",", Plain, "")
		sp.open = false
	}
	phrase := func(n string) string { return unbroken(fmt.Sprintf(sp.phrases.Page, n)) }
	said := phrase(fmt.Sprint(page))
	sp.glue(said, Plain, anchor)
	// The room is that of the longest number so far, so that the passes settle.
	if n := len(fmt.Sprint(page)); n < digits {
		f := sp.face(Plain)
		more := sp.faces.width(strings.Repeat("0", digits-n), f, sp.size)
		last := &sp.words[len(sp.words)-1]
		last.width += more
	}
}

// text adds letters that are parted at their spaces.
func (sp *spelling) text(text string, kind RunKind, link string) {
	for i, part := range strings.FieldsFunc(text, isSpace) {
		if i > 0 || isSpace(firstRune(text)) {
			sp.open = false
		}
		for j, some := range breakable(part) {
			if j > 0 {
				sp.open = false
			}
			before := len(sp.words)
			soft := strings.HasSuffix(some, softHyphen)
			sp.glue(strings.TrimSuffix(some, softHyphen), kind, link)
			if j > 0 && len(sp.words) > before {
				sp.words[len(sp.words)-1].space = 0
			}
			if soft && len(sp.words) > 0 {
				sp.words[len(sp.words)-1].hyphen = sp.faces.width("-", sp.face(kind), sp.size)
			}
		}
	}
	if strings.TrimFunc(text, isSpace) == "" && text != "" || isSpace(lastRune(text)) {
		sp.open = false
	}
}

// glue adds letters to the word that is open, or begins one.
func (sp *spelling) glue(text string, kind RunKind, link string) {
	if text == "" {
		return
	}
	f := sp.face(kind)
	if !sp.open || len(sp.words) == 0 {
		sp.words = append(sp.words, word{space: sp.faces.width(" ", f, sp.size)})
	}
	last := &sp.words[len(sp.words)-1]
	for _, p := range sp.faces.pieces(text, f, sp.size) {
		p.link = link
		last.pieces, last.width = append(last.pieces, p), last.width+p.width
	}
	sp.open = true
}

// pieces parts a text where a face lacks characters that the other one has.
func (t *typefaces) pieces(text string, f face, size float64) (all []piece) {
	for _, r := range text {
		g := t.faceOf(r, f)
		if g < 0 {
			continue // Printable left none
		}
		w := float64(t[g][r]) * size / 1000 * Point
		if n := len(all); n > 0 && all[n-1].face == g {
			all[n-1].text, all[n-1].width = all[n-1].text+string(r), all[n-1].width+w
			continue
		}
		all = append(all, piece{text: string(r), face: g, width: w})
	}
	return all
}

const softHyphen = "\u00ad"

// breakable parts a word behind its soft hyphens, and behind a hyphen, a dash or
// a stroke between words of at least two letters: numbers of parts stay whole.
func breakable(text string) (parts []string) {
	runes := []rune(text)
	letters := func(at, step int) bool {
		for n := range 2 {
			if i := at + n*step; i < 0 || i >= len(runes) || !unicode.IsLetter(runes[i]) {
				return false
			}
		}
		return true
	}
	from := 0
	for i, r := range runes {
		soft := string(r) == softHyphen
		if soft && i > from || strings.ContainsRune("-–/", r) && letters(i-1, -1) && letters(i+1, 1) {
			parts, from = append(parts, string(runes[from:i+1])), i+1
		}
	}
	return append(parts, strings.TrimLeft(string(runes[from:]), softHyphen))
}

func isSpace(r rune) bool { return r == ' ' || r == '\t' || r == '\n' || r == '\r' }

func firstRune(s string) rune {
	for _, r := range s {
		return r
	}
	return -1
}

func lastRune(s string) rune {
	r := rune(-1)
	for _, c := range s {
		r = c
	}
	return r
}
