package jobsheetprint

import (
	"fmt"
	"strings"

	"halfshaft/services/internal/typeset"
	"halfshaft/services/jobsheet"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// work is a table to each job: cautions and what it needs first, then what it is
// set to, then a line for each number that comes back. A job stays on one page
// where it fits, so that a caution is never turned away from its work.
func work(s *jobsheet.Sheet) []typeset.Block {
	out := []typeset.Block{typeset.Paragraph{Small: true, Runs: caption(s)}}
	for i := range s.Jobs {
		out = append(out, typeset.Together{Blocks: []typeset.Block{typeset.Table{
			Dense: true, Caption: jobTitle(&s.Jobs[i]), Groups: []typeset.Group{{Rows: jobRows(&s.Jobs[i])}},
			Columns: []typeset.Column{{Weight: 0.45}, {Weight: 3.2}, {Weight: 4.5}, {Weight: 1.5}},
		}}})
	}
	return out
}

// caption stands above the work, and says whose the values are.
func caption(s *jobsheet.Sheet) typeset.Runs {
	out := append(typeset.Bold("Work, in order. "), plain("Local law and licensed practice go first.")...)
	if s.Sample {
		out = append(out, plain(" Values are samples, to be signed by the works' engineer.")...)
	}
	return out
}

func jobTitle(j *jobsheet.Job) string {
	return strings.Join(append([]string{fmt.Sprintf("%d  %s", j.Number, j.Title), j.Item}, j.Docs...), " · ")
}

// rows collects the rows of a job. The box for "done" stands in the first.
type rows struct{ all []typeset.Row }

func (r *rows) add(line string, what typeset.Runs, against typeset.Runs, back typeset.Cell) {
	if len(r.all) == 0 {
		back = typeset.Cell{Tick: true, Runs: plain("done")}
	}
	r.all = append(r.all, typeset.Row{Cells: []typeset.Cell{text(line), {Runs: what}, {Runs: against}, back}})
}

func jobRows(j *jobsheet.Job) []typeset.Row {
	var r rows
	first := plain("Look, and say what was found.")
	if len(j.Cautions) > 0 {
		first = append(typeset.Bold("Caution: "), plain(strings.Join(j.Cautions, " "))...)
	} else if len(j.Settings)+len(j.Values)+len(j.Parts)+len(j.Fluids) > 0 {
		first = plain("")
	}
	r.add("", first, needs(j), typeset.Cell{})
	for i := range j.Settings {
		set := &j.Settings[i]
		if asked(j, set) {
			continue
		}
		r.add("", plain(settingTitle(set, j.Position)), settingWindow(set), typeset.Cell{})
	}
	for i := range j.Values {
		v := &j.Values[i]
		r.add(v.Line, plain(label(v)), note(v), typeset.Cell{Blank: true, Runs: plain(unit(v.Limit.Unit))})
	}
	for i := range j.Shims {
		s := &j.Shims[i]
		r.add(s.Line, plain("Shims that are in now, "+position(s.Position)), shims(s), typeset.Cell{Blank: true})
		r.add(s.Line, plain(position(s.Characteristic)+" with them"), choices(s), typeset.Cell{Blank: true, Runs: plain(afterUnit(j, s))})
	}
	return r.all
}

// asked reports whether a line that comes back says what a setting says.
func asked(j *jobsheet.Job, s *jobsheet.Setting) bool {
	for i := range j.Values {
		v := &j.Values[i]
		if v.Title == s.Title && (v.Position == "" || v.Position == s.Position) && bound(v.Limit.Lower) == s.Lower && bound(v.Limit.Upper) == s.Upper {
			return true
		}
	}
	return false
}

func bound(d *vehicle.Decimal) string {
	if d == nil {
		return ""
	}
	return d.String()
}

// needs is what a job takes: parts, and fluids with how they are filled and what
// never goes with them.
func needs(j *jobsheet.Job) typeset.Runs {
	var out typeset.Runs
	say := func(runs ...typeset.Run) {
		if len(out) > 0 {
			out = append(out, plain(" ")...)
		}
		out = append(out, runs...)
	}
	var perhaps []string
	for _, p := range j.Parts {
		one := fmt.Sprintf("%d × %s", p.Quantity, strings.TrimSpace(p.Number+" "+p.Title))
		if p.IfNeeded {
			perhaps = append(perhaps, one)
			continue
		}
		say(plain("Fit " + one + ".")...)
	}
	if len(perhaps) > 0 {
		say(plain("If needed: " + strings.Join(perhaps, "; ") + ".")...)
	}
	for i, n := 0, 0; i < len(j.Fluids); i += n {
		f := &j.Fluids[i]
		n = alike(j.Fluids[i:])
		fill := strings.TrimSpace(f.Quantity.String() + " " + f.Fluid)
		if n > 1 {
			fill = fmt.Sprintf("%d × %s", n, fill)
		}
		if f.Method != "" {
			fill += ", " + wording.LowerFirst(strings.TrimSuffix(f.Method, "."))
		}
		say(plain("Fill " + fill + ".")...)
		if f.NeverMix != "" {
			say(typeset.Bold("Never mix with " + position(f.NeverMix) + ".")...)
		}
	}
	return out
}

// same reports whether two fills are told apart by nothing but their place.
func same(a, b *jobsheet.Fluid) bool {
	return a.Fluid == b.Fluid && a.Quantity == b.Quantity && a.Method == b.Method && a.NeverMix == b.NeverMix
}

// alike counts the fills at the beginning of some that are the same. One that is
// the same further on is told there: each is filled once.
func alike(all []jobsheet.Fluid) int {
	n := 1
	for n < len(all) && same(&all[0], &all[n]) {
		n++
	}
	return n
}

func position(name string) string { return strings.ReplaceAll(name, "-", " ") }

// unit is our way of writing a unit: "N·m".
func unit(name string) string {
	out, _ := vehicle.UnitName(name)
	return out
}

// afterUnit is the unit in which the value that a pack sets comes back.
func afterUnit(j *jobsheet.Job, s *jobsheet.Shims) string {
	for i := range j.Values {
		if l := &j.Values[i].Limit; l.Characteristic == s.Characteristic {
			return unit(l.Unit)
		}
	}
	return ""
}

func label(v *jobsheet.Value) string {
	if v.Position == "" {
		return v.Title
	}
	return v.Title + ", " + position(v.Position)
}

// short is a day as it is written in small type: "9 Apr 2026".
func short(d vehicle.Date) string {
	return fmt.Sprintf("%d %s %d", d.Day, d.Month.String()[:3], d.Year)
}

// note is what a value is held against: the limits first and in bold.
func note(v *jobsheet.Value) typeset.Runs {
	limits := v.Window()
	if v.Limit.Action != nil {
		limits = strings.TrimPrefix(limits+"; act at "+v.Limit.Action.String()+" "+unit(v.Limit.Unit), "; ")
	}
	var rest, last []string
	if v.Limit.Method != "" {
		rest = append(rest, strings.TrimSuffix(v.Limit.Method, "."))
	}
	for _, l := range v.Last {
		last = append(last, l.Value.Value.String()+" on "+short(l.Date))
	}
	if len(last) > 0 {
		rest = append(rest, "last "+strings.Join(last, ", "))
	}
	if v.Trend != "" {
		rest = append(rest, wording.LowerFirst(strings.TrimSuffix(v.Trend, ".")))
	}
	return leading(limits, rest)
}

// leading sets what counts in bold before the rest.
func leading(first string, rest []string) typeset.Runs {
	var out typeset.Runs
	if first != "" {
		out = typeset.Bold(first)
		if len(rest) > 0 {
			out = append(out, plain("; ")...)
		}
	}
	return append(out, plain(strings.Join(rest, "; "))...)
}

// settingTitle says what is set, and where, where that is not the job's own place.
func settingTitle(s *jobsheet.Setting, at string) string {
	if s.Position == at || s.Position == "" {
		return "Set " + s.Title
	}
	return "Set " + position(s.Position) + ", " + s.Title
}

func settingWindow(s *jobsheet.Setting) typeset.Runs {
	window := s.Target
	switch {
	case s.Lower != "" && s.Upper != "":
		window = s.Lower + " to " + s.Upper
	case s.Upper != "":
		window = "at most " + s.Upper
	case s.Lower != "":
		window = "at least " + s.Lower
	}
	var rest []string
	if s.Method != "" {
		rest = append(rest, wording.LowerFirst(strings.TrimSuffix(s.Method, ".")))
	}
	return leading(strings.TrimSpace(window+" "+unit(s.Unit)), rest)
}

// shims is the pack that is in, what it is to bring about and what may replace it.
func shims(s *jobsheet.Shims) typeset.Runs {
	pack := "what is in is not on record"
	if s.Pack.Unit != "" {
		pack = s.Pack.String() + " is in"
	}
	var rest []string
	if s.PackText != "" {
		rest = append(rest, s.PackText)
	}
	if s.Window != "" {
		rest = append(rest, "aim for "+s.Window)
	}
	if s.Sizes != "" {
		rest = append(rest, "there are "+s.Sizes)
	}
	return leading(pack, rest)
}

// choices say which pack to fit for what may be measured.
func choices(s *jobsheet.Shims) typeset.Runs {
	var out []string
	for _, c := range s.Choices {
		measured := c.Measured.String()
		if c.Last {
			measured += " (as last)"
		}
		if c.PackText == "" {
			out = append(out, measured+": no pack, "+strings.TrimSuffix(c.Sentence, "."))
			continue
		}
		out = append(out, fmt.Sprintf("%s: fit %s, leaves %s", measured, bare(c.PackText), c.Result))
	}
	if len(out) == 0 {
		return nil
	}
	return append(typeset.Bold("If measured "), plain(strings.Join(out, "; "))...)
}

// bare leaves part numbers out, which stand on the shelf.
func bare(pack string) string {
	pack = strings.ReplaceAll(pack, " x ", " × ")
	for {
		from := strings.Index(pack, " (")
		to := strings.Index(pack, ")")
		if from < 0 || to < from {
			return pack
		}
		pack = pack[:from] + pack[to+1:]
	}
}

// comesBack is what the workshop fills in for the whole visit, and what could not
// be said on the sheet.
func comesBack(s *jobsheet.Sheet, lines int) []typeset.Block {
	odometer := "Odometer"
	if s.Distance.Expected != 0 {
		odometer += ", about " + s.Distance.Expected.Text(s.Distance.Unit) + " expected"
	}
	out := []typeset.Block{
		typeset.Table{
			Dense: true, Caption: "The whole visit", Columns: []typeset.Column{{Weight: 2.6}, {Weight: 1.6}, {Weight: 0.8}, {Weight: 1.6}, {Weight: 0.6}, {Weight: 2.2}},
			Groups: []typeset.Group{{Rows: []typeset.Row{{Cells: []typeset.Cell{text(odometer), {Blank: true, Runs: plain(string(s.Distance.Unit))}, text("Done on"), {Blank: true}, text("by"), {Blank: true}}}}}},
		},
		typeset.Fields{Fields: []typeset.Field{
			{Kind: typeset.Room, Lines: lines, Label: "Jobs not done and why; what was found, by number", Note: "components fitted or taken off, with part, serial and lot; more overleaf"},
		}},
	}
	for _, g := range s.Gaps {
		out = append(out, typeset.Paragraph{Runs: plain("Not on this sheet: " + g.Sentence), Small: true})
	}
	return out
}
