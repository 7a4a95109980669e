package desk

import (
	"net/http"
	"net/url"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/internal/figure"
)

func (v *visit) showCampaigns() {
	all, next, err := v.campaigns(v.r.URL.Query().Get("page"))
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Campaigns", Heads: []string{"Campaign", "Issued", "Forbids"}, Empty: "No campaign is issued."}
	for _, b := range all {
		t.Rows = append(t.Rows, []cell{{Text: b.GetTitle(), Path: "/fleet/campaigns/" + url.PathEscape(serialIn(b.GetName())), Sub: serialIn(b.GetName())},
			{Text: onDay(b.GetIssueDate()).Long()}, {Text: forbids(b.GetStopUse(), b.GetHoldDelivery())}})
	}
	v.fleetPage(http.StatusOK, "Campaigns", block{Table: t, Links: more("/fleet/campaigns?page=", url.QueryEscape(next))})
}

// forbids says what a bulletin does not allow before its remedy.
func forbids(stop, hold bool) string {
	switch {
	case stop && hold:
		return "driving and delivery"
	case stop:
		return "driving"
	case hold:
		return "delivery"
	}
	return "nothing"
}

// showCampaign draws how far a campaign has come, and lists who is missing.
func (v *visit) showCampaign() {
	id, quarter := v.r.PathValue("bulletin"), v.r.URL.Query().Get("quarter")
	b, err := v.d.Bulletins.GetBulletin(v.as(), &bulletinv1.GetBulletinRequest{Name: "bulletins/" + id + "/versions/-"})
	if err != nil {
		v.refuse(err)
		return
	}
	r, err := v.d.Bulletins.GetCampaignReport(v.as(), &bulletinv1.GetCampaignReportRequest{Name: "bulletins/" + id + "/campaignReport", Quarter: quarter})
	if err != nil {
		v.refuse(err)
		return
	}
	curve := figure.Completion{Name: b.GetTitle(), Total: int(r.GetVehicles()), Today: onDay(r.GetOnDate())}
	for _, p := range r.GetCompletion() {
		curve.Points = append(curve.Points, figure.CompletionPoint{On: onDay(p.GetOnDate()), Done: int(p.GetCompleted())})
	}
	standing := block{Heading: "How far it has come", Text: append([]string{"Letters go out by themselves: each pass of the reminder service writes to the owners whose letter is due."}, r.GetSentences()...), Facts: campaignFacts(r)}
	if len(curve.Points) > 0 {
		standing.Drawing = figure.Block("completion", figure.Reader{}, func(l figure.Layout) figure.Figure { return curve.Figure(figure.Reader{}, l) })
	}
	v.fleetPage(http.StatusOK, b.GetTitle(), standing,
		block{Heading: "Who is missing, and why", Table: missingTable(id, r.GetMissing())},
		block{Heading: "At the end of a quarter", Form: &form{ID: "quarter", Action: "/fleet/campaigns/" + url.PathEscape(id), Get: true, Submit: "Show", Fields: []field{
			{Name: "quarter", Label: "Quarter", Type: "text", Value: quarter, Autocomplete: "off", Hint: "As in 2026-Q1."}}}})
}

func campaignFacts(r *bulletinv1.CampaignReport) []fact {
	facts := []fact{
		{Label: "As of", Value: onDay(r.GetOnDate()).Long()}, {Label: "On the list", Value: plural(int(r.GetVehicles()), "vehicle")},
		{Label: "Owners written to", Value: plural(int(r.GetNotified()), "vehicle")},
	}
	for _, c := range r.GetCounts() {
		facts = append(facts, fact{Label: upperFirst(word(c.GetState(), "FOLLOW_UP_STATE_")), Value: plural(int(c.GetVehicles()), "vehicle")})
	}
	if by := onDay(r.GetNotifyByDate()); !by.IsZero() {
		facts = append(facts, fact{Label: "Owners to be written to by", Value: by.Long()})
	}
	return facts
}

// missingTable lists the vehicles that are not done; of very many the first.
func missingTable(id string, missing []*bulletinv1.FollowUp) *table {
	t := &table{Caption: "Vehicles that are missing", Heads: []string{"Vehicle", "Stands", "Letters", ""}, Empty: "Nobody is missing: every vehicle on the list is settled."}
	for _, f := range missing[:min(len(missing), mostRows)] {
		serial := serialIn(f.GetName())
		letters := cell{Text: "none is due"}
		if n := len(f.GetLetterDates()); n > 0 {
			letters = cell{Text: "next " + onDay(f.GetLetterDates()[n-1]).Long()}
		}
		if told := onDay(f.GetNotifiedDate()); !told.IsZero() {
			letters.Sub = "first told " + told.Long()
		}
		t.Rows = append(t.Rows, []cell{{Text: serial, Path: vehiclePath(serial), Mono: true},
			{Text: upperFirst(word(f.GetState(), "FOLLOW_UP_STATE_")), Sub: f.GetSentence()}, letters,
			{Text: "Record a step for " + serial, Path: "/fleet/campaigns/" + url.PathEscape(id) + "/" + url.PathEscape(serial)}})
	}
	return t
}

