package typeset

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/collate"
	"golang.org/x/text/language"
)

// term is a line of the index.
type term struct {
	text  string // of a sub-term: what stands below its term
	sub   bool
	pages []int // in order, each once
}

// sortedTerms arranges what was filed: terms in the order of the language, each
// followed by its sub-terms.
func sortedTerms(filed map[string][]int, lang string) []term {
	tree := map[string]map[string][]int{}
	for name, pages := range filed {
		top, sub, _ := strings.Cut(name, ",")
		top, sub = strings.TrimSpace(top), strings.TrimSpace(sub)
		if tree[top] == nil {
			tree[top] = map[string][]int{}
		}
		tree[top][sub] = append(tree[top][sub], pages...)
	}
	var all []term
	for _, top := range ordered(tree, lang) {
		if len(tree[top]) == 1 && tree[top][""] == nil { // a line of its own for the term alone says nothing
			for sub, pages := range tree[top] {
				all = append(all, term{text: top + ", " + sub, pages: once(pages)})
			}
			continue
		}
		all = append(all, term{text: top, pages: once(tree[top][""])})
		for _, sub := range ordered(tree[top], lang) {
			if sub != "" {
				all = append(all, term{text: sub, sub: true, pages: once(tree[top][sub])})
			}
		}
	}
	return all
}

func once(pages []int) []int {
	pages = slices.Clone(pages)
	slices.Sort(pages)
	return slices.Compact(pages)
}

// ordered gives the keys of a map in the order of a language; those that it
// does not tell apart, in that of their bytes.
func ordered[V any](m map[string]V, lang string) []string {
	tag, err := language.Parse(lang)
	if err != nil {
		tag = language.English
	}
	c := collate.New(tag, collate.IgnoreCase)
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b string) int {
		if n := c.CompareString(a, b); n != 0 {
			return n
		}
		return strings.Compare(a, b)
	})
	return keys
}

// ranges merges pages that follow each other: 3, 7–9.
func ranges(pages []int) (all [][2]int) {
	for _, p := range pages {
		if n := len(all); n > 0 && all[n-1][1] == p-1 {
			all[n-1][1] = p
			continue
		}
		all = append(all, [2]int{p, p})
	}
	return all
}

// index sets the index in columns, with a space before each new letter.
func (s *setter) index(b Index, a area) []slab {
	if len(s.before.terms) == 0 {
		return nil
	}
	all := s.untold(b.Title, a)
	const gap = 6.0
	n := s.columns
	w := (a.w - gap*float64(n-1)) / float64(n)
	st := s.table(true)
	var body []slab
	letter := ""
	for _, t := range sortedTerms(s.before.terms, s.doc.Language) {
		at, before := area{0, w}, 0.0
		if !t.sub {
			if l := initial(t.text); l != letter {
				letter, before = l, s.em()*0.6
			}
		} else {
			at = at.inset(4)
		}
		some := s.indexEntry(t, at, st)
		if t.sub && len(body) > 0 {
			body[len(body)-1].Keep = Soft
		}
		body = append(body, spaced(some, before)...)
	}
	if len(body) > 0 {
		all = append(all, slab{Strip: Strip{Before: s.em() * 0.3}, set: columnsOf(body, n, a.x, w+gap)})
	}
	return all
}

// initial is the letter under which a term is looked up.
func initial(text string) string {
	r, _ := utf8.DecodeRuneInString(text)
	if !unicode.IsLetter(r) {
		return "#"
	}
	return string(unicode.ToUpper(r))
}

// indexEntry sets a term with its pages; further lines hang below it.
func (s *setter) indexEntry(t term, a area, st style) []slab {
	words := s.words(Words(t.text), st)
	for i, r := range ranges(t.pages) {
		said := fmt.Sprint(r[0])
		if r[1] > r[0] {
			said += fmt.Sprintf("–%d", r[1])
		}
		if n := len(words); n > 0 {
			last := &words[n-1]
			more := s.faces.pieces(",", sans, st.size)
			last.pieces, last.width = append(last.pieces, more...), last.width+more[0].width
		}
		page := s.words(Words(said), st)
		for j := range page {
			page[j].pieces[0].link = pageAnchor(r[0])
			if i == 0 {
				page[j].space *= 1.5
			}
		}
		words = append(words, page...)
	}
	const hang = 4.0
	var all []slab
	for i, l := range s.faces.broken(words, a.w-hang, st.size) {
		x := a.x
		if i > 0 {
			x += hang
		}
		all = append(all, slab{Strip: Strip{Height: st.height(), Keep: Whole}, marks: marksOf(l, x, st.baseline(), st)})
	}
	if n := len(all); n > 0 {
		all[n-1].Keep = Free
	}
	return all
}

// pageAnchor is where links to a page lead.
func pageAnchor(page int) string { return fmt.Sprintf("page:%d", page) }
