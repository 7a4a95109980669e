package handbook

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"halfshaft/services/parts"
	"halfshaft/services/wording"
)

// servicePlan is what the programme asks for after a distance or a time, by part
// of the vehicle.
func (r *Record) servicePlan() (*Table, string) {
	if len(r.Plan) == 0 {
		return nil, "the service programme is not on record"
	}
	t := &Table{Columns: []Column{{Head: "Work", Weight: 3.4}, {Head: "First", Weight: 1.6}, {Head: "Then every", Weight: 2}}, Dense: true}
	at := map[string]int{}
	for _, item := range r.Plan {
		if item.First == "" && item.Every == "" {
			continue // done after an event, or on finding only
		}
		i, there := at[item.Group]
		if !there {
			i, at[item.Group] = len(t.Groups), len(t.Groups)
			t.Groups = append(t.Groups, Group{Title: wording.UpperFirst(item.Group)})
		}
		t.Groups[i].Rows = append(t.Groups[i].Rows, rowOf(item.starred(), item.First, item.Every))
	}
	if len(t.Groups) == 0 {
		return nil, "the service programme has nothing that is done after a distance or a time"
	}
	t.Note = "Whichever limit comes first. " + r.planNote()
	return t, ""
}

// starred is the title, with a star where an owner can do it.
func (p PlanItem) starred() string {
	if p.OwnerCheck {
		return p.Title + " *"
	}
	return p.Title
}

func (r *Record) planNote() string {
	if r.PlanSample {
		return "* An owner can do it. " + sampleNote
	}
	return "* An owner can do it."
}

// serviceEvents is what is done when something happened, event by event in the
// order of the programme.
func (r *Record) serviceEvents() (*Table, string) {
	t := &Table{Columns: []Column{{Head: "What happened", Weight: 1.3}, {Head: "What is done then", Weight: 3.4}}, Dense: true}
	of := map[string][]string{}
	var events []string
	for _, item := range r.Plan {
		for _, e := range item.OnEvents {
			if of[e] == nil {
				events = append(events, e)
			}
			of[e] = append(of[e], item.starred())
		}
	}
	if len(events) == 0 {
		return nil, "the service programme has nothing that is done after an event"
	}
	g := Group{}
	for _, e := range events {
		g.Rows = append(g.Rows, rowOf(wording.UpperFirst(worded(eventWords, e)), strings.Join(of[e], "; ")))
	}
	t.Groups, t.Note = []Group{g}, r.planNote()
	return t, ""
}

// Room on the service pages: blank rows for what is to come, and how many of the
// services on record are listed one by one.
const (
	blankRows  = 18
	mostListed = 20
)

// servicePages are the services on record and room for those to come.
func (r *Record) servicePages() *Table {
	t := &Table{Columns: []Column{{Head: "Day", Weight: 1.5}, {Head: "Odometer", Weight: 1.3}, {Head: "What was done", Weight: 4}, {Head: "Stamp or name", Weight: 2.2}}, Dense: true}
	done := Group{Title: "On record with the works"}
	listed := r.Services
	if n := len(listed) - mostListed; n > 1 {
		earlier := fmt.Sprintf("%d services, %s to %s", n, shortDate(listed[0].On), shortDate(listed[n-1].On))
		done.Rows, listed = append(done.Rows, rowOf("Earlier", "", earlier, "")), listed[n:]
	}
	for _, s := range listed {
		what := doneText(s.Done)
		if s.Stated {
			what += " (as the owner said)"
		}
		done.Rows = append(done.Rows, rowOf(shortDate(s.On), s.Reading, what, ""))
	}
	if len(done.Rows) == 0 {
		done.Rows = []Row{rowOf("None so far", "", "", "")}
	}
	room := Group{Title: "To be filled in"}
	for range blankRows {
		room.Rows = append(room.Rows, Row{Cells: []Cell{{Blank: true}, {Blank: true}, {Blank: true}, {Blank: true}}})
	}
	t.Groups = []Group{done, room}
	return t
}

// mostJobs is how many jobs of a service are named one by one. A yearly service
// has fifty, which the works has on record; here one is named, the first of the
// programme whose title fits into a line, and the others are counted.
const (
	mostJobs  = 3
	fitsALine = 32 // letters
)

// doneText says what was done.
func doneText(jobs []Job) string {
	if len(jobs) > mostJobs {
		named := jobs[0]
		if i := slices.IndexFunc(jobs, func(j Job) bool { return utf8.RuneCountInString(j.Title) <= fitsALine }); i >= 0 {
			named = jobs[i]
		}
		return fmt.Sprintf("%s, and %d more jobs", named.Title, len(jobs)-1)
	}
	var titles []string
	for _, j := range jobs {
		titles = append(titles, j.Title)
	}
	return strings.Join(titles, "; ")
}

// measured is what was measured at the build, and last.
func (r *Record) measured() *Table {
	t := &Table{Columns: []Column{{Head: "What", Weight: 3}, {Head: "At the build", Weight: 1.2}, {Head: "Last", Weight: 1.1}, {Head: "On", Weight: 1.3}, {Head: "Limits", Weight: 1.7}}, Dense: true}
	g := Group{}
	outside := false
	for _, m := range r.Measured {
		what := strings.ReplaceAll(m.Characteristic, "-", " ")
		if m.Position != "" {
			what = place(m.Position) + ": " + what
		}
		row := rowOf(wording.UpperFirst(what), m.Built, m.Last, shortDate(m.LastOn), m.Window)
		if m.Outside {
			row.Cells[2].Words, outside = Words{{Kind: Strong, Text: m.Last + " *"}}, true
		}
		g.Rows = append(g.Rows, row)
	}
	if outside {
		t.Note = "* Outside its limits when it was last measured: ask the works before you rely on it."
	}
	if len(g.Rows) == 0 {
		g.Rows = []Row{rowOf("Nothing was measured yet", "", "", "", "")}
	}
	t.Groups = []Group{g}
	return t
}

// warranty is what was promised and until when. It says nothing of the day on
// which it is printed, so that two issues without news are the same.
func (r *Record) warranty() *Table {
	t := &Table{Columns: []Column{{Head: "What", Weight: 1.2}, {Head: "What is promised", Weight: 3}, {Head: "Until", Weight: 1.6}}, Dense: true}
	g := Group{}
	sample := false
	before := ""
	for _, c := range r.Cover {
		what := "The vehicle"
		if c.What != "vehicle" {
			what = wording.UpperFirst(parts.Spoken(c.What))
		}
		if what == before {
			what = ""
		} else {
			before = what
		}
		g.Rows, sample = append(g.Rows, rowOf(what, c.Promise, c.Until)), sample || c.Sample
	}
	if len(g.Rows) == 0 {
		g.Rows = []Row{rowOf("The vehicle", "No promise is on record for it.", "")}
	}
	if sample {
		t.Note = "The terms are samples that nobody has signed."
	}
	t.Groups = []Group{g}
	return t
}

// Sorted brings the record into the order that tables print it in: a record that
// comes in another order makes the same handbook.
func (r *Record) Sorted() {
	slices.SortStableFunc(r.Services, func(a, b Service) int { return a.On.Compare(b.On) })
	slices.SortStableFunc(r.Readings, func(a, b Reading) int { return a.On.Compare(b.On) })
	slices.SortStableFunc(r.Fitted, func(a, b FittedThing) int { return strings.Compare(a.Position, b.Position) })
	for i := range r.Fitted {
		r.Fitted[i].Traits = slices.Sorted(slices.Values(r.Fitted[i].Traits))
	}
}
