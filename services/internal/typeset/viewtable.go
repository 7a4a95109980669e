package typeset

import "fmt"

func (a Align) side() string {
	switch a {
	case Right:
		return "right"
	case Centre:
		return "centre"
	}
	return ""
}

func (v *viewer) table(t Table) blockView {
	out := blockView{Kind: "table", Said: v.said, Caption: t.Caption, Dense: t.Dense, Grouped: t.grouped()}
	out.ID = v.id(t.Anchor, len(t.Index) > 0)
	v.texts[t.Anchor] = t.Caption
	v.file(t.Index, out.ID)
	any := false
	for _, c := range t.Columns {
		out.Heads, any = append(out.Heads, headView{c.Head, c.Align.side()}), any || c.Head != ""
	}
	if !any {
		out.Heads = nil
	}
	if out.Changed = t.Caption != "" && t.allChanged(); out.Changed { // said once, above them
		t = t.unmarked()
	}
	for _, g := range t.Groups {
		group := groupView{Title: g.Title, Span: len(t.Columns)}
		for _, r := range g.Rows {
			row := rowView{Changed: r.Changed}
			for i, c := range r.Cells {
				row.Cells = append(row.Cells, cellView{
					Runs: v.runs(c.Runs), Side: t.Columns[i].Align.side(), Blank: c.Blank, Tick: c.Tick,
					Head: t.RowHeads && i == 0 && c.says(), Changed: r.Changed && i == 0, Said: v.said,
				})
			}
			group.Rows = append(group.Rows, row)
		}
		out.Groups = append(out.Groups, group)
	}
	return out
}

// allChanged reports whether no row is as it was.
func (t Table) allChanged() bool {
	n := 0
	for _, g := range t.Groups {
		for _, r := range g.Rows {
			if n++; !r.Changed {
				return false
			}
		}
	}
	return n > 0
}

// unmarked is the table without marks at its rows.
func (t Table) unmarked() Table {
	t.Groups = each(t.Groups, func(g Group) Group {
		g.Rows = each(g.Rows, func(r Row) Row { r.Changed = false; return r })
		return g
	})
	return t
}

// says reports whether there is anything in a cell: an empty one heads no row.
func (c Cell) says() bool { return c.Runs.Text() != "" || c.Blank || c.Tick }

func (v *viewer) figure(f Figure) blockView {
	v.figures++
	out := blockView{Kind: "figure", Said: v.said, Changed: f.Changed, Runs: v.runs(f.caption(v.figures, v.said))}
	out.ID = v.id(f.Anchor, len(f.Index) > 0)
	v.texts[f.Anchor] = Runs(f.caption(v.figures, v.said)).Text()
	v.file(f.Index, out.ID)
	out.SVG = f.Figure.SVG(fmt.Sprintf("figure-%d-drawing", v.figures))
	if len(f.Figure.Table.Rows) > 0 && len(f.Figure.Table.Heads) > 0 {
		numbers := v.table(f.numbers())
		out.Numbers = &numbers
	}
	return out
}

func (v *viewer) fields(f Fields) (all []fieldView) {
	for _, one := range f.Fields {
		class := map[FieldKind]string{Line: "line", Tick: "box", Room: "remarks"}[one.Kind]
		all = append(all, fieldView{
			Class: class, Label: one.Label, Unit: one.Unit, Note: one.Note, Changed: one.Changed, Said: v.said,
			Tick: one.Kind == Tick, Line: one.Kind == Line, Room: one.Kind == Room,
		})
	}
	return all
}

// contents are the headings that the first round found.
func (v *viewer) contents(depth int) (all []entryView) {
	if v.known == nil {
		return nil
	}
	if depth == 0 {
		depth = 2
	}
	for _, h := range v.known.headings {
		if h.Level <= depth {
			all = append(all, h)
		}
	}
	return all
}

// index lists the terms with the headings under which they stand: there are no
// pages here.
func (v *viewer) index() (all []entryView) {
	if v.known == nil {
		return nil
	}
	places, at := map[string][]int{}, []placeView{}
	for _, name := range ordered(v.known.terms, v.lang) {
		for _, p := range v.known.terms[name] {
			places[name], at = append(places[name], len(at)), append(at, p)
		}
	}
	for _, t := range sortedTerms(places, v.lang) {
		one := entryView{Level: 1, Text: t.text}
		if t.sub {
			one.Level = 2
		}
		for i, n := range t.pages {
			p := at[n]
			p.Before = ", "
			if i == 0 {
				p.Before = ": "
			}
			one.Places = append(one.Places, p)
		}
		all = append(all, one)
	}
	return all
}
