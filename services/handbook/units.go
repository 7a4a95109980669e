package handbook

import (
	"encoding/json"
	"fmt"
)

// units takes a section apart.
func units(s *MadeSection) []unit {
	var all []unit
	add := func(what string, value any, text string, mark func()) {
		raw, err := json.Marshal(value)
		if err != nil { // a number that is none: it differs from everything
			raw = []byte(err.Error())
		}
		all = append(all, unit{key: what + string(raw), text: text, mark: mark})
	}
	for i := range s.Blocks {
		b := &s.Blocks[i]
		whole := func() { b.Changed = true }
		switch {
		case b.Text != nil:
			add("text", b.Text, b.Text.String(), whole)
		case b.Warning != nil:
			add("warning", b.Warning, b.Warning.Word+": "+b.Warning.Text.String(), whole)
		case b.Picture != nil:
			add("picture", b.Picture, "the picture “"+b.Picture.Caption+"”", whole)
		case b.Table != nil:
			from := len(all)
			tableUnits(b, add)
			for j := range all[from+1:] { // the first is the table's frame
				all[from+1+j].row = b.Table.Caption
			}
		}
		for j := range b.Steps {
			add("step", b.Steps[j], b.Steps[j].Text.String(), func() { b.Steps[j].Changed = true })
		}
		for j := range b.Points {
			add("point", b.Points[j], b.Points[j].Text.String(), func() { b.Points[j].Changed = true })
		}
		for _, label := range b.Lines {
			add("line", label, label, whole)
		}
	}
	return all
}

// tableUnits takes a table apart: its frame, and each row under its group.
func tableUnits(b *Block, add func(string, any, string, func())) {
	t := b.Table
	add("table", []any{t.Caption, t.Columns, t.Note}, "the head or the note of the table “"+t.Caption+"”", func() { b.Changed = true })
	for g := range t.Groups {
		for r := range t.Groups[g].Rows {
			row := &t.Groups[g].Rows[r]
			text := row.String()
			if text == "" {
				text = fmt.Sprintf("a line of “%s”", t.Caption)
			}
			add("row"+t.Groups[g].Title, row, text, func() { row.Changed = true })
		}
	}
}

// markWhole marks all of a section that is new.
func markWhole(s *MadeSection) {
	s.Changed = true
	for _, u := range units(s) {
		u.mark()
	}
}
