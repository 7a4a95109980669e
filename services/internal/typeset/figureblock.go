package typeset

import (
	"fmt"
	"strings"

	"halfshaft/services/internal/figure"
)

// Figure is a drawing with its caption, which is not parted from it. In HTML its
// numbers stand in a table below it; Show prints that table on paper too.
type Figure struct {
	Figure  figure.Figure
	Caption string // the figure's title where it is empty
	Show    bool
	Anchor  string
	Index   []string
	Changed bool
}

// caption is what stands below the nth figure.
func (f Figure) caption(n int, p Phrases) Runs {
	text := f.Caption
	if text == "" {
		text = f.Figure.Title
	}
	if p.Figure == "" {
		return Words(text)
	}
	return Runs{{Kind: Strong, Text: fmt.Sprintf(p.Figure, fmt.Sprint(n)) + " "}, {Text: text}}
}

// pixel is the unit of drawings (1/96 inch) in millimetres.
const pixel = 25.4 / 96

// figureBlock draws a figure as wide as it was made for, and smaller where it
// does not fit.
func (s *setter) figureBlock(f Figure, a area) []slab {
	s.figures++
	d := f.Figure.Drawing
	scale := pixel
	if d.Width > 0 && d.Height > 0 {
		scale = min(pixel, a.w/d.Width, s.textHeight()*0.62/d.Height)
	}
	all := []slab{{
		Strip: Strip{Before: s.em() * 0.8, Height: d.Height*scale + 1, Keep: Hard}, bar: f.Changed,
		marks: []mark{{kind: drawing, x: a.x, w: d.Width * scale, h: d.Height * scale, figure: &f.Figure, scale: scale}},
	}}
	caption := s.lines(f.caption(s.figures, s.phrases), s.running(a), s.note(), f.Changed)
	for i := range caption[:max(0, len(caption)-1)] {
		caption[i].Keep = Hard
	}
	all = append(all, spaced(caption, s.em()*0.2)...)
	all[len(all)-1].Height += s.em() * 0.4
	all[len(all)-1].Keep = Free
	if f.Show {
		all[len(all)-1].Keep = Soft
		all = append(all, s.tableBlock(f.numbers(), a)...)
	}
	return named(all, f.Anchor, f.Index)
}

// numbers is the figure's table.
func (f Figure) numbers() Table {
	t := Table{Caption: f.Figure.Table.Caption, Dense: true, RowHeads: true, Groups: []Group{{}}}
	for _, head := range f.Figure.Table.Heads {
		t.Columns = append(t.Columns, Column{Head: head})
	}
	for _, row := range f.Figure.Table.Rows {
		var cells []Cell
		for _, text := range row {
			cells = append(cells, Cell{Runs: Words(text)})
		}
		t.Groups[0].Rows = append(t.Groups[0].Rows, Row{Cells: cells})
	}
	return t
}

// texts are the words of a figure that are printed beside its drawing.
func (f Figure) texts() []string {
	caption := f.Caption
	if caption == "" {
		caption = f.Figure.Title
	}
	all := []string{strings.TrimSpace(caption)}
	for _, m := range f.Figure.Drawing.Marks {
		if t, ok := m.(figure.Text); ok {
			all = append(all, t.Text)
		}
	}
	return all
}
