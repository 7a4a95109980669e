package desk

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/internal/figure"
	"halfshaft/services/wording"
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
			{Text: civil(b.GetIssueDate()), Tight: true}, {Text: forbids(b.GetStopUse(), b.GetHoldDelivery())}})
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
	standing := block{Heading: "How far it has come", Text: append([]string{"Letters go out by themselves: each pass of the reminder service writes to the owners whose letter is due."}, ofAll(r)...), Facts: campaignFacts(r)}
	if len(curve.Points) > 0 {
		standing.Drawing = figure.Block("completion", figure.Reader{}, func(l figure.Layout) figure.Figure { return curve.Figure(figure.Reader{}, l) })
	}
	who, err := v.missing(id, quarter, r)
	if err != nil {
		v.refuse(err)
		return
	}
	v.fleetPage(http.StatusOK, b.GetTitle(), standing, who,
		block{Heading: "At the end of a quarter", Form: &form{ID: "quarter", Action: "/fleet/campaigns/" + url.PathEscape(id), Get: true, Submit: "Show", Fields: []field{
			{Name: "quarter", Label: "Quarter", Type: "text", Value: quarter, Autocomplete: "off", Hint: "As in 2026-Q1."}}}})
}

// ofAll are the sentences of a report that are about all vehicles: those about one
// stand in its row.
func ofAll(r *bulletinv1.CampaignReport) []string {
	return slices.DeleteFunc(slices.Clone(r.GetSentences()), func(text string) bool {
		return slices.ContainsFunc(r.GetMissing(), func(f *bulletinv1.FollowUp) bool {
			return strings.HasPrefix(text, serialIn(f.GetName())+": ")
		})
	})
}

func campaignFacts(r *bulletinv1.CampaignReport) []fact {
	facts := []fact{
		{Label: "As of", Value: civil(r.GetOnDate())}, {Label: "On the list", Value: wording.Count(int(r.GetVehicles()), "vehicle")},
		{Label: "Owners written to", Value: wording.Count(int(r.GetNotified()), "vehicle")},
	}
	for _, c := range r.GetCounts() {
		facts = append(facts, fact{Label: wording.UpperFirst(word(c.GetState(), "FOLLOW_UP_STATE_")), Value: wording.Count(int(c.GetVehicles()), "vehicle")})
	}
	if by := onDay(r.GetNotifyByDate()); !by.IsZero() {
		facts = append(facts, fact{Label: "Owners to be written to by", Value: by.Long()})
	}
	return facts
}

// openStates are those in which a vehicle of a campaign is still to be seen to.
var openStates = []bulletinv1.FollowUpState{
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN, bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOTIFIED, bulletinv1.FollowUpState_FOLLOW_UP_STATE_BOOKED,
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE_WRONG, bulletinv1.FollowUpState_FOLLOW_UP_STATE_REFUSED, bulletinv1.FollowUpState_FOLLOW_UP_STATE_OWNER_UNKNOWN,
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_EXPORTED,
}

// missing lists who is not done: today by pages, at the end of a quarter the first
// of those whom the report names.
func (v *visit) missing(id, quarter string, r *bulletinv1.CampaignReport) (block, error) {
	b := block{Heading: "Who is missing, and why"}
	if quarter != "" {
		all := r.GetMissing()
		b.Table = missingTable(id, all[:min(len(all), mostRows)])
		if len(all) > mostRows {
			b.Text = []string{"The first " + strconv.Itoa(mostRows) + " of " + strconv.Itoa(len(all)) + "; the command halfshaft campaign missing lists them all."}
		}
		return b, nil
	}
	list, err := v.d.Bulletins.ListFollowUps(v.as(), &bulletinv1.ListFollowUpsRequest{Parent: "vehicles/-", Bulletin: "bulletins/" + id, States: openStates, PageSize: 100, PageToken: v.r.URL.Query().Get("page")})
	b.Table = missingTable(id, list.GetFollowUps())
	b.Links = more("/fleet/campaigns/"+url.PathEscape(id)+"?page=", url.QueryEscape(list.GetNextPageToken()))
	return b, err
}

// missingTable lists vehicles that are not done.
func missingTable(id string, missing []*bulletinv1.FollowUp) *table {
	t := &table{Caption: "Vehicles that are missing", Heads: []string{"Vehicle", "Stands", "Letters", ""}, Empty: "Nobody is missing: every vehicle on the list is settled."}
	for _, f := range missing {
		serial := serialIn(f.GetName())
		letters := cell{Text: "none is due"}
		if n := len(f.GetLetterDates()); n > 0 {
			letters = cell{Text: "next " + onDay(f.GetLetterDates()[n-1]).Long()}
		}
		if told := onDay(f.GetNotifiedDate()); !told.IsZero() {
			letters.Sub = "first told " + told.Long()
		}
		t.Rows = append(t.Rows, []cell{{Text: serial, Path: vehiclePath(serial), Mono: true},
			{Text: wording.UpperFirst(word(f.GetState(), "FOLLOW_UP_STATE_")), Sub: f.GetSentence()}, letters,
			{Text: "Record a step for " + serial, Path: "/fleet/campaigns/" + url.PathEscape(id) + "/" + url.PathEscape(serial)}})
	}
	return t
}
