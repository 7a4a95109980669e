package handbookprint

import (
	"halfshaft/services/handbook"
	"halfshaft/services/internal/figure"
	"halfshaft/services/internal/typeset"
)

func section(s *handbook.MadeSection, layout figure.Layout) []typeset.Block {
	var blocks []typeset.Block
	if s.Title != "" {
		blocks = append(blocks, typeset.Heading{Level: 2, Text: s.Title, Anchor: s.ID, Index: s.Index, Changed: s.Changed})
	}
	for i := range s.Blocks {
		made := block(&s.Blocks[i], layout)
		if s.Title == "" && i == 0 {
			made = named(made, s)
		}
		blocks = append(blocks, made...)
	}
	return blocks
}

// named gives the first block of a section without a heading, which is a text,
// what the heading would have: its anchor and its place in the index.
func named(blocks []typeset.Block, s *handbook.MadeSection) []typeset.Block {
	if b, ok := blocks[0].(typeset.Paragraph); ok {
		b.Anchor, b.Index, b.Changed = s.ID, s.Index, b.Changed || s.Changed
		blocks[0] = b
	}
	return blocks
}

func block(b *handbook.Block, layout figure.Layout) []typeset.Block {
	switch {
	case b.Text != nil:
		return []typeset.Block{typeset.Paragraph{Runs: runs(b.Text), Changed: b.Changed}}
	case b.Steps != nil:
		return []typeset.Block{typeset.List{Numbered: true, Items: items(b.Steps)}}
	case b.Points != nil:
		return []typeset.Block{typeset.List{Items: items(b.Points)}}
	case b.Warning != nil:
		return []typeset.Block{*caution(b.Warning, b.Changed)}
	case b.Table != nil:
		return table(b.Table, b.Changed)
	case b.Picture != nil:
		return []typeset.Block{picture(b.Picture, b.Changed, layout)}
	}
	f := typeset.Fields{}
	for _, label := range b.Lines {
		f.Fields = append(f.Fields, typeset.Field{Kind: typeset.Line, Label: label, Changed: b.Changed})
	}
	return []typeset.Block{f}
}

func items(all []handbook.Item) []typeset.Item {
	var out []typeset.Item
	for i := range all {
		out = append(out, typeset.Item{Runs: runs(all[i].Text), Caution: caution(all[i].Warning, all[i].Changed), Changed: all[i].Changed})
	}
	return out
}

// grave are the words of warnings about what can kill.
var grave = map[string]bool{"Danger": true, "Fire": true}

func caution(w *handbook.MadeWarning, changed bool) *typeset.Caution {
	if w == nil {
		return nil
	}
	return &typeset.Caution{Word: w.Word, Grave: grave[w.Word], Texts: []typeset.Runs{runs(w.Text)}, Changed: changed}
}

func runs(words handbook.Words) typeset.Runs {
	out := typeset.Runs{}
	for _, r := range words {
		switch r.Kind {
		case handbook.Emphasis:
			out = append(out, typeset.Run{Kind: typeset.Emphasis, Text: typeset.Unparted(r.Text)})
		case handbook.Strong:
			out = append(out, typeset.Run{Kind: typeset.Strong, Text: typeset.Unparted(r.Text)})
		case handbook.Value:
			out = append(out, typeset.Measured(r.Text, r.Unit))
		case handbook.See:
			out = append(out, typeset.See("“"+r.Text+"”", r.To)) // a title within a sentence
		default:
			out = append(out, typeset.Run{Text: typeset.Unparted(r.Text)})
		}
	}
	return out
}

// table is a table with its note below it.
func table(t *handbook.Table, changed bool) []typeset.Block {
	out := typeset.Table{Caption: t.Caption, Dense: t.Dense, RowHeads: true}
	for _, c := range t.Columns {
		column := typeset.Column{Head: c.Head, Weight: c.Weight}
		if c.Right {
			column.Align = typeset.Right
		}
		out.Columns = append(out.Columns, column)
	}
	for _, g := range t.Groups {
		group := typeset.Group{Title: g.Title}
		for _, r := range g.Rows {
			row := typeset.Row{Changed: r.Changed}
			for _, c := range r.Cells {
				row.Cells = append(row.Cells, typeset.Cell{Runs: runs(c.Words), Blank: c.Blank})
			}
			group.Rows = append(group.Rows, row)
		}
		out.Groups = append(out.Groups, group)
	}
	blocks := []typeset.Block{out}
	if t.Note != "" {
		blocks = append(blocks, typeset.Paragraph{Runs: typeset.Words(typeset.Unparted(t.Note)), Small: true, Changed: changed})
	}
	return blocks
}
