package figure

import (
	"cmp"
	"math"
	"slices"
)

// note is something that happened on a day, told above what is drawn.
type note struct {
	x     float64
	text  string
	shape Shape
	bold  bool
}

// standing is a note with the place of its text: the row is -1 where there is
// no room for it. Rows are counted upwards.
type standing struct {
	note
	row         int
	at          Point // Y is not known yet
	left, right float64
}

// notes are all of a plot.
type notes struct {
	plot *plot
	top  float64
	all  []standing
}

// above reckons where notes stand: in rows above the plot, each with a stem
// down to it that crosses the text of no other. A note without room keeps its
// stem and sign, and what it says is in the table.
func (p *plot) above(given []note, rows int) notes {
	n := notes{plot: p}
	given = slices.Clone(given)
	slices.SortStableFunc(given, func(a, b note) int {
		if a.bold != b.bold { // what is set in bold is placed first
			return map[bool]int{true: -1, false: 1}[a.bold]
		}
		return cmp.Compare(a.x, b.x)
	})
	used := 0
	for _, one := range given {
		n.all = append(n.all, n.stand(one, given, rows))
		used = max(used, n.all[len(n.all)-1].row+1)
	}
	if len(given) > 0 {
		n.top = float64(used)*p.row() + 4
	}
	return n
}

// stand finds the place of one note.
func (n *notes) stand(one note, given []note, rows int) standing {
	p := n.plot
	s := standing{note: one, row: -1}
	if one.text == "" {
		return s
	}
	s.text = fitted(one.text, p.width*0.9, p.size, one.bold)
	w := width(s.text, p.size, one.bold)
	// Middle, or away from whatever is near on one side.
	shifts := []float64{0, 0.5, -0.5}
	for _, o := range given {
		switch gap := o.x - one.x; {
		case gap > 0 && gap < w:
			shifts = []float64{-0.5, 0, 0.5}
		case gap < 0 && -gap < w:
			shifts = []float64{0.5, 0, -0.5}
		}
	}
	for row := range rows {
		for _, shift := range shifts {
			s.at.X = max(w/2, min(one.x+shift*(w+6), p.width-w/2))
			s.left, s.right = s.at.X-w/2-3, s.at.X+w/2+3
			if !slices.ContainsFunc(n.all, func(o standing) bool { return s.collides(o, row) }) {
				s.row = row
				return s
			}
		}
	}
	return s
}

// collides says whether the texts and stems of two notes meet, if s stood in
// the row.
func (s standing) collides(o standing, row int) bool {
	switch {
	case o.row < 0:
		return false
	case o.row == row:
		return s.left < o.right && o.left < s.right
	case o.row > row: // the other's stem passes this text
		return s.left < o.x && o.x < s.right
	}
	return o.left < s.x && s.x < o.right
}

// draw draws them, when the plot has its height.
func (n *notes) draw() {
	p := n.plot
	for _, s := range n.all {
		from := p.inner.top - 3
		if s.row >= 0 {
			foot := n.top - 4 - float64(s.row)*p.row()
			p.write(Text{At: Point{s.at.X, foot - 0.3*p.size}, Anchor: Middle, Size: p.size, Bold: s.bold, Text: s.text})
			from = math.Min(from, foot)
		}
		p.rule(Point{s.x, from}, Point{s.x, p.inner.bottom}, dotted)
		p.symbol(Point{s.x, p.inner.top - 3}, s.shape, 8)
	}
}
