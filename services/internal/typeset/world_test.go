package typeset

import (
	"fmt"
	"strings"

	"pgregory.net/rapid"
)

// world draws random documents in which every word is another, so that a test
// sees where each of them went.
type world struct {
	t       *rapid.T
	n       int
	anchors int
	refs    []string // anchors that were referred to
	long    int      // how many letters a word has beside its number, at most
}

func (w *world) between(low, high int, what string) int {
	return rapid.IntRange(low, high).Draw(w.t, what)
}

func (w *world) words(low, high int) string {
	var all []string
	for range w.between(low, high, "words") {
		w.n++
		long := strings.Repeat("m", w.n*7919%101%(w.long+1)) // a draw for each would be slow
		all = append(all, fmt.Sprintf("w%dx%s", w.n, long))
	}
	return strings.Join(all, " ")
}

func (w *world) runs(low, high int) Runs {
	var all Runs
	for i := range w.between(1, 4, "runs") {
		if i > 0 {
			all = append(all, Run{Text: " "})
		}
		switch kind := RunKind(w.between(0, 4, "kind")); {
		case kind == Value:
			w.n++
			all = append(all, Measured(fmt.Sprintf("w%dx", w.n), "mm"))
		case kind == Reference && w.anchors > 0:
			to := fmt.Sprintf("a%d", w.between(1, w.anchors, "to"))
			w.n++
			w.refs = append(w.refs, to)
			all = append(all, See(fmt.Sprintf("w%dx", w.n), to), Run{Text: " "}, Run{Text: w.words(1, 2)})
		case kind == Reference:
			all = append(all, Words(w.words(low, high))...)
		default:
			all = append(all, Run{Kind: kind, Text: w.words(low, high)})
		}
	}
	return all
}

func (w *world) caution() Caution {
	c := Caution{Word: w.words(1, 2), Changed: rapid.Bool().Draw(w.t, "changed")}
	for range w.between(1, 2, "texts") {
		c.Texts = append(c.Texts, w.runs(3, 10))
	}
	return c
}

func (w *world) table() Table {
	t := Table{Caption: w.words(1, 3), RowHeads: rapid.Bool().Draw(w.t, "row heads")}
	plain := w.long
	w.long = 0
	defer func() { w.long = plain }()
	for range w.between(1, 3, "columns") { // no word is wider than a column
		t.Columns = append(t.Columns, Column{Head: w.words(1, 1), Weight: float64(w.between(2, 4, "weight")), Align: Align(w.between(0, 2, "align"))})
	}
	for range w.between(1, 3, "groups") {
		g := Group{Rows: []Row{}}
		if rapid.Bool().Draw(w.t, "titled") {
			g.Title = w.words(1, 4)
		}
		for range w.between(1, 14, "rows") {
			var r Row
			for range t.Columns {
				r.Cells = append(r.Cells, Cell{Runs: w.runs(1, 3), Blank: w.between(0, 5, "blank") == 0, Tick: w.between(0, 5, "tick") == 0})
			}
			g.Rows = append(g.Rows, r)
		}
		t.Groups = append(t.Groups, g)
	}
	return t
}

func (w *world) list(deep int) List {
	l := List{Numbered: rapid.Bool().Draw(w.t, "numbered"), Start: w.between(0, 99, "start")}
	for range w.between(1, 5, "items") {
		it := Item{Runs: w.runs(1, 12), Changed: rapid.Bool().Draw(w.t, "changed")}
		if w.between(0, 3, "caution") == 0 {
			c := w.caution()
			it.Caution = &c
		}
		if deep > 0 && w.between(0, 3, "more") == 0 {
			it.Blocks = []Block{w.block(deep - 1)}
		}
		l.Items = append(l.Items, it)
	}
	return l
}

func (w *world) block(deep int) Block {
	switch w.between(0, 9, "block") {
	case 0, 1, 2:
		return Paragraph{Runs: w.runs(1, 60), Small: rapid.Bool().Draw(w.t, "small"), Changed: rapid.Bool().Draw(w.t, "changed")}
	case 3:
		return w.list(deep)
	case 4:
		var d Definitions
		for range w.between(1, 6, "rows") {
			d.Rows = append(d.Rows, Definition{Term: w.words(1, 3), Text: w.runs(1, 12)})
		}
		return d
	case 5, 6:
		return w.table()
	case 7:
		var f Fields
		for range w.between(1, 5, "fields") {
			f.Fields = append(f.Fields, Field{Kind: FieldKind(w.between(0, 2, "field")), Label: w.words(1, 5), Note: w.words(0, 3)})
		}
		return f
	case 8:
		if deep > 0 {
			return Together{Blocks: []Block{w.block(deep - 1), w.block(0)}}
		}
		return Paragraph{Runs: w.runs(1, 10)}
	}
	c := chart()
	c.Title = w.words(1, 3)
	c.Drawing.Marks = c.Drawing.Marks[:3]
	return Figure{Figure: c, Caption: w.words(1, 4)}
}

// document draws sections of blocks, with contents before and an index after
// them, and cautions before paragraphs.
func (w *world) document() Document {
	d := Document{Title: w.words(1, 6), Edition: w.words(1, 3), Head: "running head"}
	if rapid.Bool().Draw(w.t, "cover") {
		d.Cover = &Cover{Name: w.words(1, 3), Rows: []Definition{{Term: w.words(1, 1), Text: w.runs(1, 3)}}, Small: []Runs{w.runs(1, 20)}}
	}
	if rapid.Bool().Draw(w.t, "contents") {
		d.Blocks = append(d.Blocks, Contents{Title: w.words(1, 1), Depth: 3}, PageBreak{Front: rapid.Bool().Draw(w.t, "front")})
	}
	w.anchors = w.between(1, 8, "sections")
	level := 0
	for i := range w.anchors {
		level = w.between(1, min(level+1, 3), "level")
		d.Blocks = append(d.Blocks, Heading{
			Level: level, Text: w.words(1, 9), Anchor: fmt.Sprintf("a%d", i+1),
			Index: strings.Fields(w.words(1, 2)),
		})
		for range w.between(1, 4, "blocks") {
			switch w.between(0, 5, "what") {
			case 0:
				d.Blocks = append(d.Blocks, w.caution(), Paragraph{Runs: w.runs(1, 15)})
			case 1:
				d.Blocks = append(d.Blocks, Columns{Count: 2, Blocks: []Block{Paragraph{Runs: w.runs(1, 60)}, w.list(0), Paragraph{Runs: w.runs(1, 90)}}})
			default:
				d.Blocks = append(d.Blocks, w.block(1))
			}
		}
	}
	if rapid.Bool().Draw(w.t, "index") {
		d.Blocks = append(d.Blocks, Index{Title: w.words(1, 1)})
	}
	return d
}

func (w *world) print() Print {
	return Print{Paper: rapid.SampledFrom([]Paper{A4, A5, USLetter}).Draw(w.t, "paper"), Duplex: rapid.Bool().Draw(w.t, "duplex")}
}
