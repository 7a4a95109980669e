package desk

import (
	"cmp"
	"fmt"
	"html/template"
	"maps"
	"slices"
	"strconv"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"

	"halfshaft/services/wording"
)

// backForm is the page on which a returned sheet is typed in: its lines as they
// stand on paper, in the same order. A field's name is what it is and its line:
// "value.3.1".
type backForm struct {
	Action, Etag, Request string
	Error                 string // what is about no field
	Sections              []backSection
	said                  map[string]string // what was typed
	wrong                 map[string]string // what is wrong with it, by the same names
	odd                   map[string]bool   // lines that may be confirmed
}

// backSection is one part of the sheet.
type backSection struct {
	Title, Sub string
	Cautions   []string
	Notes      []string
	Fields     []field
	Folded     bool // seldom needed
	Open       bool
	Row        bool // the fields stand beside each other
	Pieces     bool // of a row: how many of a part
}

// backError is a line of what is to be looked at, with the field it is about.
type backError struct{ Field, Text string }

func newBackForm(v *visit, m *jobsheetv1.JobSheet, said map[string]string) *backForm {
	return &backForm{Action: v.atSheet("/return"), Etag: m.GetEtag(), said: said, wrong: map[string]string{}, odd: map[string]bool{}}
}

// sentBackForm is the form that was sent. It goes on from the sheet that it was
// shown with: where somebody else brought the same sheet in meanwhile, that is
// said when it is put on record, and theirs is not written over unseen.
func sentBackForm(v *visit, m *jobsheetv1.JobSheet) *backForm {
	f := newBackForm(v, m, typedNow(v))
	f.Etag = cmp.Or(v.value("etag"), f.Etag)
	return f
}

// HTML sets the form.
func (f *backForm) HTML(d *desk, m *jobsheetv1.JobSheet) template.HTML {
	f.Request = requestField().Value
	f.Sections = f.parts(m) // on the shelf, as the paper begins
	for _, j := range m.GetJobs() {
		f.Sections = append(f.Sections, f.job(j))
	}
	f.Sections = append(f.Sections, f.visit(m))
	f.Sections = append(f.Sections, f.otherParts())
	f.Sections = append(f.Sections, f.components()...)
	f.Sections = append(f.Sections, f.rare())
	return d.part("sheetback", f)
}

// part sets a part of a page that has a template of its own.
func (d *desk) part(name string, data any) template.HTML {
	var b strings.Builder
	if err := d.page.ExecuteTemplate(&b, name, data); err != nil {
		d.Logger.Error("a part of a page could not be rendered", "part", name, "error", err)
	}
	return template.HTML(b.String()) //nolint:gosec // html/template made it
}

// Summary lists what is to be looked at in the order of the fields.
func (f *backForm) Summary() []backError {
	var out []backError
	for _, s := range f.Sections {
		for _, x := range s.Fields {
			if x.Error != "" {
				out = append(out, backError{x.Name, x.Error})
			}
		}
	}
	return out
}

// Heading says how many things are to be looked at.
func (f *backForm) Heading() string {
	return wording.UpperFirst(wording.Count(len(f.Summary()), "thing")) + " to look at. Nothing is on record yet, and nothing that you typed is lost."
}

// add puts a field in, with what was typed and what is wrong with it.
func (f *backForm) add(s *backSection, x field) {
	said := f.said[x.Name]
	switch {
	case x.Type == "checkbox":
		x.Checked = said != ""
	case x.Options != nil:
		for i := range x.Options {
			x.Options[i].Chosen = x.Options[i].Value == said
		}
	default:
		x.Value = said
	}
	if x.Type == "" && x.Options == nil && x.Lines == 0 {
		x.Type = "text"
	}
	if x.Type == "text" {
		x.Autocomplete = "off"
	}
	x.Error = f.wrong[x.Name]
	s.Open = s.Open || said != "" || x.Error != ""
	s.Fields = append(s.Fields, x)
}

// confirm asks why something odd is right, where it is odd or was confirmed. With
// it goes what stands in the field now: only that is confirmed.
func (f *backForm) confirm(s *backSection, line, label string) {
	if name := "confirm." + line; f.odd[line] || f.said[name] != "" || f.wrong[name] != "" {
		f.add(s, field{Name: name, Label: label, Hint: "Why it is believed, and what is done about it. It is kept beside the value."})
		s.Fields = append(s.Fields, field{Name: "seen." + line, Type: "hidden", Value: f.said[typedAt(line)]})
	}
}

