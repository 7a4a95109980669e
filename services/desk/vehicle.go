package desk

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// vehicleRoutes are the pages of one vehicle, and the box that finds it.
func vehicleRoutes() []Route {
	return []Route{
		{"GET /find", Staff, (*visit).find},
		{"GET /vehicles/{serial}", Readers, (*visit).showVehicle},
		{"GET /vehicles/{serial}/parts", Readers, (*visit).showParts},
		{"GET /vehicles/{serial}/due", Readers, (*visit).showDueOf},
		{"GET /vehicles/{serial}/history", Readers, (*visit).showHistoryOf},
		{"GET /vehicles/{serial}/measured", Readers, (*visit).showMeasured},
		{"GET /vehicles/{serial}/speed", Readers, (*visit).showSpeed},
		{"GET /vehicles/{serial}/readings/new", Readers, (*visit).showNewReading},
		{"POST /vehicles/{serial}/readings/new", Readers, (*visit).recordReading},
		{"GET /vehicles/{serial}/readings/{reading}", Staff, (*visit).showSettle},
		{"POST /vehicles/{serial}/readings/{reading}", Staff, (*visit).settle},
		{"GET /vehicles/{serial}/service", Readers, (*visit).showService},
		{"POST /vehicles/{serial}/service", Readers, (*visit).recordService},
		{"GET /vehicles/{serial}/service/{entry}", Readers, (*visit).showEntry},
		{"POST /vehicles/{serial}/service/{entry}/strike", Staff, (*visit).strikeEntry},
		{"GET /vehicles/{serial}/enquiries/new", Staff, (*visit).showNewEnquiry},
		{"POST /vehicles/{serial}/enquiries/new", Staff, (*visit).openEnquiry},
		{"GET /vehicles/{serial}/enquiries/{enquiry}", Staff, (*visit).showEnquiry},
		{"POST /vehicles/{serial}/enquiries/{enquiry}", Staff, (*visit).answerEnquiry},
		{"GET /vehicles/{serial}/campaigns/{campaign}", Readers, (*visit).showStep},
		{"POST /vehicles/{serial}/campaigns/{campaign}", Readers, (*visit).recordStep},
		{"GET /vehicles/{serial}/standing", Support, (*visit).showStanding},
		{"POST /vehicles/{serial}/standing", Support, (*visit).setStanding},
	}
}

// vehicle is the name of the vehicle that the address says.
func (v *visit) vehicle() string { return "vehicles/" + v.r.PathValue("serial") }

// at is the path of a page of the vehicle.
func (v *visit) at(page string) string { return vehiclePath(v.r.PathValue("serial")) + page }

// tabs are the pages of the vehicle.
func (v *visit) tabs() []link {
	tabs := []link{
		{Label: "At a glance", Path: v.at("")}, {Label: "Due", Path: v.at("/due")}, {Label: "Parts", Path: v.at("/parts")},
		{Label: "History", Path: v.at("/history")}, {Label: "Measured", Path: v.at("/measured")}, {Label: "Speed", Path: v.at("/speed")},
		{Label: "Job sheets", Path: v.at("/sheets")},
	}
	for i := range tabs {
		tabs[i].Here = v.r.URL.Path == tabs[i].Path
	}
	return tabs
}

// ofVehicle prints a page of the vehicle.
func (v *visit) ofVehicle(status int, title string, blocks ...block) {
	v.render(status, v.vehicleView(title, blocks...))
}

func (v *visit) vehicleView(title string, blocks ...block) view {
	return view{Title: v.r.PathValue("serial") + ": " + title, Tabs: v.tabs(), Note: notes[v.r.URL.Query().Get("done")], Blocks: blocks}
}

// formPage is a page with one form about the vehicle.
func (v *visit) formPage(status int, title string, f *form, before ...block) {
	p := v.vehicleView(title, append(before, block{Form: f, Links: []link{{Label: "Back to the vehicle", Path: v.at("")}}})...)
	p.Title, p.Below = title, v.r.PathValue("serial")
	v.render(status, p)
}

