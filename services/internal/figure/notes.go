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
	brief string // for where there is no room for the text; may be empty
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
// down to it. A note without room keeps its stem and sign, and what it says is
// in the table.
func (p *plot) above(given []note, rows int) notes {
	given = slices.Clone(given)
	slices.SortStableFunc(given, func(a, b note) int {
		switch {
		case a.bold == b.bold:
			return cmp.Compare(a.x, b.x)
		case a.bold: // has its place first
			return -1
		}
		return 1
	})
	brief := slices.Clone(given)
	for i := range brief {
		brief[i].text = cmp.Or(brief[i].brief, brief[i].text)
	}
	// It is best when no stem passes another's text. Where that leaves one out,
	// stems pass behind texts, and where that is not enough, texts are brief.
	best := p.arrange(given, rows, false)
	for _, next := range [2][]note{given, brief} {
		if best.untold() == 0 {
			break
		}
		if other := p.arrange(next, rows, true); other.untold() < best.untold() {
			best = other
		}
	}
	used := 0
	for _, s := range best.all {
		used = max(used, s.row+1)
	}
	if len(given) > 0 {
		best.top = float64(used)*p.row() + 4
	}
	return best
}

// untold is how many notes that say something have no room for it.
func (n *notes) untold() (count int) {
	for _, s := range n.all {
		if s.row < 0 && s.text != "" {
			count++
		}
	}
	return count
}

func (p *plot) arrange(given []note, rows int, behind bool) notes {
	n := notes{plot: p}
	for _, one := range given {
		n.all = append(n.all, n.stand(one, given, rows, behind))
	}
	return n
}

// stand finds the place of one note among those that stand.
func (n *notes) stand(one note, given []note, rows int, behind bool) standing {
	p := n.plot
	s := standing{note: one, row: -1}
	if one.text == "" {
		return s
	}
	s.text = fitted(one.text, p.width*0.9, p.size, one.bold)
	w := width(s.text, p.size, one.bold)
	for row := range rows {
		for _, shift := range shifts(one, given, w) {
			s.at.X = max(w/2+1, min(one.x+shift*(w+6), p.width-w/2-1))
			s.left, s.right = s.at.X-w/2-3, s.at.X+w/2+3
			if !slices.ContainsFunc(n.all, func(o standing) bool { return s.collides(o, row, behind) }) {
				s.row = row
				return s
			}
		}
	}
	return s
}

// shifts are the places of a text beside its stem, in its own width: in the
// middle, or away from whatever is near on one side.
func shifts(one note, given []note, w float64) []float64 {
	before, after := false, false
	for _, o := range given {
		gap := o.x - one.x
		before, after = before || gap < 0 && -gap < w, after || gap > 0 && gap < w
	}
	switch {
	case after && !before:
		return []float64{-0.5, 0, 0.5}
	case before && !after:
		return []float64{0.5, 0, -0.5}
	}
	return []float64{0, 0.5, -0.5}
}

// collides says whether the texts and stems of two notes meet, if s stood in
// the row; with behind, stems may pass behind texts.
func (s standing) collides(o standing, row int, behind bool) bool {
	switch {
	case o.row < 0:
		return false
	case o.row == row:
		return s.left < o.right && o.left < s.right
	case behind:
		return false
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
			t := Text{At: Point{s.at.X, foot - 0.3*p.size}, Anchor: Middle, Size: p.size, Bold: s.bold, Text: s.text}
			p.texts = append(p.texts, clearing(t, boxOf(t)))
			p.write(t)
			from = math.Min(from, foot)
		}
		p.rule(Point{s.x, from}, Point{s.x, p.inner.bottom}, dotted)
		p.symbol(Point{s.x, p.inner.top - 3}, s.shape, 8)
	}
}