// typedAt is the field of what is confirmed under a line: the odometer, the value
// with another pack, or a value.
func typedAt(line string) string {
	switch {
	case line == "reading":
		return line
	case strings.Contains(line, ".s"):
		return "after." + line
	}
	return "value." + line
}

// job asks what became of one job, line by line.
func (f *backForm) job(j *jobsheetv1.Job) backSection {
	n := plainCount(j.GetNumber())
	s := backSection{Title: n + "  " + j.GetTitle(), Sub: strings.Join(append([]string{j.GetItemId()}, j.GetDocRefs()...), " · "), Cautions: j.GetCautions()}
	f.add(&s, field{Name: "done." + n, Label: "Job " + n + " is done", Type: "checkbox"})
	for _, x := range j.GetValues() {
		hint := strings.TrimSpace(wording.Ended(wording.UpperFirst(lineLimit(x))) + " " + lastText(x))
		f.add(&s, field{Name: "value." + x.GetLine(), Label: x.GetLine() + " " + wording.UpperFirst(valueName(x)) + " (" + unitText(x.GetUnit()) + ")", Inputmode: "decimal", Hint: hint})
		f.confirm(&s, x.GetLine(), x.GetLine()+": outside limits, and right because")
	}
	for _, x := range j.GetShims() {
		f.shims(&s, x)
	}
	f.add(&s, field{Name: "note." + n, Label: "Job " + n + ": why not done, or what was found"})
	return s
}

// shims asks for a pack that was changed.
func (f *backForm) shims(s *backSection, x *jobsheetv1.JobShims) {
	s.Notes = append(append(s.Notes, packIn(x)+"."), choiceTexts(x)...)
	line := x.GetLine()
	if x.GetPack().GetUnit() == "" {
		f.add(s, field{Name: "pack." + line, Label: line + " Old pack, measured (mm)", Inputmode: "decimal", Hint: "Only where the shims were changed and the old ones measured."})
	}
	f.add(s, field{Name: "shims." + line, Label: line + " Shims that are in now", Hint: "Only where they were changed, as in 0.51 mm + 2 x 0.13 mm; a part number stands behind in brackets."})
	f.add(s, field{Name: "after." + line, Label: line + " " + wording.UpperFirst(place(x.GetCharacteristic())) + " with them", Inputmode: "decimal", Hint: "What was measured with the new shims. The line above is what was found."})
	f.confirm(s, line, line+": outside limits with the new shims, and right because")
}

// visit asks for what is of the whole visit.
func (f *backForm) visit(m *jobsheetv1.JobSheet) backSection {
	s := backSection{Title: "The whole visit"}
	f.add(&s, field{Name: "reading", Label: "What the odometer showed", Inputmode: "decimal", Hint: wording.UpperFirst(odometerText(m.GetDistance())) + "."})
	f.confirm(&s, "reading", "The odometer is as typed because")
	f.add(&s, field{Name: "service_date", Label: "Day on which the work was done", Type: "date"})
	f.add(&s, field{Name: "done_by", Label: "Who did the work"})
	f.add(&s, field{Name: "note", Label: "What else was seen", Lines: 3})
	return s
}

// parts asks how many of each part went in, of which lot.
func (f *backForm) parts(m *jobsheetv1.JobSheet) []backSection {
	var out []backSection
	for i, p := range m.GetParts() {
		n := strconv.Itoa(i + 1)
		s := backSection{Title: "p" + n + "  " + p.GetPart() + " " + p.GetTitle(), Row: true, Pieces: true}
		planned := "Planned: " + plainCount(p.GetQuantity()) + "."
		if p.GetIfNeeded() {
			planned = "If needed: " + plainCount(p.GetQuantity()) + "."
		}
		f.add(&s, field{Name: "part." + n, Label: "p" + n + " How many", Inputmode: "numeric", Hint: planned})
		f.add(&s, field{Name: "lot." + n, Label: "p" + n + " Lot"})
		out = append(out, s)
	}
	return out
}

