package desk

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// jobSheetRoutes are the pages of job sheets: made, looked at, printed, and taken
// in when they come back. Dealers have them for vehicles that are with them.
func jobSheetRoutes() []Route {
	return []Route{
		{"GET /vehicles/{serial}/sheets", Readers, (*visit).showSheets},
		{"POST /vehicles/{serial}/sheets", Readers, (*visit).makeSheet},
		{"GET /vehicles/{serial}/sheets/{sheet}", Readers, (*visit).showSheet},
		{"GET /vehicles/{serial}/sheets/{sheet}/paper/{paper}", Readers, (*visit).printSheet},
		{"POST /vehicles/{serial}/sheets/{sheet}/cancel", Readers, (*visit).cancelSheet},
		{"GET /vehicles/{serial}/sheets/{sheet}/return", Readers, (*visit).showReturn},
		{"POST /vehicles/{serial}/sheets/{sheet}/return", Readers, (*visit).takeReturn},
		{"POST /vehicles/{serial}/sheets/{sheet}/strike", Staff, (*visit).strikeSheet},
		{"GET /fleet/sheets", Staff, (*visit).showSheetsOut},
	}
}

// sheetName is the name of the sheet that the address says.
func (v *visit) sheetName() string { return v.vehicle() + "/jobSheets/" + v.r.PathValue("sheet") }

// atSheet is the path of a page of the sheet.
func (v *visit) atSheet(page string) string { return v.at("/sheets/" + v.r.PathValue("sheet") + page) }

func (v *visit) sheet() (*jobsheetv1.JobSheet, error) {
	return v.d.JobSheets.GetJobSheet(v.as(), &jobsheetv1.GetJobSheetRequest{Name: v.sheetName()})
}

// sheetsOut are the states of a sheet from which something is still to come.
var sheetsOut = []jobsheetv1.JobSheetState{jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN, jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN}

// showSheets lists the sheets of the vehicle, those that are out first, and makes
// another.
func (v *visit) showSheets() {
	plan, err := v.visitPlan()
	if err != nil {
		v.refuse(err)
		return
	}
	f, err := v.sheetForm(plan)
	if err != nil {
		v.refuse(err)
		return
	}
	v.sheetsPage(http.StatusOK, plan, f)
}

func (v *visit) visitPlan() (*schedulev1.VisitPlan, error) {
	return v.d.Schedules.GetVisitPlan(v.as(), &schedulev1.GetVisitPlanRequest{Name: v.vehicle() + "/visitPlan"})
}

// sheetsPage is that page, with the form that makes a sheet.
func (v *visit) sheetsPage(status int, plan *schedulev1.VisitPlan, f *sheetForm) {
	list, err := v.d.JobSheets.ListJobSheets(v.as(), &jobsheetv1.ListJobSheetsRequest{Parent: v.vehicle(), PageSize: 100})
	if err != nil {
		v.refuse(err)
		return
	}
	out, back := block{Heading: "Sheets that are out"}, block{Heading: "Earlier sheets"}
	for _, m := range list.GetJobSheets() {
		e := v.sheetEntry(m)
		if m.GetState() == jobsheetv1.JobSheetState_JOB_SHEET_STATE_OPEN {
			e.Action = []link{{Label: "Take sheet " + bare(m.GetName()) + " in", Path: v.at("/sheets/" + bare(m.GetName()) + "/return")}}
			out.List = append(out.List, e)
		} else {
			back.List = append(back.List, e)
		}
	}
	if len(out.List) == 0 {
		out.Text = []string{"No sheet is out."}
	}
	blocks := []block{out, v.visitsToChoose(plan), {Heading: "Make a sheet", Drawing: v.d.part("sheetmake", f)}}
	if len(back.List) > 0 {
		blocks = append(blocks, back)
	}
	v.ofVehicle(status, "job sheets", blocks...)
}

// sheetEntry is one sheet of a list.
func (v *visit) sheetEntry(m *jobsheetv1.JobSheet) entry {
	serial := strings.Split(m.GetName(), "/")[1]
	e := entry{
		Term: "Sheet " + bare(m.GetName()), Path: vehiclePath(serial) + "/sheets/" + bare(m.GetName()),
		Text: "visit of " + civil(m.GetVisitDate()) + ", " + word(m.GetState(), "JOB_SHEET_STATE_"),
		Sub:  "Made " + day(m.GetCreateTime()) + madeBy(m.GetMadeBy()) + ".",
	}
	if m.GetRefusal() != nil {
		e.Mark, e.Sub = "Refused", m.GetRefusal().GetSentence()
	}
	return e
}

// madeBy says who made something; nothing where that is not for the reader.
func madeBy(who string) string {
	if who == "" {
		return ""
	}
	return " by " + who
}

