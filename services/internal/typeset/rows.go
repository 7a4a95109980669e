package typeset

import (
	"math"
	"strconv"

	"halfshaft/services/internal/figure"
)

// box is a cell of a row, with its text set to its width.
type box struct {
	area
	style
	align       Align
	lines       []line
	blank, tick bool
}

// Sizes of what is filled in by hand, in millimetres.
const (
	writing = 8.5 // from one line to write on to the next
	ticking = 3.4 // the side of a box to tick
	tickGap = 1.6
)

// boxed sets a cell's words to its width.
func (s *setter) boxed(c Cell, a area, st style, align Align) box {
	b := box{area: a, style: st, align: align, blank: c.Blank, tick: c.Tick}
	w := a.w
	if c.Tick {
		w -= ticking + tickGap
	}
	b.lines = s.faces.broken(s.words(c.Runs, st), max(w, 1), st.size)
	if c.Blank && len(b.lines) > 0 && (len(b.lines) > 1 || b.lines[0].width > 0.55*a.w) {
		b.lines = append([]line{{}}, b.lines...) // the words stand below the line
	}
	return b
}

// row sets cells beside each other, one slab to each of their lines. The row
// stays whole, and pad stands above and below it.
func (s *setter) row(cells []box, pad float64, bar bool) (all []slab) {
	s.rows++
	n, height, blank := 1, 0.0, false
	for _, c := range cells {
		n, height, blank = max(n, len(c.lines)), max(height, c.height()), blank || c.blank
	}
	at := s.blankLine(cells, n, height)
	for k := range n {
		sl := slab{Strip: Strip{Height: height, Keep: Whole}, row: s.rows, bar: bar}
		base := ascent * height
		if k == 0 {
			if blank {
				more := max(0, writing-2*pad-float64(at+1)*height)
				base, sl.Height = base+more, height+more
			}
			sl.Height += pad
			base += pad
		}
		for i, c := range cells {
			from := 0
			if c.blank {
				from = at
			}
			for _, m := range c.marksOfLine(k-from, base) {
				m.cell = i
				sl.marks = append(sl.marks, m)
			}
		}
		if k == n-1 {
			sl.Height += pad
			sl.Keep = Free
		}
		all = append(all, sl)
	}
	return all
}

// blankLine is the line of a row of n at which the lines to write on stand: the
// first with room above it, or the last. Words beside them then need no empty
// space above themselves.
func (s *setter) blankLine(cells []box, n int, height float64) int {
	for _, c := range cells {
		if c.blank && len(c.lines) > 1 {
			return 0
		}
	}
	return min(n, int(math.Ceil(writing/height))) - 1
}

// marksOfLine draws one line of a cell, with what is filled in on the first.
func (c box) marksOfLine(k int, base float64) (marks []mark) {
	var l line
	if k >= 0 && k < len(c.lines) {
		l = c.lines[k]
	}
	x := c.x
	if c.tick {
		if k == 0 {
			marks = append(marks, mark{kind: frame, x: x, y: base - ticking + 0.4, w: ticking, h: ticking, thick: 0.25})
		}
		x += ticking + tickGap
	}
	switch room := c.x + c.w - x - l.width; {
	case c.blank && k == 0 && len(l.pieces) > 0:
		marks = append(marks, mark{kind: rule, x: x, y: base + 0.6, w: room - 1.4, thick: 0.2})
		x += room
	case c.blank && k == 0:
		marks = append(marks, mark{kind: rule, x: x, y: base + 0.6, w: room, thick: 0.2})
	case c.align == Right:
		x += room
	case c.align == Centre:
		x += room / 2
	}
	return append(marks, marksOf(l, x, base, c.style)...)
}

// definitions sets terms at the left of what there is to say of them.
func (s *setter) definitions(d Definitions, a area) (all []slab) {
	a = s.running(a)
	st := style{sans: true, bold: true, size: s.body * 0.9}
	text := s.text()
	term := 0.0
	for _, r := range d.Rows {
		term = max(term, s.faces.width(s.clean(r.Term), sansBold, st.size))
	}
	term = min(term+5, a.w*0.4)
	for i, r := range d.Rows {
		cells := []box{
			s.boxed(Cell{Runs: Words(r.Term)}, area{a.x, term - 3}, st, Left),
			s.boxed(Cell{Runs: r.Text}, area{a.x + term, a.w - term}, text, Left),
		}
		some := s.row(cells, 0, r.Changed)
		before := s.em() * 0.22
		if i == 0 {
			before = s.em() * 0.5
		}
		all = append(all, spaced(some, before)...)
	}
	return all
}

// list sets items behind their bullets or numbers.
func (s *setter) list(l List, a area) (all []slab) {
	a = s.running(a)
	st := style{sans: true, bold: true, size: s.body * 0.92}
	indent := s.em() * 0.9
	numbers := l.numbers()
	for _, n := range numbers {
		indent = max(indent, s.faces.width(n, sansBold, st.size)+s.em()*0.45)
	}
	for i, item := range l.Items {
		before := s.em() * 0.25
		if i == 0 {
			before = s.em() * 0.5
		}
		some := s.item(item, numbers[i], a.inset(indent), indent)
		some[0].Before = max(some[0].Before, before)
		all = append(all, some...)
	}
	return all
}

