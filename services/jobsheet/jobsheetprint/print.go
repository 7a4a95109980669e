// Package jobsheetprint sets a job sheet on paper.
package jobsheetprint

import (
	"fmt"
	"strings"

	"halfshaft/services/internal/typeset"
	"halfshaft/services/jobsheet"
	"halfshaft/services/schedule/trend"
)

// PDF prints a sheet, on A4 where nothing else is said.
func PDF(s *jobsheet.Sheet, works, paper string) ([]byte, error) {
	switch paper {
	case "", "A4":
		paper = "A4"
	case "Letter":
	default:
		paper += " is no paper for job sheets" // which the typesetter refuses by name
	}
	return typeset.PDF(document(s, works), typeset.Print{Paper: typeset.Paper(paper), Count: true})
}

// document is the sheet as blocks.
func document(s *jobsheet.Sheet, works string) typeset.Document {
	title := fmt.Sprintf("Job sheet %d for %s", s.Number, s.Serial)
	if s.Number == 0 {
		title = "Job sheet for " + string(s.Serial) + ", not kept"
	}
	d := typeset.Document{Title: title, Edition: "Visit of " + s.Visit.Long(), Head: strings.TrimPrefix(works+" · "+title, " · ")}
	d.Blocks = append(d.Blocks, typeset.Heading{Level: 1, Text: title}, identity(s))
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
	d.Blocks = append(d.Blocks, typeset.Heading{Level: 2, Text: "Work, in order"})
	for i := range s.Jobs {
		d.Blocks = append(d.Blocks, job(&s.Jobs[i])...)
	}
	return typeset.Document{Title: d.Title, Edition: d.Edition, Head: d.Head, Blocks: append(d.Blocks, comesBack(s)...)}
}

func plain(text string) typeset.Runs { return typeset.Runs{{Text: text}} }

// identity is what the vehicle is, in as few lines as it takes.
func identity(s *jobsheet.Sheet) typeset.Block {
	var parts []string
	for _, f := range s.Identity {
		parts = append(parts, f.Label+" "+f.Value)
	}
	rows := []typeset.Definition{{Term: "Visit", Text: plain(s.Visit.Long())}, {Term: "Vehicle", Text: plain(strings.Join(parts, " · "))}}
	odometer := "never read"
	if !s.Distance.Last.IsZero() {
		odometer = s.Distance.Last.String() + " on " + s.Distance.LastDate.Long()
	}
	if s.Distance.Expected != 0 {
		odometer += ", about " + s.Distance.Expected.Text(s.Distance.Unit) + " expected"
	}
	if s.Distance.Dial != "" {
		odometer += " (dial: " + s.Distance.Dial + ")"
	}
	return typeset.Definitions{Rows: append(rows, typeset.Definition{Term: "Odometer", Text: plain(odometer)})}
}

// shelf is what is to be there before the work begins.
func shelf(s *jobsheet.Sheet) []typeset.Block {
	var rows []typeset.Definition
	var sure, perhaps []string
	for _, p := range s.Parts {
		text := fmt.Sprintf("%d × %s %s", p.Quantity, p.Number, p.Title)
		if p.IfNeeded {
			perhaps = append(perhaps, text)
		} else {
			sure = append(sure, text)
		}
	}
	row := func(term string, all []string) {
		if len(all) > 0 {
			rows = append(rows, typeset.Definition{Term: term, Text: plain(strings.Join(all, "; "))})
		}
	}
	row("Parts", sure)
	row("If needed", perhaps)
	var fluids []string
	for _, f := range s.Fluids {
		fluids = append(fluids, strings.TrimSpace(f.Quantity.String()+" "+f.Fluid))
	}
	row("Fluids", fluids)
	row("Tools", s.Tools)
	if len(rows) == 0 {
		return nil
	}
	return []typeset.Block{typeset.Heading{Level: 2, Text: "On the shelf"}, typeset.Definitions{Rows: rows}}
}

// job is one job with lines for its numbers.
func job(j *jobsheet.Job) []typeset.Block {
	head := fmt.Sprintf("%d  %s", j.Number, j.Title)
	blocks := []typeset.Block{typeset.Heading{Level: 3, Text: head}}
	if len(j.Cautions) > 0 {
		var texts []typeset.Runs
		for _, c := range j.Cautions {
			texts = append(texts, plain(c))
		}
		blocks = append(blocks, typeset.Caution{Word: "Caution", Texts: texts})
	}
	if text := needs(j); text != "" {
		blocks = append(blocks, typeset.Paragraph{Runs: plain(text), Small: true})
	}
	fields := []typeset.Field{{Kind: typeset.Tick, Label: strings.Join(append([]string{j.Item}, j.Docs...), ", ") + ": done"}}
	for i := range j.Values {
		v := &j.Values[i]
		fields = append(fields, typeset.Field{Kind: typeset.Line, Label: v.Line + " " + label(v), Unit: v.Limit.Unit, Note: note(v)})
	}
	for _, s := range j.Shims {
		fields = append(fields, typeset.Field{Kind: typeset.Line, Label: "Shims " + strings.ReplaceAll(s.Position, "-", " ") + ", in now", Note: shims(&s)})
	}
	return append(blocks, typeset.Fields{Fields: fields})
}

