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
	d.Blocks = append(d.Blocks, work(s.Jobs, string(s.Distance.Unit), caption(s)))
	return typeset.Document{Title: d.Title, Edition: d.Edition, Head: d.Head, Blocks: append(d.Blocks, comesBack(s)...)}
}

func plain(text string) typeset.Runs { return typeset.Runs{{Text: text}} }

// identity is what the vehicle is, in as few lines as it takes.
func identity(s *jobsheet.Sheet) typeset.Block {
	var parts []string
	for _, f := range s.Identity {
		parts = append(parts, f.Label+" "+f.Value)
	}
	if s.Plate != "" {
		parts = append(parts, "Plate "+s.Plate)
	}
	rows := []typeset.Definition{{Term: "Vehicle", Text: plain(strings.Join(parts, " · "))}}
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
	return []typeset.Block{typeset.Definitions{Rows: rows}}
}

// work is a table with a group of rows to each job: cautions first, then what it
// needs, then a line for each number that comes back. The rows of a job stay on
// one page where they fit, so that a caution is never turned away from its work.
func work(jobs []jobsheet.Job, unit, caption string) typeset.Block {
	t := typeset.Table{
		Dense: true, Caption: caption,
		Columns: []typeset.Column{{Head: "Line", Weight: 0.55}, {Head: "Work", Weight: 3.8}, {Head: "Set to; limits, last values", Weight: 3.6}, {Head: "Comes back", Weight: 1.7}},
	}
	for i := range jobs {
		t.Groups = append(t.Groups, typeset.Group{Title: jobTitle(&jobs[i]), Rows: rows(&jobs[i])})
	}
	whole := func(what, unit string) typeset.Row {
		return typeset.Row{Cells: []typeset.Cell{{}, {Runs: plain(what)}, {}, {Blank: true, Runs: plain(unit)}}}
	}
	t.Groups = append(t.Groups, typeset.Group{Title: "The whole visit", Rows: []typeset.Row{whole("odometer", unit), whole("day, and who did the work; parts with lots, and what else was seen, overleaf", "")}})
	return t
}

func jobTitle(j *jobsheet.Job) string {
	return strings.Join(append([]string{fmt.Sprintf("%d  %s", j.Number, j.Title), j.Item}, j.Docs...), " · ")
}

func rows(j *jobsheet.Job) []typeset.Row {
	var out []typeset.Row
	row := func(line string, work typeset.Runs, limits string, back typeset.Cell) {
		out = append(out, typeset.Row{Cells: []typeset.Cell{{Runs: plain(line)}, {Runs: work}, {Runs: plain(limits)}, back}})
	}
	var head typeset.Runs
	if len(j.Cautions) > 0 {
		head = append(typeset.Bold("Caution: "), plain(strings.Join(j.Cautions, " ")+" ")...)
	}
	var set []string
	for i := range j.Settings {
		set = append(set, setting(&j.Settings[i], j.Position))
	}
	row("", append(head, plain(needs(j))...), strings.Join(set, ". "), typeset.Cell{Tick: true, Runs: plain("done")})
	for i := range j.Values {
		v := &j.Values[i]
		row(v.Line, plain(label(v)), note(v), typeset.Cell{Blank: true, Runs: plain(v.Limit.Unit)})
	}
	for i := range j.Shims {
		s := &j.Shims[i]
		row("", plain("Shims in now, "+strings.ReplaceAll(s.Position, "-", " ")), shims(s), typeset.Cell{Blank: true})
	}
	return out
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
	if w := v.Window(); w != "" {
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
			text += "; NEVER MIX with " + strings.ReplaceAll(f.NeverMix, "-", " ")
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, ". ")
}

func setting(s *jobsheet.Setting, at string) string {
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
	if s.Position != at && s.Position != "" {
		text = strings.ReplaceAll(s.Position, "-", " ") + ", " + text
	}
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
	return out
}

// caption stands above the work, and says whose the values are.
func caption(s *jobsheet.Sheet) string {
	text := "Work, in order. Local law and licensed practice go first."
	if s.Sample {
		text += " Values are samples, to be signed by the works' engineer."
	}
	return text
}