// personSteps are the steps that people record.
var personSteps = []struct {
	kind  bulletinv1.FollowUpStepKind
	label string
}{
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NOTIFIED, "The owner was told"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_BOOKED, "A day was agreed"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_DONE, "The remedy was carried out"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_NOT_NEEDED, "Looked at, and it needs none"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_PART_NOT_THERE, "The part is not on it"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_FOUND_WRONG, "The remedy was found wrong"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REINSPECTED, "Looked at again, and it is right"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REFUSED, "The owner does not want it"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_OWNER_UNKNOWN, "Nobody knows whose it is"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_EXPORTED, "It has left the country"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_SCRAPPED, "It is no more"},
	{bulletinv1.FollowUpStepKind_FOLLOW_UP_STEP_KIND_REOPENED, "It is back, or its owner known again"},
}

func (v *visit) followUpName() string {
	return "vehicles/" + v.r.PathValue("serial") + "/followUps/" + v.r.PathValue("bulletin")
}

func (v *visit) followUpForm(etag string) *form {
	var kinds []option
	for _, s := range personSteps {
		kinds = append(kinds, option{Value: s.kind.String(), Label: s.label})
	}
	return &form{ID: "step", Action: v.r.URL.Path, Submit: "Record the step", Fields: []field{
		{Name: "etag", Type: "hidden", Value: etag},
		{Name: "step.kind", Label: "What happened", Options: kinds},
		{Name: "step.step_date", Label: "On", Type: "date", Value: v.today().String(), Hint: "For a booking, the day agreed."},
		{Name: "step.evidence", Label: "The record that shows it", Type: "text", Autocomplete: "off", Hint: "As in vehicles/AM0147P/serviceEntries/0192f0. Needed where it was done, needs none, or the part is not there."},
		{Name: "step.text", Label: "In words, without names", Type: "text", Autocomplete: "off"},
		requestField(),
	}}
}

func (v *visit) showFollowUp() { v.followUpPage(http.StatusOK, nil) }

func (v *visit) followUpPage(status int, f *form) {
	x, err := v.d.Bulletins.GetFollowUp(v.as(), &bulletinv1.GetFollowUpRequest{Name: v.followUpName()})
	if err != nil {
		v.refuse(err)
		return
	}
	if f == nil {
		f = v.followUpForm(x.GetEtag())
	}
	t := &table{Caption: "Steps", Heads: []string{"Day", "What"}, Empty: "Nothing has happened yet."}
	for _, s := range x.GetSteps() {
		t.Rows = append(t.Rows, []cell{{Text: onDay(s.GetStepDate()).Long()}, {Text: upperFirst(word(s.GetKind(), "FOLLOW_UP_STEP_KIND_")), Sub: strings.TrimSpace(s.GetText() + " " + s.GetEvidence())}})
	}
	serial := v.r.PathValue("serial")
	v.fleetPage(status, serial+": "+x.GetTitle(),
		block{Text: []string{x.GetSentence()}, Form: f, Links: []link{{Label: "Back to the campaign", Path: "/fleet/campaigns/" + url.PathEscape(v.r.PathValue("bulletin"))}, {Label: "Open " + serial, Path: vehiclePath(serial)}}},
		block{Heading: "What happened so far", Table: t})
}

func (v *visit) recordFollowUp() {
	if !v.readForm() {
		return
	}
	entries := typed{visit: v}
	step := &bulletinv1.FollowUpStep{
		Kind:     bulletinv1.FollowUpStepKind(bulletinv1.FollowUpStepKind_value[v.value("step.kind")]),
		StepDate: entries.date("step.step_date"), Evidence: v.value("step.evidence"), Text: v.value("step.text"),
	}
	err := entries.err()
	if err == nil {
		_, err = v.d.Bulletins.RecordFollowUpStep(v.as(), &bulletinv1.RecordFollowUpStepRequest{Name: v.followUpName(), Step: step, Etag: v.value("etag"), RequestId: v.request()})
	}
	if err != nil {
		f := v.followUpForm("").filled(v)
		v.again(err, f, func(status int) { v.followUpPage(status, f) })
		return
	}
	v.goTo("/fleet/campaigns/" + url.PathEscape(v.r.PathValue("bulletin")) + "?done=step")
}
