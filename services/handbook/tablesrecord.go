package handbook

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/parts"
)

// servicePlan is what the programme asks for, by part of the vehicle.
func (r *Record) servicePlan() (*Table, string) {
	if len(r.Plan) == 0 {
		return nil, "the service programme is not on record"
	}
	t := &Table{Columns: []Column{{Head: "Work", Weight: 3}, {Head: "First", Weight: 1.9}, {Head: "Then every", Weight: 2.3}, {Head: "Also after", Weight: 1.4}}, Dense: true}
	at := map[string]int{}
	for _, item := range r.Plan {
		if item.First == "" && item.Every == "" && len(item.OnEvents) == 0 {
			continue // done on finding only
		}
		title := item.Title
		if item.OwnerCheck {
			title += " *"
		}
		i, there := at[item.Group]
		if !there {
			i, at[item.Group] = len(t.Groups), len(t.Groups)
			t.Groups = append(t.Groups, Group{Title: capital(item.Group)})
		}
		t.Groups[i].Rows = append(t.Groups[i].Rows, rowOf(title, item.First, item.Every, strings.Join(item.OnEvents, ", ")))
	}
	t.Note = "Whichever limit comes first. Hard use shortens them. * An owner can do it."
	if r.PlanSample {
		t.Note += " " + sampleNote
	}
	return t, ""
}

// blankRows are left below what is on record.
const blankRows = 12

// servicePages are the services on record and room for those to come.
func (r *Record) servicePages() *Table {
	t := &Table{Columns: []Column{{Head: "Day", Weight: 1.5}, {Head: "Odometer", Weight: 1.2}, {Head: "What was done", Weight: 4}, {Head: "Stamp or name", Weight: 1.8}}, Dense: true}
	done := Group{Title: "On record with the works"}
	for _, s := range r.Services {
		what := doneText(s.Done)
		if s.Stated {
			what += " (as the owner said)"
		}
		row := rowOf(s.On.Long(), s.Reading, what, "on record")
		done.Rows = append(done.Rows, row)
	}
	if len(done.Rows) == 0 {
		done.Rows = []Row{rowOf("", "", "None so far.", "")}
	}
	room := Group{Title: "To be filled in"}
	for range blankRows {
		room.Rows = append(room.Rows, Row{Cells: []Cell{{Blank: true}, {Blank: true}, {Blank: true}, {Blank: true}}})
	}
	t.Groups = []Group{done, room}
	return t
}

// mostJobs is how many jobs of a service are named one by one. A yearly service
// has fifty, which the works has on record; here they are counted.
const mostJobs = 6

// doneText says what was done.
func doneText(jobs []Job) string {
	if len(jobs) <= mostJobs {
		var titles []string
		for _, j := range jobs {
			titles = append(titles, j.Title)
		}
		return strings.Join(titles, "; ")
	}
	groups := map[string]bool{}
	for _, j := range jobs {
		groups[j.Group] = true
	}
	return fmt.Sprintf("%d jobs in %d parts of the service plan", len(jobs), len(groups))
}

// measured is what was measured at the build, and last.
func (r *Record) measured() *Table {
	t := &Table{Columns: []Column{{Head: "What", Weight: 2.6}, {Head: "At the build", Weight: 1.3}, {Head: "Last", Weight: 2}, {Head: "Limits", Weight: 2}}, Dense: true}
	g := Group{}
	for _, m := range r.Measured {
		last := m.Last
		if last != "" && !m.LastOn.IsZero() {
			last += " on " + m.LastOn.Long()
		}
		what := strings.ReplaceAll(m.Characteristic, "-", " ")
		if m.Position != "" {
			what = place(m.Position) + ": " + what
		}
		g.Rows = append(g.Rows, rowOf(capital(what), m.Built, last, m.Window))
	}
	if len(g.Rows) == 0 {
		g.Rows = []Row{rowOf("Nothing was measured yet", "", "", "")}
	}
	t.Groups = []Group{g}
	return t
}

func (r *Record) warranty() *Table {
	t := &Table{Columns: []Column{{Head: "What", Weight: 1.4}, {Head: "How it stood on the day this was made", Weight: 3}}}
	g := Group{}
	sample := false
	for _, c := range r.Cover {
		what := "The vehicle"
		if c.What != "vehicle" {
			what = capital(parts.Spoken(c.What))
		}
		g.Rows, sample = append(g.Rows, rowOf(what, c.Sentence)), sample || c.Sample
	}
	if len(g.Rows) == 0 {
		g.Rows = []Row{rowOf("The vehicle", "No promise is on record for it.")}
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