// dossier is everything about the vehicle. A dealer, who may not have it whole,
// is given the parts that are for them.
func (v *visit) dossier() (*enquiryv1.Dossier, error) {
	if v.staff() {
		return v.d.Enquiries.GetDossier(v.as(), &enquiryv1.GetDossierRequest{Name: v.vehicle() + "/dossier"})
	}
	serial := v.r.PathValue("serial")
	c, err := v.d.Builds.GetConfiguration(v.as(), &buildv1.GetConfigurationRequest{Name: "builds/" + serial})
	if err != nil {
		return nil, err
	}
	d := &enquiryv1.Dossier{Identity: &enquiryv1.DossierIdentity{
		Serial: serial, Release: bare(c.GetRelease()), Options: c.GetOptions(), Tyre: c.GetTyre(), AxleRatio: c.GetAxleRatio(),
		Sentence: "Release " + bare(c.GetRelease()) + ".",
	}}
	if d.Schedule, err = v.d.Schedules.GetSchedule(v.as(), &schedulev1.GetScheduleRequest{Name: v.vehicle() + "/schedule"}); err != nil {
		return nil, err
	}
	bulletins, err := v.d.Bulletins.ListVehicleBulletins(v.as(), &bulletinv1.ListVehicleBulletinsRequest{Parent: v.vehicle()})
	if err != nil {
		return nil, err
	}
	near, err := v.d.Schedules.ListMeasuredSeries(v.as(), &schedulev1.ListMeasuredSeriesRequest{Parent: v.vehicle(), NearLimitOnly: true})
	if err != nil {
		return nil, err
	}
	visits, err := v.d.Schedules.ListServiceEntries(v.as(), &schedulev1.ListServiceEntriesRequest{Parent: v.vehicle(), LatestFirst: true, PageSize: 5})
	if err != nil {
		return nil, err
	}
	if d.Covers, err = v.covers(); err != nil {
		return nil, err
	}
	claims, err := v.d.Warranties.ListClaims(v.as(), &warrantyv1.ListClaimsRequest{Parent: v.vehicle(), States: openClaims, PageSize: 20})
	d.OpenClaims = claims.GetClaims()
	d.OnDate, d.Bulletins, d.NearLimits, d.Visits = d.Schedule.GetOnDate(), bulletins.GetVehicleBulletins(), near.GetMeasuredSeries(), visits.GetServiceEntries()
	return d, err
}

// showVehicle is the page for the telephone: what the vehicle is, then who, how
// far, when next and who pays, each with what can be done about it, and then the
// rest of what is known.
func (v *visit) showVehicle() {
	if _, err := vehicle.ParseSerial(v.r.PathValue("serial")); err != nil && v.staff() {
		v.notSerial()
		return
	}
	d, err := v.dossier()
	if err != nil {
		v.refuse(err)
		return
	}
	var plan *schedulev1.VisitPlan
	if !scrapped(d) { // the page stands without its visits
		plan, _ = v.d.Schedules.GetVisitPlan(v.as(), &schedulev1.GetVisitPlanRequest{Name: v.vehicle() + "/visitPlan"})
	}
	main := append([]block{v.askBlock("")}, v.questionBlocks(d)...)
	main = append(main, v.doubtBlocks(d)...)
	main = append(main, v.dueBlocks(d, plan)...)
	main = append(main, v.visitsBlock(d.GetVisits(), titles(d.GetSchedule())))
	aside := []block{v.campaignBlock(d.GetBulletins()), v.measuredBlock(d.GetNearLimits())}
	if v.staff() {
		aside = append(aside, v.coverBlock(d), v.enquiryBlock(d))
		aside = append(aside, noteBlocks(d)...)
		aside = append(aside, v.workshopBlock(d))
	} else {
		aside = append(aside, v.coverBlock(d))
	}
	aside = append(aside, v.handbookBlock(), v.identityBlock(d.GetIdentity()))
	if len(d.GetGaps()) > 0 {
		aside = append(aside, block{Heading: "Not on this page", Text: d.GetGaps()})
	}
	v.render(http.StatusOK, view{
		Title: d.GetIdentity().GetSerial(), Serial: true, Below: d.GetIdentity().GetSentence(), Warnings: d.GetWarnings(), Tabs: v.tabs(),
		Note: notes[v.r.URL.Query().Get("done")], Lead: v.lead(d, plan), Blocks: main, Aside: aside,
	})
}

// askBlock is where words for a part are answered for this vehicle.
func (v *visit) askBlock(said string) block {
	hint := "As in swivel seal left, gearbox oil, wheel nut torque, or a part number."
	if v.staff() { // who may read what was answered before
		hint = "As in swivel seal left, gearbox oil, wheel nut torque, a part number; or what is asked, as in drip at the swivel."
	}
	return block{Form: &form{ID: "ask", Get: true, Short: true, Action: v.at("/parts"), Submit: "Answer", Fields: []field{
		{Name: "q", Label: "Part, fluid or setting for this vehicle", Type: "search", Value: said, Autocomplete: "off", Hint: hint},
	}}}
}