// item sets an item with its caution before it and its blocks after it.
func (s *setter) item(it Item, number string, a area, indent float64) []slab {
	words := keepLines(s.lines(it.Runs, a, s.text(), it.Changed))
	s.rows++
	for i := range words {
		words[i].row = s.rows
	}
	if len(words) > 0 {
		st := style{sans: true, bold: true, size: s.body * 0.92}
		l := joined(s.words(Words(number), st), false)
		words[0].marks = append(marksOf(l, a.x-indent, s.text().baseline(), st), words[0].marks...)
	}
	if it.Caution != nil {
		stands := s.caution(*it.Caution, a)
		stands[len(stands)-1].Keep = Hard
		for i := range words[:max(0, len(words)-1)] {
			words[i].Keep = max(words[i].Keep, Whole)
		}
		words = append(stands, spaced(words, s.em()*0.4)...)
	}
	if more := s.blocks(it.Blocks, a); len(more) > 0 {
		if len(words) > 0 {
			words[len(words)-1].Keep = max(words[len(words)-1].Keep, Firm)
		}
		words = append(words, more...)
	}
	return words
}

// caution sets a box with its word on a dark ground, which no printer and no
// copier loses.
func (s *setter) caution(c Caution, a area) []slab {
	a = s.running(a)
	label, text := style{sans: true, bold: true, size: s.body * 0.92, white: true}, style{sans: true, size: s.body * 0.95}
	pad := s.em() * 0.55
	inner := area{a.x + pad + 1.6, a.w - 2*pad - 1.6}
	edge, sign := 0.3, 0.0
	if c.Grave {
		edge, sign = 1, label.size*Point*1.35
	}
	var all []slab
	for i, l := range s.faces.broken(s.words(Words(c.Word), label), inner.w-sign, label.size) {
		tab := mark{kind: filled, x: a.x, w: sign + l.width + 2*pad + 1.6, h: label.height() + 1.2}
		marks := append([]mark{tab}, marksOf(l, inner.x+sign, label.baseline()+0.6, label)...)
		if c.Grave && i == 0 {
			marks = append(marks, dangerSign(inner.x, label.baseline()+0.6, sign*0.8))
		}
		all = append(all, slab{Strip: Strip{Height: tab.h}, marks: marks})
	}
	for _, runs := range c.Texts {
		all = append(all, spaced(s.lines(runs, inner, text, false), pad*0.5)...)
	}
	last := &all[len(all)-1]
	last.Height += pad * 0.7
	for i := range all {
		sl := &all[i]
		sl.bar, sl.Keep = c.Changed, Hard
		// The space above a line belongs to the box: its sides go through it.
		if i > 0 {
			sl.marks, sl.Height, sl.Before = moved(sl.marks, 0, sl.Before), sl.Height+sl.Before, 0
		}
		sides := []mark{
			{kind: filled, x: a.x, w: 1.6, h: sl.Height},
			{kind: filled, x: a.x + a.w - edge, w: edge, h: sl.Height},
		}
		if i == 0 {
			sides = append(sides, mark{kind: filled, x: a.x, w: a.w, h: edge})
		}
		if i == len(all)-1 {
			sides = append(sides, mark{kind: filled, x: a.x, y: sl.Height - edge, w: a.w, h: edge})
		}
		sl.marks = append(sides, sl.marks...)
	}
	last.Keep = Free
	return spaced(all, s.em()*0.6)
}

// dangerSign is a white triangle with an exclamation mark, for a dark ground. It
// stands on a baseline.
func dangerSign(x, baseline, w float64) mark {
	const size = 100.0 // of the drawing
	shape := func(points ...float64) figure.Path {
		p := figure.Path{Closed: true}
		for i := 0; i < len(points); i += 2 {
			p.Points = append(p.Points, figure.Point{X: points[i], Y: points[i+1]})
		}
		return p
	}
	triangle, stroke, dot := shape(50, 0, 100, 88, 0, 88), shape(44, 30, 56, 30, 54, 60, 46, 60), shape(45, 67, 55, 67, 55, 77, 45, 77)
	triangle.Fill, stroke.Fill, dot.Fill = figure.Cleared, figure.Full, figure.Full
	f := &figure.Figure{Drawing: figure.Drawing{Width: size, Height: size, Marks: []figure.Mark{triangle, stroke, dot}}}
	return mark{kind: drawing, x: x, y: baseline - 0.84*w, w: w, h: w, figure: f, scale: w / size}
}

// numbers are what stands before the items of a list.
func (l List) numbers() []string {
	all := make([]string, len(l.Items))
	for i := range all {
		all[i] = "•"
		if l.Numbered {
			all[i] = strconv.Itoa(max(l.Start, 1)+i) + "."
		}
	}
	return all
}