// visitsToChoose are the planned visits; one of them ticks its items below.
func (v *visit) visitsToChoose(plan *schedulev1.VisitPlan) block {
	b := block{Heading: "Planned visits", Text: []string{"Choose one, and its items are ticked below."}}
	for n, x := range plan.GetVisits() {
		if n == 4 {
			break
		}
		var items []string
		for _, t := range x.GetTasks() {
			items = append(items, t.GetItemId())
		}
		b.List = append(b.List, entry{
			Term: civil(x.GetVisitDate()), Path: v.at("/sheets?visit=" + iso(x.GetVisitDate())), Text: wording.Count(len(items), "item"), Sub: strings.Join(items, ", "),
		})
	}
	if len(b.List) == 0 {
		b.Text = []string{"No visit is planned. Tick what is to be done below."}
	}
	return b
}

// chosenVisit is the planned visit that the address names, else the next one; nil
// where there is none.
func (v *visit) chosenVisit(plan *schedulev1.VisitPlan) *schedulev1.Visit {
	for _, x := range plan.GetVisits() {
		if asked := v.r.URL.Query().Get("visit"); asked == "" || asked == iso(x.GetVisitDate()) {
			return x
		}
	}
	return nil
}

// sheetForm is the form that makes a sheet.
type sheetForm struct {
	Action, Request, Error string
	Sections               []backSection
}

// sheetForm asks for which day, and what is to be done: what is planned for the
// visit and the remedies of open campaigns are ticked.
func (v *visit) sheetForm(plan *schedulev1.VisitPlan) (*sheetForm, error) {
	x, err := v.schedule()
	if err != nil {
		return nil, err
	}
	remedies, err := v.openRemedies()
	if err != nil {
		return nil, err
	}
	visit, planned := v.chosenVisit(plan), map[string]bool{}
	for _, t := range visit.GetTasks() {
		planned[t.GetItemId()] = true
	}
	these, others := backSection{Title: "Planned for that visit", Fields: nil}, backSection{Title: "Anything else", Folded: true, Open: visit == nil}
	for _, i := range x.GetItems() {
		if i.GetItem().GetOwnerCheck() {
			continue
		}
		one := field{Name: "item", Type: "checkbox", Value: i.GetItemId(), Label: i.GetItemId() + " " + i.GetTitle() + mentioned(stateMark(i.GetState())), Checked: planned[i.GetItemId()]}
		if one.Checked {
			these.Fields = append(these.Fields, one)
		} else {
			others.Fields = append(others.Fields, one)
		}
	}
	f := &sheetForm{Action: v.at("/sheets"), Request: requestField().Value, Sections: []backSection{{Title: "When", Fields: []field{
		{Name: "visit_date", Label: "Day of the visit", Type: "date", Value: iso(visit.GetVisitDate())},
	}}}}
	for _, s := range []backSection{{Title: "Remedies of open campaigns", Fields: remedies}, these, others} {
		if len(s.Fields) > 0 {
			f.Sections = append(f.Sections, s)
		}
	}
	return f, nil
}

// openRemedies are the items of campaigns that are open on the vehicle, as the
// job sheet service takes them up by itself where nothing else is named.
func (v *visit) openRemedies() ([]field, error) {
	m, err := v.d.JobSheets.CreateJobSheet(v.as(), &jobsheetv1.CreateJobSheetRequest{Parent: v.vehicle(), ValidateOnly: true})
	switch f := refusal(err); {
	case err == nil:
	case f.Kind == fault.FailedPrecondition: // nothing is to be done
		return nil, nil
	default:
		return nil, err
	}
	var out []field
	for _, j := range m.GetJobs() {
		if j.GetFollowUp() != "" {
			out = append(out, field{Name: "item", Type: "checkbox", Value: j.GetItemId(), Label: j.GetItemId() + " " + j.GetTitle(), Checked: true})
		}
	}
	return out, nil
}

// makeSheet makes a sheet of what was ticked.
func (v *visit) makeSheet() {
	if !v.readForm() {
		return
	}
	items := v.r.PostForm["item"]
	t := &typed{visit: v}
	r := &jobsheetv1.CreateJobSheetRequest{Parent: v.vehicle(), VisitDate: t.date("visit_date"), ItemIds: items, RequestId: v.request()}
	if len(items) == 0 {
		t.wrong = append(t.wrong, fault.Field{Name: "item_ids", Want: "at least one thing that is to be done"})
	}
	made := &jobsheetv1.JobSheet{}
	err := t.err()
	if err == nil {
		made, err = v.d.JobSheets.CreateJobSheet(v.as(), r)
	}
	if err == nil {
		v.goTo(v.at("/sheets/" + bare(made.GetName()) + "?done=sheet"))
		return
	}
	refused := refusal(err)
	plan, failed := v.visitPlan()
	if failed != nil {
		v.refuse(err)
		return
	}
	f, failed := v.sheetForm(plan)
	if failed != nil {
		v.refuse(err)
		return
	}
	f.filled(v, refused)
	v.sheetsPage(answers[refused.Kind].status, plan, f)
}

