package typeset

// widths shares a width among columns by their weights.
func widths(columns []Column, w float64) []float64 {
	sum := 0.0
	weight := func(c Column) float64 {
		if c.Weight > 0 {
			return c.Weight
		}
		return 1
	}
	for _, c := range columns {
		sum += weight(c)
	}
	all := make([]float64, len(columns))
	for i, c := range columns {
		all[i] = w * weight(c) / sum
	}
	return all
}

// cells places the cells of a row in their columns, with a gap between them.
func (s *setter) cells(t Table, row []Cell, st style, a area) (all []box) {
	const gap = 3.0
	ws := widths(t.Columns, a.w+gap)
	x := a.x
	for i, c := range row {
		cellStyle := st
		if t.RowHeads && i == 0 && !st.bold && !t.grouped() { // beside bold titles bold rows would all be titles
			cellStyle.bold = true
		}
		all = append(all, s.boxed(c, area{x, max(ws[i]-gap, 1)}, cellStyle, t.Columns[i].Align))
		x += ws[i]
	}
	return all
}

// grouped says whether groups of a table have titles.
func (t Table) grouped() bool {
	for _, g := range t.Groups {
		if g.Title != "" {
			return true
		}
	}
	return false
}

// tableBlock sets a table: rules above and below the head and below each row,
// none upright.
func (s *setter) tableBlock(t Table, a area) []slab {
	st := s.table(t.Dense)
	head := s.tableHead(t, st, a, "")
	repeated := s.tableHead(t, st, a, s.phrases.Continued)
	if t.Caption == "" && s.phrases.Continued == "" {
		repeated = head
	}
	var body []slab
	for _, g := range t.Groups {
		body = append(body, s.group(t, g, st, a)...)
	}
	for i := range body {
		body[i].head = repeated
	}
	if n := len(body); n > 0 {
		last := &body[n-1]
		if !t.endsBlank() {
			last.marks = append(last.marks, mark{kind: rule, x: a.x, y: last.Height, w: a.w, thick: 0.3})
		}
		last.Height += s.em() * 0.5 * s.airy()
	}
	return named(spaced(append(head, body...), s.em()*0.7*s.airy()), t.Anchor, t.Index)
}

// tableHead sets the caption and the names of the columns.
func (s *setter) tableHead(t Table, st style, a area, continued string) (all []slab) {
	bold := st
	bold.bold = true
	if t.Caption != "" {
		runs := Bold(t.Caption)
		if continued != "" {
			runs = append(runs, Run{Text: " (" + continued + ")"})
		}
		all = s.lines(runs, a, st, false)
	}
	names := make([]Cell, len(t.Columns))
	any := false
	for i, c := range t.Columns {
		names[i].Runs, any = Words(c.Head), any || c.Head != ""
	}
	top := mark{kind: rule, x: a.x, w: a.w, thick: 0.4}
	if any {
		row := spaced(s.row(s.cells(t, names, bold, a), 0.8, false), 1.2)
		row[0].marks = append([]mark{top}, row[0].marks...)
		last := &row[len(row)-1]
		last.marks = append(last.marks, mark{kind: rule, x: a.x, y: last.Height, w: a.w, thick: 0.25})
		all = append(all, row...)
	} else {
		all = append(all, slab{Strip: Strip{Before: 1.2, Height: 0.4}, marks: []mark{top}})
	}
	for i := range all {
		all[i].Keep, all[i].row = Hard, 0
	}
	return all
}

// endsBlank says whether the last row of a table is blank.
func (t Table) endsBlank() bool {
	if len(t.Groups) == 0 {
		return false
	}
	rows := t.Groups[len(t.Groups)-1].Rows
	return len(rows) > 0 && rows[len(rows)-1].blank()
}

// blank says whether there is nothing in a row but lines to write on.
func (r Row) blank() bool {
	for _, c := range r.Cells {
		if !c.Blank || len(c.Runs) > 0 {
			return false
		}
	}
	return true
}

// fewRows is how many rows a group has that is read at one glance.
const fewRows = 8

// group sets rows that belong together.
func (s *setter) group(t Table, g Group, st style, a area) (all []slab) {
	if g.Title != "" {
		bold := st
		bold.bold = true
		all = spaced(s.lines(Words(g.Title), a, bold, false), 1.6)
		for i := range all {
			all[i].Keep = Hard
		}
	}
	together := g.Title != "" || len(t.Groups) > 1
	for i, r := range g.Rows {
		row := s.row(s.cells(t, r.Cells, st, a), 0.75, r.Changed)
		last := &row[len(row)-1]
		if i < len(g.Rows)-1 {
			if !r.blank() { // whose lines to write on are rules enough
				last.marks = append(last.marks, mark{kind: rule, x: a.x, y: last.Height, w: a.w, thick: 0.1, grey: 140})
			}
			// One row alone looks lost above or below its table's break.
			if i == 0 || i == len(g.Rows)-2 {
				last.Keep = Paired
			} else if together && len(g.Rows) <= fewRows {
				last.Keep = Soft
			} else if together {
				last.Keep = Loose
			}
		}
		all = append(all, row...)
	}
	return all
}

// fields sets what is filled in by hand.
func (s *setter) fields(f Fields, a area) (all []slab) {
	st, note := s.table(false), s.note()
	widest, plain := 0.0, true
	for _, one := range f.Fields {
		widest, plain = max(widest, s.faces.width(s.clean(one.Label), sans, st.size)), plain && one.Note == ""
	}
	if plain {
		a = s.running(a)
	}
	for i, one := range f.Fields {
		var some []slab
		switch one.Kind {
		case Tick:
			runs := append(Words(one.Label), noted(one.Note)...)
			some = s.row([]box{s.boxed(Cell{Runs: runs, Tick: true}, a, st, Left)}, 1.3, one.Changed)
		case Room:
			some = s.room(one, a, st)
		default:
			label, blank := a.w*0.40, a.w*0.30
			if plain { // nothing stands behind the line
				label, blank = min(max(widest+4, a.w*0.3), a.w*0.55), a.w*0.45
			}
			some = s.row([]box{
				s.boxed(Cell{Runs: Words(one.Label)}, area{a.x, label - 3}, st, Left),
				s.boxed(Cell{Runs: Words(one.Unit), Blank: true}, area{a.x + label, blank}, st, Left),
				s.boxed(Cell{Runs: Words(one.Note)}, area{a.x + label + blank + 3, a.w - label - blank - 3}, note, Left),
			}, 0.4, one.Changed)
		}
		if i == 0 && len(some) > 0 {
			some[0].Before = max(some[0].Before, s.em()*0.4)
		}
		if i < len(f.Fields)-1 && len(some) > 0 {
			some[len(some)-1].Keep = Soft
		}
		all = append(all, some...)
	}
	return all
}

func noted(note string) Runs {
	if note == "" {
		return nil
	}
	return Runs{{Text: " (" + note + ")"}}
}

// room sets a box for remarks below its label.
func (s *setter) room(f Field, a area, st style) []slab {
	all := s.lines(append(Words(f.Label), noted(f.Note)...), a, st, f.Changed)
	spaced(all, s.em()*0.4)
	for i := range all {
		all[i].Keep = Hard
	}
	n := f.Lines
	if n == 0 {
		n = 3
	}
	h := min(float64(n)*writing, s.textHeight()*0.8)
	return append(all, slab{
		Strip: Strip{Before: 1, Height: h + 1}, bar: f.Changed,
		marks: []mark{{kind: frame, x: a.x, w: a.w, h: h, thick: 0.2}},
	})
}