// dueBlocks say what is due, by the visit it is planned for, and draw the next
// two years. On a vehicle that is no more, nothing is due.
func (v *visit) dueBlocks(d *enquiryv1.Dossier, plan *schedulev1.VisitPlan) []block {
	if scrapped(d) {
		return nil
	}
	x := d.GetSchedule()
	b := block{Heading: "Due", Links: []link{{Label: "All items and why", Path: v.at("/due")}, {Label: "Record other work", Path: v.at("/service")}}}
	if l := x.GetLayUp(); l != nil {
		b.Text = append(b.Text, "Laid up from "+civil(l.GetStartDate())+".")
	}
	late := map[string]string{}
	for _, i := range x.GetItems() {
		if m := stateMark(i.GetState()); m != "" && !i.GetItem().GetOwnerCheck() {
			late[i.GetItemId()] = m
		}
	}
	const shown = 3
	for _, visit := range plan.GetVisits()[:min(shown, len(plan.GetVisits()))] {
		b.List = append(b.List, v.visitEntry(visit, late))
	}
	if len(b.List) == 0 {
		for _, i := range x.GetItems() {
			if m := late[i.GetItemId()]; m != "" {
				b.List = append(b.List, entry{Mark: m, Soon: m != "overdue", Term: i.GetItemId(), Text: i.GetSentence()})
			}
		}
	}
	if len(b.List) == 0 {
		b.Text = append(b.Text, "Nothing is due in the next two years.")
	}
	b.Drawing = v.visitsFigure(d, plan)
	return []block{b}
}

// stateMark is what stands out of an item's state.
func stateMark(s schedulev1.DueState) string {
	switch s {
	case schedulev1.DueState_DUE_STATE_OVERDUE, schedulev1.DueState_DUE_STATE_DUE, schedulev1.DueState_DUE_STATE_COMING:
		return word(s, "DUE_STATE_")
	}
	return ""
}

// visitEntry is one visit of the plan with what is done then.
func (v *visit) visitEntry(x *schedulev1.Visit, late map[string]string) entry {
	e := entry{Term: civil(x.GetVisitDate())}
	query, overdue := url.Values{}, 0
	var titles []string
	for _, t := range x.GetTasks() {
		query.Add("item", t.GetItemId())
		titles = append(titles, t.GetItemId()+" "+t.GetTitle())
		mark := ""
		if late[t.GetItemId()] != "" && t.GetRound() <= 1 {
			mark = " (" + late[t.GetItemId()] + ")"
		}
		if mark == " (overdue)" {
			overdue++
		}
		e.More = append(e.More, t.GetItemId()+mark+": "+t.GetSentence())
	}
	e.Text = wording.Count(len(titles), "item")
	if overdue > 0 {
		e.Text += ","
		e.Mark = fmt.Sprintf("%d overdue", overdue)
	}
	e.MoreLabel = "Each of them, and why"
	const named = 4
	e.Sub = strings.Join(titles[:min(named, len(titles))], "; ")
	if n := len(titles) - named; n > 0 {
		e.Sub += fmt.Sprintf("; and %d more", n)
	}
	e.Action = []link{{Label: "Record this work", Path: v.at("/service?" + query.Encode())}, {Label: "Job sheet", Path: v.at("/sheets?visit=" + iso(x.GetVisitDate()))}}
	return e
}

// questionBlocks are what to ask whoever calls, with where the answer goes.
func (v *visit) questionBlocks(d *enquiryv1.Dossier) []block {
	if len(d.GetQuestions()) == 0 {
		return nil
	}
	ask := block{Heading: "Ask the caller"}
	for _, q := range d.GetQuestions() {
		e := entry{Term: q.GetText(), Sub: q.GetReason().GetSentence()}
		if a := v.answerTo(q.GetReason()); a != nil {
			e.Action = []link{*a}
		}
		ask.List = append(ask.List, e)
	}
	return []block{ask}
}

// answerTo is where the answer to a question is recorded, by why it is asked; nil
// where there is no one place.
func (v *visit) answerTo(why *vehiclev1.Reason) *link {
	switch why.GetRule() {
	case "READING_DOUBTFUL", "NO_READING", "NO_READING_FOR_LONG":
		return &link{Label: "Record what it shows", Path: v.at("/readings/new")}
	case "NO_WAY":
		if v.writesPeople() && why.GetRecord() != "" {
			return &link{Label: "Record how they are reached", Path: v.at("/people/" + url.PathEscape(bare(why.GetRecord())))}
		}
	case "USE_UNKNOWN":
		return &link{Label: "Record the use", Path: v.at("/use")}
	case "NO_OWNER":
		if v.writesPeople() {
			return &link{Label: "Record the owner", Path: v.at("/new-owner")}
		}
	}
	return nil
}
