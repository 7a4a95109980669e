package figure

import (
	"cmp"
	"math"
	"slices"
)

// Layout is the room that a figure has. What is drawn for a width is meant to
// be shown at about that width: a text does not shrink with it.
type Layout struct {
	Width float64 // below 240 is taken for 240
}

// The layouts of a page: for a telephone that is 320 pixels wide, and for
// everything from a tablet; and that of a column of 170 mm on paper.
var (
	Narrow = Layout{Width: 288}
	Wide   = Layout{Width: 760}
	Column = Layout{Width: 643}
)

// sheet is a drawing in the making. What is said stands above what is drawn.
type sheet struct {
	width, height float64
	size          float64 // of texts
	narrow        bool
	grid, areas   []Mark
	lines         []Mark
	symbols       []Mark
	texts         []Mark
	taken         []box      // by texts
	dots          []box      // by symbols
	strokes       [][2]Point // by lines of data
	washed        bool       // whether labels stand on a wash, where a cleared ground would show
}

func newSheet(l Layout) *sheet {
	s := &sheet{width: max(l.Width, 240), size: 13}
	if s.width < 480 {
		s.narrow, s.size = true, 12
	}
	return s
}

// row is the height of a line of text.
func (s *sheet) row() float64 { return math.Round(s.size * 1.4) }

func (s *sheet) area(m Mark) { s.areas = append(s.areas, m) }
func (s *sheet) line(m Mark) { s.lines = append(s.lines, m) }

// rule draws a straight line that no label need avoid.
func (s *sheet) rule(p, q Point, stroke Stroke) {
	s.line(Path{Points: []Point{p, q}, Stroke: stroke})
}

// ground draws a line of the grid, below everything.
func (s *sheet) ground(p, q Point) {
	s.grid = append(s.grid, Path{Points: []Point{p, q}, Stroke: grid})
}

// data draws a line of data, which labels avoid.
func (s *sheet) data(points []Point, stroke Stroke) {
	if len(points) < 2 {
		return
	}
	s.line(Path{Points: points, Stroke: stroke})
	s.avoid(points)
}

// avoid keeps labels off a line.
func (s *sheet) avoid(points []Point) {
	for i := range len(points) - 1 {
		s.strokes = append(s.strokes, [2]Point{points[i], points[i+1]})
	}
}

// symbol draws a sign, which labels avoid.
func (s *sheet) symbol(at Point, shape Shape, size float64) {
	s.symbols = append(s.symbols, Symbol{At: at, Shape: shape, Size: size})
	s.dots = append(s.dots, box{at.X, at.Y, at.X, at.Y}.grown(size/2))
}

// plain is a text in the size of the sheet.
func (s *sheet) plain(at Point, a Anchor, tone Tone, text string) Text {
	return Text{At: at, Anchor: a, Size: s.size, Tone: tone, Text: text}
}

// write puts a text where it was reckoned to have room.
func (s *sheet) write(t Text) {
	if t.Text == "" {
		return
	}
	s.texts = append(s.texts, t)
	s.taken = append(s.taken, boxOf(t))
}

// label puts a text at the first of several places where it covers no other
// text, no symbol and no line of data; or else where it covers a line only,
// which it then stands clear of. It says which place it was, -1 for none.
func (s *sheet) label(t Text, places []Text) int {
	for _, across := range [2]bool{false, true} {
		for i, p := range places {
			t.At, t.Anchor = p.At, p.Anchor
			b := boxOf(t)
			if !s.isFree(b) || !across && s.isCrossed(b) {
				continue
			}
			if across || !s.washed {
				s.texts = append(s.texts, clearing(t, b))
			}
			s.write(t)
			return i
		}
	}
	return -1
}

// clearing is the ground behind a text. Most fonts are narrower than was
// reckoned, and a gap behind the text's loose end would show.
func clearing(t Text, b box) Bar {
	w := 0.9 * (b.right - b.left)
	bar := Bar{X: max(b.left-1, 0), Y: b.top - 1, Width: w + 2, Height: b.bottom - b.top + 2, Fill: Cleared}
	switch t.Anchor {
	case Middle:
		bar.X = t.At.X - w/2 - 1
	case End:
		bar.X = b.right - w - 1
	}
	return bar
}

func (s *sheet) isFree(b box) bool {
	if !b.grown(1).within(box{0, 0, s.width, s.height}) {
		return false
	}
	meets := b.grown(2).meets
	return !slices.ContainsFunc(s.taken, meets) && !slices.ContainsFunc(s.dots, meets)
}

func (s *sheet) isCrossed(b box) bool {
	return slices.ContainsFunc(s.strokes, func(l [2]Point) bool { return b.crossed(l[0], l[1]) })
}

// foot writes what is to be said about the drawing as a whole below it, in as
// many lines as it takes.
func (s *sheet) foot(text string) {
	if text == "" {
		return
	}
	s.height += 4
	for _, line := range wrapped(text, s.width, s.size) {
		s.height += s.row()
		s.write(s.plain(Point{0, s.height - 0.3*s.size}, Start, Quiet, line))
	}
}

// drawing gives what was drawn.
func (s *sheet) drawing() Drawing {
	marks := slices.Concat(s.grid, s.areas, s.lines, s.symbols, s.texts)
	return Drawing{Width: s.width, Height: math.Ceil(s.height), Marks: marks}
}

// spread moves places apart until neighbours are gap apart and all lie between
// low and high, and moves none further than it must. Where there is no room for
// all, the last of them go beyond high.
func spread(places []float64, gap, low, high float64) []float64 {
	order := make([]int, len(places))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(places[a], places[b]) })
	// Without the gaps it is the nearest rising sequence: runs that fall are
	// replaced by their mean.
	type run struct{ sum, n float64 }
	var runs []run
	for i, at := range order {
		runs = append(runs, run{places[at] - float64(i)*gap, 1})
		for k := len(runs) - 1; k > 0 && runs[k-1].sum/runs[k-1].n > runs[k].sum/runs[k].n; k-- {
			runs[k-1] = run{runs[k-1].sum + runs[k].sum, runs[k-1].n + runs[k].n}
			runs = runs[:k]
		}
	}
	out := make([]float64, len(places))
	i := 0
	for _, r := range runs {
		at := max(low, min(r.sum/r.n, high-float64(len(places)-1)*gap))
		for range int(r.n) {
			out[order[i]] = at + float64(i)*gap
			i++
		}
	}
	return out
}
