package typeset

import (
	"fmt"
	"strings"
)

// setter sets blocks in slabs.
type setter struct {
	sheet
	speller
	doc     Document
	before  pass // what the pass before found
	rows    int  // rows so far, to number them
	figures int
	heads   int // headings so far
}

// area is where a block stands: how far from the left, and how wide.
type area struct{ x, w float64 }

func (a area) inset(by float64) area { return area{a.x + by, a.w - by} }

// running is the part of an area that running text uses.
func (s *setter) running(a area) area { return area{a.x, min(a.w, s.measure)} }

// set sets a document. Where pages may not end is in what the strips keep.
func (s *setter) set() []slab {
	var all []slab
	if s.doc.Cover != nil {
		all = s.cover()
	} else {
		all = s.title()
	}
	all = append(all, s.blocks(s.doc.Blocks, area{0, s.textWidth()})...)
	keepHeadings(all)
	return all
}

// blocks sets blocks below each other.
func (s *setter) blocks(blocks []Block, a area) (all []slab) {
	for i, b := range blocks {
		some := s.block(b, a)
		if i > 0 && len(some) > 0 && len(all) > 0 {
			last := &all[len(all)-1]
			_, warned := blocks[i-1].(Caution)
			switch {
			case warned && begins(b): // it belongs to what is before it
			case warned:
				keepStep(b, some)
				last.Keep = Hard
			case leads(blocks[i-1], b) || concludes(blocks, i):
				last.Keep = max(last.Keep, Firm)
			}
		}
		all = append(all, some...)
	}
	return all
}

// begins says whether a block begins something else than what is before it.
func begins(b Block) bool {
	switch b.(type) {
	case Heading, PageBreak, Contents, Index:
		return true
	}
	return false
}

// concludes says whether a block belongs to the one before it: a note below its
// table, lines to fill in, and a caution after which something else begins.
func concludes(blocks []Block, i int) bool {
	switch b := blocks[i].(type) {
	case Paragraph:
		_, below := blocks[i-1].(Table)
		return below && b.Small
	case Fields:
		return !begins(blocks[i-1])
	case Caution:
		return !begins(blocks[i-1]) && (i == len(blocks)-1 || begins(blocks[i+1]))
	}
	return false
}

// leads says whether a block announces the next, and so stays with it.
func leads(before, b Block) bool {
	p, ok := before.(Paragraph)
	if !ok || len(p.Runs) == 0 {
		return false
	}
	switch b.(type) {
	case List, Table, Definitions, Fields, Figure:
		return strings.HasSuffix(strings.TrimSpace(p.Runs[len(p.Runs)-1].Text), ":")
	}
	return false
}

// keepStep keeps the step beside which a caution stands whole: a paragraph, the
// first item of a list, the first row with what stands above it.
func keepStep(b Block, some []slab) {
	n := len(some)
	if _, ok := b.(Paragraph); !ok {
		at := 0
		for at < len(some)-1 && some[at].row == 0 && some[at].Keep == Hard {
			at++
		}
		for n = at + 1; n < len(some) && some[n].row != 0 && some[n].row == some[at].row; {
			n++
		}
	}
	for i := range some[:n-1] {
		some[i].Keep = max(some[i].Keep, Whole)
	}
}

func (s *setter) block(b Block, a area) []slab {
	switch b := b.(type) {
	case Heading:
		return s.headingBlock(b, a)
	case Paragraph:
		return s.paragraph(b, a)
	case List:
		return s.list(b, a)
	case Definitions:
		return s.definitions(b, a)
	case Table:
		return s.tableBlock(b, a)
	case Caution:
		return s.caution(b, a)
	case Figure:
		return s.figureBlock(b, a)
	case Fields:
		return s.fields(b, a)
	case Together:
		return together(s.blocks(b.Blocks, a))
	case Columns:
		return s.columnsBlock(b, a)
	case PageBreak:
		return []slab{{blank: true, newPage: true, front: b.Front}}
	case Contents:
		return s.contents(b, a)
	case Index:
		return s.index(b, a)
	}
	panic(fmt.Sprintf("typeset: a block of type %T", b))
}

func together(all []slab) []slab {
	for i := range all[:max(0, len(all)-1)] {
		all[i].Keep = max(all[i].Keep, Soft)
	}
	return all
}

// lines sets running text in slabs of a line each.
func (s *setter) lines(runs Runs, a area, st style, bar bool) (all []slab) {
	for _, l := range s.faces.broken(s.words(runs, st), a.w, st.size) {
		all = append(all, slab{
			Strip: Strip{Height: st.height()}, bar: bar,
			marks: marksOf(l, a.x, st.baseline(), st),
		})
	}
	return all
}

// keepLines keeps the first and the last two lines together.
func keepLines(all []slab) []slab {
	for i := range all[:max(0, len(all)-1)] {
		if i == 0 || i == len(all)-2 {
			all[i].Keep = max(all[i].Keep, Firm)
		}
	}
	return all
}

// spaced puts space above the first of some slabs.
func spaced(all []slab, before float64) []slab {
	if len(all) > 0 {
		all[0].Before = before
	}
	return all
}

// named gives the first of some slabs an anchor and what it is filed under.
func named(all []slab, anchor string, terms []string) []slab {
	if len(all) > 0 {
		if anchor != "" {
			all[0].anchors = append(all[0].anchors, anchor)
		}
		all[0].terms = append(all[0].terms, terms...)
	}
	return all
}

func (s *setter) paragraph(p Paragraph, a area) []slab {
	st, before := s.text(), s.em()*0.5
	if p.Small {
		st, before = s.small(), s.em()*0.4
	}
	all := keepLines(s.lines(p.Runs, s.running(a), st, p.Changed))
	return named(spaced(all, before), p.Anchor, p.Index)
}

// autoAnchor names a heading for the contents, whatever anchor it has itself.
func autoAnchor(n int) string { return fmt.Sprintf("heading:%d", n) }

func (s *setter) headingBlock(h Heading, a area) []slab {
	st := s.heading(h.Level)
	all := s.lines(Words(h.Text), a, st, h.Changed)
	for i := range all {
		all[i].Keep = Hard
	}
	if len(all) == 0 {
		return nil
	}
	s.heads++
	auto := autoAnchor(s.heads)
	all[0].heading = &headed{h.Level, s.clean(h.Text), auto}
	all[0].anchors = []string{auto}
	last := &all[len(all)-1]
	if h.Level == 1 {
		last.Height += s.em() * 0.6
		last.marks = append(last.marks, mark{kind: rule, x: a.x, y: last.Height - s.em()*0.25, w: a.w, thick: 0.4})
	} else {
		last.Height += s.em() * 0.1
	}
	before := s.em() * [...]float64{0, 2.2, 1.5, 1.1}[h.Level]
	return named(spaced(all, before), h.Anchor, h.Index)
}

// keepHeadings keeps a heading with two lines of what it heads.
func keepHeadings(all []slab) {
	for i := range all {
		last := all[i].Keep == Hard && i+2 < len(all) && all[i+1].heading == nil && isHeadingLine(all, i)
		if last && all[i+2].heading == nil && !all[i+2].newPage && len(all[i+1].set) == 0 {
			all[i+1].Keep = max(all[i+1].Keep, Firm)
		}
	}
}

// isHeadingLine says whether the slab at i ends a heading.
func isHeadingLine(all []slab, i int) bool {
	for j := i; j >= 0 && all[j].Keep == Hard; j-- {
		if all[j].heading != nil {
			return true
		}
	}
	return false
}