// otherParts asks for parts that were not planned.
func (f *backForm) otherParts() backSection {
	s := backSection{Title: "Other parts that went in"}
	f.add(&s, field{Name: "parts", Label: "Other parts", Lines: 3, Hint: "One a line: AP-2041, or 2 AP-2041, or 2 AP-2041 lot 7731."})
	return s
}

// spareRows is how many empty rows for components there are at least.
const spareRows = 2

// componentChanges are what happens to a component in the work of a visit.
var componentChanges = []option{
	{Value: "", Label: "nothing"}, {Value: "FIT", Label: "another was fitted"}, {Value: "OVERHAUL", Label: "it was overhauled where it stands"}, {Value: "REMOVE", Label: "it was taken off"},
}

// rows is how many rows for components there are: those with something in them,
// and some to spare.
func rowsOf(said map[string]string) int {
	last := 0
	for name, text := range said {
		if rest, ok := strings.CutPrefix(name, "change."); ok && text != "" {
			digits, _, _ := strings.Cut(rest, ".")
			if n, err := strconv.Atoi(digits); err == nil {
				last = max(last, n)
			}
		}
	}
	return min(last+spareRows, mostComponents)
}

// mostComponents bounds the rows of one sheet.
const mostComponents = 40

// components asks for units that were changed, with their serials and lots.
func (f *backForm) components() []backSection {
	var out []backSection
	for n := 1; n <= rowsOf(f.said); n++ {
		at := fmt.Sprintf("change.%d.", n)
		label := fmt.Sprintf("c%d ", n)
		s := backSection{Title: "c" + strconv.Itoa(n) + "  Component", Row: true}
		f.add(&s, field{Name: at + "kind", Label: label + "Change", Options: slices.Clone(componentChanges)})
		f.add(&s, field{Name: at + "position", Label: label + "Position"})
		f.add(&s, field{Name: at + "part", Label: label + "Part number"})
		f.add(&s, field{Name: at + "serial", Label: label + "Serial"})
		f.add(&s, field{Name: at + "lot", Label: label + "Lot"})
		if n == 1 {
			s.Notes = []string{"Units that were fitted, overhauled or taken off. A position is as in transfer case; without a part number it is the part that belongs there."}
		}
		out = append(out, s)
	}
	return out
}

// rare asks for what is seldom changed in a visit.
func (f *backForm) rare() backSection {
	s := backSection{Title: "Tyres, speedometer gears or another odometer", Folded: true}
	f.add(&s, field{Name: "tyre.size", Label: "New tyres: size", Hint: "As moulded on the wall: 7.50-16."})
	f.add(&s, field{Name: "tyre.pattern", Label: "New tyres: pattern"})
	f.add(&s, field{Name: "gears", Label: "New speedometer gears", Hint: "Teeth of the driving and the driven gear, as in 5:15."})
	f.add(&s, field{Name: "dial.start", Label: "Another odometer: what it showed when it was fitted", Inputmode: "decimal", Hint: "What the old one showed stands above, as the odometer of the visit."})
	f.add(&s, field{Name: "dial.unit", Label: "Another odometer: it counts", Options: []option{{Value: "", Label: "as the old one"}, {Value: "mi", Label: "miles"}, {Value: "km", Label: "kilometres"}}})
	f.add(&s, field{Name: "dial.digits", Label: "Another odometer: digits without tenths", Inputmode: "numeric"})
	f.add(&s, field{Name: "dial.turns", Label: "Another odometer: turns of the cable for one unit", Inputmode: "numeric", Hint: "As printed on its face."})
	s.Open = s.Open && slices.ContainsFunc(s.Fields, func(x field) bool { return f.said[x.Name] != "" || x.Error != "" })
	return s
}

// Hidden are all that was typed, for a page that only shows it.
func (f *backForm) Hidden() []field {
	var out []field
	for _, name := range slices.Sorted(maps.Keys(f.said)) {
		out = append(out, field{Name: name, Value: f.said[name]})
	}
	return out
}

// kinds of changes by the words of the form.
func componentKind(word string) buildv1.ChangeKind {
	return buildv1.ChangeKind(buildv1.ChangeKind_value["CHANGE_KIND_"+word])
}
