// Package jobsheetprint sets a job sheet on paper.
package jobsheetprint

import (
	"fmt"
	"strings"

	"halfshaft/services/internal/typeset"
	"halfshaft/services/jobsheet"
)

// PDF prints a sheet, on A4 where nothing else is said.
func PDF(s *jobsheet.Sheet, works, paper string) ([]byte, error) {
	lines := 3
	switch paper {
	case "", "A4":
		paper = "A4"
	case "Letter": // is 18 mm shorter
		lines = 2
	default:
		paper += " is no paper for job sheets" // which the typesetter refuses by name
	}
	return typeset.PDF(document(s, works, lines), typeset.Print{Paper: typeset.Paper(paper), Count: true, Tight: true})
}

// document is the sheet as blocks, with so many lines of room for remarks.
func document(s *jobsheet.Sheet, works string, lines int) typeset.Document {
	title := fmt.Sprintf("Job sheet %d for %s", s.Number, s.Serial)
	if s.Number == 0 {
		title = "Job sheet for " + string(s.Serial) + ", not kept"
	}
	d := typeset.Document{Title: title, Edition: "Visit of " + s.Visit.Long(), Head: strings.TrimPrefix(works+" · "+title, " · ")}
	d.Blocks = append(d.Blocks, identity(s))
	var warnings []typeset.Runs
	for _, w := range s.Warnings {
		warnings = append(warnings, plain(w.Sentence))
	}
	if len(warnings) > 0 {
		d.Blocks = append(d.Blocks, typeset.Caution{Word: "First", Texts: warnings})
	}
	if len(s.Cautions) > 0 {
		var texts []typeset.Runs
		for _, c := range s.Cautions {
			texts = append(texts, plain(c))
		}
		d.Blocks = append(d.Blocks, typeset.Caution{Word: "Caution", Texts: texts})
	}
	d.Blocks = append(d.Blocks, shelf(s)...)
	d.Blocks = append(d.Blocks, work(s)...)
	d.Blocks = append(d.Blocks, comesBack(s, lines)...)
	return d
}

func plain(text string) typeset.Runs { return typeset.Words(typeset.Unparted(text)) }

// identity is what the vehicle is, in as few lines as it takes.
func identity(s *jobsheet.Sheet) typeset.Block {
	var parts []string
	for _, f := range s.Identity {
		parts = append(parts, f.Label+" "+f.Value)
	}
	if s.Plate != "" {
		parts = append(parts, "Plate "+s.Plate)
	}
	rows := []typeset.Row{{Cells: []typeset.Cell{text("Vehicle"), text(strings.Join(parts, " · "))}}}
	odometer := "never read"
	if !s.Distance.Last.IsZero() {
		odometer = s.Distance.Last.Text() + " on " + s.Distance.LastDate.Long()
	}
	if s.Distance.Expected != 0 {
		odometer += ", about " + s.Distance.Expected.Text(s.Distance.Unit) + " expected"
	}
	if s.Distance.Dial != "" {
		odometer += " (dial: " + s.Distance.Dial + ")"
	}
	rows = append(rows, typeset.Row{Cells: []typeset.Cell{text("Odometer"), text(odometer)}})
	return typeset.Table{Dense: true, RowHeads: true, Columns: []typeset.Column{{Weight: 0.8}, {Weight: 7}}, Groups: []typeset.Group{{Rows: rows}}}
}