// filled puts back what was entered and ticked, with what is wrong with it.
func (f *sheetForm) filled(v *visit, refused *fault.Error) {
	ticked := v.r.PostForm["item"]
	rest := *refused
	rest.Fields = nil
	for _, x := range refused.Fields {
		if x.Name != "visit_date" {
			rest.Fields = append(rest.Fields, x)
		}
	}
	if len(rest.Fields) > 0 || len(refused.Fields) == 0 {
		f.Error = sentence(&rest)
	}
	for i := range f.Sections {
		s := &f.Sections[i]
		for k := range s.Fields {
			x := &s.Fields[k]
			if x.Name == "visit_date" {
				x.Value = v.value(x.Name)
				if len(rest.Fields) < len(refused.Fields) {
					x.Error = "Please enter a day, as in 2026-05-18."
				}
				continue
			}
			x.Checked = slices.Contains(ticked, x.Value)
			s.Open = s.Open || s.Folded && x.Checked
		}
	}
}

// cancelSheet says that a sheet is not used, after asking.
func (v *visit) cancelSheet() {
	if !v.readForm() {
		return
	}
	if v.value("sure") == "" {
		f := &form{ID: "cancel", Action: v.atSheet("/cancel"), Submit: "Cancel the sheet", Grave: true, Fields: []field{
			{Name: "sure", Type: "hidden", Value: "yes"}, {Name: "etag", Type: "hidden", Value: v.value("etag")}, requestField(),
		}}
		v.render(http.StatusOK, view{Title: "Is sheet " + v.r.PathValue("sheet") + " not used?", Below: v.r.PathValue("serial"), Blocks: []block{{
			Text: []string{"Whatever comes back on it is then refused. What was done can still be recorded by itself."},
			Form: f, Links: []link{{Label: "Leave it as it is", Path: v.atSheet("")}},
		}}})
		return
	}
	if _, err := v.d.JobSheets.CancelJobSheet(v.as(), &jobsheetv1.CancelJobSheetRequest{Name: v.sheetName(), Etag: v.value("etag"), RequestId: v.request()}); err != nil {
		v.refuse(err)
		return
	}
	v.goTo(v.atSheet("?done=sheet-cancelled"))
}

// showSheetsOut lists the sheets of all vehicles that have not come back.
func (v *visit) showSheetsOut() {
	list, err := v.d.JobSheets.ListJobSheets(v.as(), &jobsheetv1.ListJobSheetsRequest{Parent: "vehicles/-", States: sheetsOut, PageSize: mostRows, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Job sheets out", Heads: []string{"Vehicle", "Visit", "Made", ""}, Empty: "No sheet is out: each has come back or was cancelled."}
	for _, m := range list.GetJobSheets() {
		serial := strings.Split(m.GetName(), "/")[1]
		at := vehiclePath(serial) + "/sheets/" + bare(m.GetName())
		visit := cell{Text: civil(m.GetVisitDate()), Sub: v.sinceVisit(onDay(m.GetVisitDate()))}
		state := cell{Text: "Take it in", Path: at + "/return"}
		if m.GetState() == jobsheetv1.JobSheetState_JOB_SHEET_STATE_TAKEN_IN {
			state = cell{Text: "being put on record", Path: at}
		}
		if m.GetRefusal() != nil {
			state.Sub = "Refused: " + m.GetRefusal().GetSentence()
		}
		t.Rows = append(t.Rows, []cell{
			{Text: serial, Path: at, Mono: true, Sub: "Sheet " + bare(m.GetName())}, visit,
			{Text: day(m.GetCreateTime()), Sub: strings.TrimSpace(madeBy(m.GetMadeBy()))}, state,
		})
	}
	b := block{Text: []string{"Until a sheet comes back, the schedule does not know what was done."}, Table: t}
	b.Links = more("/fleet/sheets?page=", url.QueryEscape(list.GetNextPageToken()))
	v.fleetPage(http.StatusOK, "Job sheets out", b)
}

// sinceVisit says how long ago a visit was, where it is past.
func (v *visit) sinceVisit(on vehicle.Date) string {
	switch n := on.DaysUntil(v.today()); {
	case on.IsZero() || n < 0:
		return ""
	case n == 0:
		return "today"
	default:
		return fmt.Sprintf("%s ago", wording.Count(n, "day"))
	}
}
