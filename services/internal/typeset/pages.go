package typeset

import "slices"

// page is one side of a sheet.
type page struct {
	number  int
	stands  []standing
	chapter string // the heading of level 1 under which it begins
	bare    bool   // neither running head nor number
}

// standing is a slab with where its top is, below the top of the text.
type standing struct {
	slab
	x, y float64
}

// marks are what stands on the page in the order in which it is read, placed
// from the top left corner of the text: the slabs of a row cell by cell.
func (p page) marks() (all []mark) {
	for i := 0; i < len(p.stands); {
		var row []mark
		n := i
		for ; n == i || n < len(p.stands) && p.stands[i].row != 0 && p.stands[n].row == p.stands[i].row; n++ {
			row = append(row, moved(p.stands[n].marks, p.stands[n].x, p.stands[n].y)...)
		}
		slices.SortStableFunc(row, func(m, n mark) int { return m.cell - n.cell })
		all, i = append(all, row...), n
	}
	return all
}

// paginate parts slabs into pages of a height.
func paginate(rest []slab, height float64, duplex bool) (all []page) {
	chapter := ""
	for len(rest) > 0 {
		if rest[0].newPage {
			if rest[0].front && duplex && len(all)%2 == 1 && !follows(rest[1:]) {
				all = append(all, page{number: len(all) + 1, bare: true})
			}
			rest = rest[1:]
			continue
		}
		p := page{number: len(all) + 1, chapter: chapter, bare: rest[0].bare}
		head := rest[0].head
		if heightOf(head) > height/3 {
			head = nil
		}
		room := height - heightOf(head)
		if len(head) > 0 {
			room -= rest[0].Before
		}
		some, more := take(untilBreak(rest), room)
		rest = append(more, rest[len(untilBreak(rest)):]...)
		p.place(append(append([]slab(nil), head...), some...))
		chapter = p.chapters(chapter)
		all = append(all, p)
	}
	return all
}

// follows says whether nothing but breaks follows.
func follows(rest []slab) bool {
	for _, sl := range rest {
		if !sl.newPage {
			return false
		}
	}
	return true
}

func untilBreak(all []slab) []slab {
	for i, sl := range all {
		if sl.newPage {
			return all[:i]
		}
	}
	return all
}

// take gives what goes onto a page, and what is left. Columns get the height
// that makes them even, or all there is and go on with the next page.
func take(all []slab, room float64) (some, rest []slab) {
	strips, used := make([]Strip, 0, len(all)), 0.0
	for i, sl := range all {
		if len(sl.set) > 0 {
			left := room - used
			if i > 0 {
				left -= sl.Before
			}
			whole, first, second := share(sl, left)
			switch {
			case whole:
				sl = first
			case len(first.set) > 0:
				return append(append([]slab(nil), all[:i]...), first), append([]slab{second}, all[i+1:]...)
			default:
				sl.Height = room + 1 // does not fit here
			}
			all = append(append(append([]slab(nil), all[:i]...), sl), all[i+1:]...)
		}
		strips = append(strips, sl.Strip)
		if used += sl.Height; i > 0 {
			used += sl.Before
		}
		if used > room+1e-9 {
			break
		}
	}
	n := Fit(strips, room+1e-9)
	return all[:n], append([]slab(nil), all[n:]...)
}

// fewLines is how much of columns at least is begun at the foot of a page.
const fewLines = 22.0

// share sets the slabs of columns in columns of even height, if that fits into a
// room; otherwise as many as fit, with the rest for the next page.
func share(sl slab, room float64) (whole bool, first, second slab) {
	var slabs []slab
	for _, c := range sl.set { // an attempt on the page before may have shared them out
		slabs = append(slabs, c.slabs...)
	}
	for h := heightOf(slabs) / float64(len(sl.set)); h <= room; h += 0.5 {
		if columns, left := filledTo(sl.set, slabs, h); len(left) == 0 {
			sl.set, sl.Height = columns, highest(columns)
			return true, sl, slab{}
		}
	}
	if room < fewLines {
		return false, slab{}, slab{}
	}
	first, second = sl, sl
	columns, left := filledTo(sl.set, slabs, room)
	first.set, first.Height = columns, highest(columns)
	first.Keep = Free
	second.anchors, second.terms, second.set = nil, nil, make([]column, len(sl.set))
	for i, c := range sl.set {
		second.set[i].x = c.x
	}
	second.set[0].slabs = left
	return false, first, second
}

// filledTo fills columns to a height.
func filledTo(set []column, rest []slab, h float64) (columns []column, left []slab) {
	for _, c := range set {
		n := 0
		if len(rest) > 0 {
			n = Fit(stripsOf(rest), h)
		}
		columns, rest = append(columns, column{c.x, rest[:n]}), rest[n:]
	}
	if highest(columns) > h+1e-9 {
		return columns, append([]slab{{}}, rest...) // one of them is higher than this
	}
	return columns, rest
}

func highest(columns []column) (h float64) {
	for _, c := range columns {
		h = max(h, heightOf(c.slabs))
	}
	return h
}

func stripsOf(all []slab) []Strip {
	strips := make([]Strip, len(all))
	for i, sl := range all {
		strips[i] = sl.Strip
	}
	return strips
}

// place puts slabs below each other.
func (p *page) place(all []slab) {
	y := 0.0
	for i, sl := range all {
		if i > 0 {
			y += sl.Before
		}
		columns := sl.set
		sl.set = nil
		p.stands = append(p.stands, standing{sl, 0, y})
		for _, c := range columns {
			at := y
			for j, inner := range c.slabs {
				if j > 0 {
					at += inner.Before
				}
				p.stands = append(p.stands, standing{inner, c.x, at})
				at += inner.Height
			}
		}
		y += sl.Height
	}
}

// chapters finds under which chapter a page begins, and gives the one under
// which the next one does.
func (p *page) chapters(before string) string {
	for i, st := range p.stands {
		if st.heading != nil && st.heading.level == 1 {
			if i == 0 || p.chapter == "" {
				p.chapter = st.heading.text
			}
			before = st.heading.text
		}
	}
	return before
}
