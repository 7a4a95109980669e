package typeset

import (
	"fmt"
	"strings"
)

// title sets what the document is at the head of its first page.
func (s *setter) title() (all []slab) {
	a := area{0, s.textWidth()}
	st := s.heading(1)
	st.size = s.body * 1.95
	all = s.lines(Words(s.doc.Title), a, st, false)
	beside := joined(s.words(Words(s.doc.Edition), style{sans: true, size: s.body}), false)
	if used := s.faces.width(s.clean(s.doc.Title), sansBold, st.size); s.slim && len(all) == 1 && used+beside.width+6 < a.w {
		all[0].marks = append(all[0].marks, marksOf(beside, a.w-beside.width, st.baseline(), style{sans: true, size: s.body})...)
	} else {
		all = append(all, s.lines(Words(s.doc.Edition), a, style{sans: true, size: s.body}, false)...)
	}
	for i := range all {
		all[i].Keep = Hard
	}
	if n := len(all); n > 0 {
		last := &all[n-1]
		last.Height += s.em() * 0.5
		last.marks = append(last.marks, mark{kind: filled, y: last.Height - 0.7, w: a.w, h: 0.7})
		last.Height += s.em() * 0.2
	}
	return all
}

// cover sets a title page: the name above, the title where the eye rests, the
// rows below it and the small print at the foot.
func (s *setter) cover() []slab {
	a := area{0, s.textWidth()}
	c := s.doc.Cover
	name := style{sans: true, bold: true, size: s.body * 1.15}
	title := style{sans: true, bold: true, size: s.body * 3}
	edition := style{sans: true, size: s.body * 1.2}
	top := s.lines(Words(c.Name), a, name, false)
	if len(top) > 0 {
		last := &top[len(top)-1]
		last.Height += s.em() * 0.5
		last.marks = append(last.marks, mark{kind: filled, y: last.Height - 0.8, w: a.w, h: 0.8})
	}
	middle := s.lines(Words(s.doc.Title), a, title, false)
	middle = append(middle, spaced(s.lines(Words(s.doc.Edition), a, edition, false), s.em()*0.8)...)
	if len(c.Rows) > 0 {
		middle = append(middle, spaced(s.definitions(Definitions{Rows: c.Rows}, a), s.em()*2)...)
	}
	var small []slab
	for _, runs := range c.Small {
		small = append(small, spaced(s.lines(runs, s.running(a), s.small(), false), s.em()*0.4)...)
	}
	if left := s.textHeight() - heightOf(top) - heightOf(middle) - heightOf(small); left > 0 {
		spaced(middle, left*0.38)
		spaced(small, left*0.62)
	}
	all := append(append(top, middle...), small...)
	for i := range all {
		all[i].bare = true
	}
	return append(all, slab{blank: true, newPage: true})
}

// heightOf is how high slabs stand below each other, without what is above them.
func heightOf(all []slab) (h float64) {
	for i, sl := range all {
		if h += sl.Height; i > 0 {
			h += sl.Before
		}
	}
	return h
}

// contents lists the headings with their pages, behind dotted lines.
func (s *setter) contents(c Contents, a area) []slab {
	depth := c.Depth
	if depth == 0 {
		depth = 2
	}
	if len(s.before.headings) == 0 {
		return nil
	}
	all := s.untold(c.Title, a)
	if s.columns < 3 { // a narrow sheet
		return append(all, s.entries(depth, a)...)
	}
	const gap = 8.0
	w := (a.w - gap) / 2
	return append(all, slab{Strip: Strip{Before: s.em() * 0.3}, set: columnsOf(s.entries(depth, area{0, w}), 2, a.x, w+gap)})
}

// entries are the lines of the contents, to a depth.
func (s *setter) entries(depth int, a area) (all []slab) {
	first := true
	for _, h := range s.before.headings {
		if h.level > depth {
			continue
		}
		st := s.text()
		before := s.em() * 0.06
		if h.level == 1 {
			st, before = style{sans: true, bold: true, size: s.body}, s.em()*0.45
		}
		some := s.entry(h, a.inset(float64(h.level-1)*s.em()*0.9), st)
		if h.level == 1 && !first || first {
			some = spaced(some, before)
		}
		if h.level == 1 {
			some[len(some)-1].Keep = max(some[len(some)-1].Keep, Firm)
		}
		first = false
		all = append(all, some...)
	}
	if n := len(all); n > 0 {
		all[n-1].Keep = Free
	}
	return all
}

// entry is a line of the contents.
func (s *setter) entry(h found, a area, st style) []slab {
	const reserve = 12.0
	page := joined(s.words(Words(fmt.Sprint(h.page)), st), false)
	runs := Runs{{Kind: Plain, Text: h.text}}
	ls := s.faces.broken(s.words(runs, st), a.w-reserve, st.size)
	var all []slab
	for i, l := range ls {
		for j := range l.pieces {
			l.pieces[j].link = h.anchor
		}
		sl := slab{Strip: Strip{Height: st.height(), Keep: Whole}, marks: marksOf(l, a.x, st.baseline(), st)}
		if i == len(ls)-1 {
			for j := range page.pieces {
				page.pieces[j].link = h.anchor
			}
			right := a.x + a.w
			sl.Keep = Free
			if from := a.x + l.width + 2; right-page.width-2 > from {
				sl.marks = append(sl.marks, mark{kind: dots, x: from, y: st.baseline(), w: right - page.width - 2 - from, thick: 0.25, grey: 90})
			}
			sl.marks = append(sl.marks, marksOf(page, right-page.width, st.baseline(), st)...)
		}
		all = append(all, sl)
	}
	return all
}

// untold is a heading that contents do not list: that of themselves.
func (s *setter) untold(title string, a area) []slab {
	if strings.TrimSpace(title) == "" {
		return nil
	}
	all := s.headingBlock(Heading{Level: 1, Text: title}, a)
	s.heads--
	for i := range all {
		all[i].anchors = nil
		if all[i].heading != nil {
			all[i].heading = &headed{level: 1, text: all[i].heading.text}
		}
	}
	return all
}

// columnsBlock sets blocks in columns; on a narrow sheet below each other.
func (s *setter) columnsBlock(c Columns, a area) []slab {
	const gap = 6.0
	w := (a.w - gap*float64(c.Count-1)) / float64(c.Count)
	if w < narrowest {
		return s.blocks(c.Blocks, a)
	}
	return []slab{{set: columnsOf(s.blocks(c.Blocks, area{0, w}), c.Count, a.x, w+gap), Strip: Strip{Before: s.em() * 0.5}}}
}

// narrowest is how narrow a column gets, in millimetres.
const narrowest = 50.0

// columnsOf puts all slabs into the first of some columns; they are shared out
// when the page is known.
func columnsOf(all []slab, n int, x, step float64) []column {
	set := make([]column, n)
	for i := range set {
		set[i].x = x + float64(i)*step
	}
	set[0].slabs = all
	return set
}
