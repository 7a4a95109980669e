package jobsheetprint

import (
	"fmt"
	"strings"

	"halfshaft/services/internal/typeset"
	"halfshaft/services/jobsheet"
)

// shelf is what is to be there before the work begins, with room for how many of
// each part went in and of which lot. Its lines have the names that the page has
// on which the sheet is taken in.
func shelf(s *jobsheet.Sheet) []typeset.Block {
	t := typeset.Table{Dense: true, Caption: "On the shelf", Columns: []typeset.Column{
		{Head: "Line", Weight: 0.6}, {Head: "What", Weight: 4.4}, {Head: "Planned", Weight: 1.1}, {Head: "Went in", Weight: 0.8}, {Head: "Lot", Weight: 1.3},
	}}
	var rows []typeset.Row
	for i, p := range s.Parts {
		row := []typeset.Cell{text(fmt.Sprintf("p%d", i+1)), text(strings.TrimSpace(p.Number + " " + p.Title)), text(fmt.Sprint(p.Quantity)), {Blank: true}, {Blank: true}}
		if p.IfNeeded { // what seldom goes in has less room to write
			row[2], row[3], row[4] = text(fmt.Sprintf("%d if needed", p.Quantity)), text(""), text("")
		}
		rows = append(rows, typeset.Row{Cells: row})
	}
	for _, f := range s.Fluids {
		rows = append(rows, typeset.Row{Cells: []typeset.Cell{text(""), text(f.Fluid), text(f.Quantity.String()), text(""), text("")}})
	}
	t.Groups = []typeset.Group{{Rows: rows}}
	var out []typeset.Block
	if len(rows) > 0 {
		out = append(out, t)
	}
	if len(s.Tools) > 0 {
		out = append(out, typeset.Paragraph{Small: true, Runs: append(typeset.Bold("Tools: "), plain(strings.Join(s.Tools, ", ")+".")...)})
	}
	return out
}

func text(words string) typeset.Cell { return typeset.Cell{Runs: plain(words)} }
