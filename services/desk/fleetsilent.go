package desk

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// mostSilent is how many vehicles without evidence a page shows: of each its
// owner is asked for.
const mostSilent = 25

// silences are for how long nothing was heard, in months. The works hears of most
// vehicles once a year (common practice, no source).
var silences = []int{6, 12, 18, 24, 36}

const usualSilence = 12

// showSilent lists the vehicles of which nothing was heard for long: nobody read
// their odometer, and no work on them is on record.
func (v *visit) showSilent() {
	months, err := strconv.Atoi(v.r.URL.Query().Get("months"))
	if err != nil || !slices.Contains(silences, months) {
		months = usualSilence
	}
	since := v.today().AddMonths(-months)
	r, err := v.d.Schedules.ListDue(v.as(), &schedulev1.ListDueRequest{NoEvidenceSinceDate: vehiclewire.DateProto(since), PageSize: mostSilent, PageToken: v.r.URL.Query().Get("page")})
	if err != nil {
		v.refuse(err)
		return
	}
	t := &table{Caption: "Vehicles without recent evidence", Heads: []string{"Vehicle", "Last heard of", "Whose it is", ""},
		Empty: "Of every vehicle something was heard since " + since.Long() + ". Choose a shorter time to see more."}
	for _, s := range r.GetSchedules() {
		row, err := v.silentRow(s)
		if err != nil {
			v.refuse(err)
			return
		}
		t.Rows = append(t.Rows, row)
	}
	var choices []option
	for _, n := range silences {
		choices = append(choices, option{Value: strconv.Itoa(n), Label: wording.Count(n, "month"), Chosen: n == months})
	}
	v.fleetPage(http.StatusOK, "Vehicles without recent evidence",
		block{Text: []string{"No reading that counts and no work is on record since " + since.Long() + ". What is due of them is a guess, and grows worse with each month. Ask the owner, and record what they say."},
			Form: &form{ID: "months", Action: "/fleet/silent", Get: true, Submit: "Show", Fields: []field{{Name: "months", Label: "Not heard of for", Options: choices}}}},
		block{Table: t, Links: more("/fleet/silent?months="+strconv.Itoa(months)+"&page=", url.QueryEscape(r.GetNextPageToken()))})
}

func (v *visit) silentRow(s *schedulev1.Schedule) ([]cell, error) {
	serial := serialIn(s.GetName())
	heard := cell{Text: "never, since the delivery"}
	if on := onDay(s.GetEvidenceDate()); !on.IsZero() {
		heard.Text = on.Long()
	}
	if s.GetPace().GetReadingDate() != nil {
		heard.Sub = "at " + distance(s.GetPace().GetLifeDistance(), s.GetPace().GetUnit())
	}
	who, err := v.whose(serial)
	if err != nil {
		return nil, err
	}
	ask := cell{Text: "Record what the owner says", Path: vehiclePath(serial) + "/readings/new", Sub: "asked by the next pass, too"}
	if s.GetReadingRequest() == nil {
		ask.Sub = ""
	}
	return []cell{{Text: serial, Path: vehiclePath(serial), Mono: true}, heard, who, ask}, nil
}

// whose says whose a vehicle is, and how they are reached for those who may know.
func (v *visit) whose(serial string) (cell, error) {
	ties, err := v.ties(serial)
	if err != nil {
		return cell{}, err
	}
	tie := tieToAsk(ties)
	switch {
	case tie == nil && v.writesPeople():
		return cell{Text: "nobody on record", Path: vehiclePath(serial) + "/standing", Sub: "say what became of it"}, nil
	case tie == nil:
		return cell{Text: "nobody on record"}, nil
	}
	out := cell{Text: bare(tie.GetPerson()), Sub: tieWords(tie)}
	p, err := v.person(tie)
	if err != nil {
		return cell{}, err
	}
	out.Text = cmp.Or(p.GetFullName(), out.Text)
	var ways []string
	if p.GetPhone() != "" {
		ways = append(ways, dialled(p.GetPhone()).Label)
	}
	if p.GetEmail() != "" {
		ways = append(ways, p.GetEmail())
	}
	out.Sub = strings.Join(append(ways, out.Sub), ", ")
	return out, nil
}

// tieToAsk is who knows best what the odometer shows: who looks after the vehicle,
// else its owner, else whoever is tied to it.
func tieToAsk(ties []*ownerv1.Tie) *ownerv1.Tie {
	rank := []ownerv1.Role{ownerv1.Role_ROLE_CARETAKER, ownerv1.Role_ROLE_OWNER, ownerv1.Role_ROLE_EXECUTOR}
	var best *ownerv1.Tie
	at := len(rank)
	for _, t := range ties {
		if n := slices.Index(rank, t.GetRole()); n >= 0 && n < at {
			best, at = t, n
		}
	}
	return best
}
