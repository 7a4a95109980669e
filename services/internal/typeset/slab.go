package typeset

import "halfshaft/services/internal/figure"

// slab is a strip of a page with what stands on it, placed from its top left
// corner, in millimetres.
type slab struct {
	Strip
	marks   []mark
	bar     bool // changed since the issue before
	anchors []string
	terms   []string // of the index
	heading *headed

	row  int      // slabs of one row are drawn cell by cell; 0 for none
	head []slab   // repeated above, if a page begins here: of a table
	set  []column // columns in place of marks; Height is worked out with the page

	newPage bool // a page begins here
	front   bool // on a right-hand page
	blank   bool // nothing stands here: it only ends a page
	bare    bool // the page has no running head: the title page
}

// headed is what a slab says to contents, running heads and the outline.
type headed struct {
	level        int
	text, anchor string
}

// column is one of the columns of a slab, with slabs of its own.
type column struct {
	x     float64
	slabs []slab
}

// markKind is what a mark is.
type markKind int

const (
	letters markKind = iota
	rule             // from x, y to x+w, y+h
	frame            // a rectangle
	filled           // a rectangle in ink
	dots             // a dotted line
	drawing
)

// mark is one thing that is drawn.
type mark struct {
	kind       markKind
	x, y, w, h float64 // y of letters is their baseline
	thick      float64 // of rules and frames
	grey       int     // 0 is ink, 255 is paper
	text       string
	face       face
	size       float64
	link       string
	cell       int // in the order of reading within a row
	figure     *figure.Figure
	scale      float64
}

// moved shifts marks.
func moved(marks []mark, dx, dy float64) []mark {
	out := make([]mark, len(marks))
	for i, m := range marks {
		m.x, m.y = m.x+dx, m.y+dy
		out[i] = m
	}
	return out
}

// marksOf places a line's pieces from x with their baseline at y.
func marksOf(l line, x, y float64, s style) []mark {
	var marks []mark
	grey := 0
	if s.white {
		grey = 255
	}
	for _, p := range l.pieces {
		marks = append(marks, mark{
			kind: letters, x: x + p.x, y: y, w: p.width, text: p.text, face: p.face, size: s.size, link: p.link, grey: grey,
		})
	}
	return marks
}