func label(v *jobsheet.Value) string {
	if v.Position == "" {
		return v.Title
	}
	return v.Title + ", " + strings.ReplaceAll(v.Position, "-", " ")
}

// note is what a value is held against, in one line.
func note(v *jobsheet.Value) string {
	var parts []string
	if w := trend.Window(&v.Limit); w != "" {
		parts = append(parts, w)
	}
	if v.Limit.Action != nil {
		parts = append(parts, "act at "+v.Limit.Action.String()+" "+v.Limit.Unit)
	}
	var last []string
	for _, l := range v.Last {
		last = append(last, l.Value.Value.String()+" ("+l.Date.String()+")")
	}
	if len(last) > 0 {
		parts = append(parts, "last "+strings.Join(last, ", "))
	}
	if v.Limit.Method != "" {
		parts = append(parts, v.Limit.Method)
	}
	if v.Trend != "" && len(v.Last) > 1 {
		parts = append(parts, v.Trend)
	}
	return strings.Join(parts, "; ")
}

// shims is the pack that is in, and what may replace it.
func shims(s *jobsheet.Shims) string {
	pack := "pack in: not on record"
	if s.Pack.Unit != "" {
		pack = "pack in: " + s.Pack.String()
	}
	if s.PackText != "" {
		pack += " = " + s.PackText
	}
	if s.Window != "" {
		pack += "; aim for " + s.Window
	}
	if s.Sizes != "" {
		pack += "; shims of " + s.Sizes
	}
	return pack
}

// needs is what a job needs, in one paragraph.
func needs(j *jobsheet.Job) string {
	var parts []string
	for _, p := range j.Parts {
		text := fmt.Sprintf("%d × %s %s", p.Quantity, p.Number, p.Title)
		if p.IfNeeded {
			text += " if needed"
		}
		parts = append(parts, text)
	}
	for _, f := range j.Fluids {
		text := strings.TrimSpace(f.Quantity.String() + " " + f.Fluid)
		if f.Method != "" {
			text += ": " + strings.TrimSuffix(f.Method, ".")
		}
		if f.NeverMix != "" {
			text += "; NEVER MIX with " + f.NeverMix
		}
		parts = append(parts, text)
	}
	for _, s := range j.Settings {
		parts = append(parts, setting(&s))
	}
	return strings.Join(parts, ". ")
}

func setting(s *jobsheet.Setting) string {
	window := s.Target
	switch {
	case s.Lower != "" && s.Upper != "":
		window = s.Lower + " to " + s.Upper
	case s.Upper != "":
		window = "at most " + s.Upper
	case s.Lower != "":
		window = "at least " + s.Lower
	}
	text := strings.TrimSpace(s.Title + " " + window + " " + s.Unit)
	if s.Method != "" {
		text += " (" + strings.TrimSuffix(s.Method, ".") + ")"
	}
	return text
}

// comesBack is what the workshop fills in for the whole sheet.
func comesBack(s *jobsheet.Sheet) []typeset.Block {
	var out []typeset.Block
	for _, g := range s.Gaps {
		out = append(out, typeset.Paragraph{Runs: plain("Not on this sheet: " + g.Sentence), Small: true})
	}
	out = append(out, typeset.Together{Blocks: []typeset.Block{
		typeset.Heading{Level: 2, Text: "Comes back"},
		typeset.Fields{Fields: []typeset.Field{
			{Kind: typeset.Line, Label: "Date"}, {Kind: typeset.Line, Label: "Odometer", Unit: string(s.Distance.Unit)}, {Kind: typeset.Line, Label: "Done by"},
			{Kind: typeset.Room, Label: "Parts with lots, components fitted or removed, what else was seen", Lines: 3},
		}},
	}})
	small := "Local law and licensed practice go first."
	if s.Sample {
		small = "Values are samples, to be signed by the works' engineer. " + small
	}
	return append(out, typeset.Paragraph{Runs: plain(small), Small: true})
}
