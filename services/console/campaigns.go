package console

import (
	"context"
	"strconv"
	"strings"

	"github.com/google/uuid"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// followUps gives the vehicles of campaigns, of one vehicle or of all.
func (c *Console) followUps(ctx context.Context, parent string, states ...bulletinv1.FollowUpState) ([]*bulletinv1.FollowUp, error) {
	return page.All(func(token string) ([]*bulletinv1.FollowUp, string, error) {
		r, err := c.Bulletins.ListFollowUps(ctx, &bulletinv1.ListFollowUpsRequest{Parent: parent, States: states, PageSize: 500, PageToken: token})
		return r.GetFollowUps(), r.GetNextPageToken(), err
	})
}

// Campaigns prints where a vehicle stands in campaigns, or with "-" where all
// vehicles do.
func (c *Console) Campaigns(ctx context.Context, serial string) error {
	parent := "vehicles/-"
	if serial != "-" {
		name, err := c.open(ctx, serial)
		if err != nil {
			return err
		}
		parent = "vehicles/" + serialOf(name)
	}
	all, err := c.followUps(ctx, parent)
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		if len(all) == 0 {
			s.line("On no list of a campaign.")
			return
		}
		followUpTable(s, all)
	})
}

// MissingFromCampaigns prints every vehicle of a campaign that is not settled.
func (c *Console) MissingFromCampaigns(ctx context.Context) error {
	all, err := c.followUps(ctx, "vehicles/-", unsettled...)
	if err != nil {
		return err
	}
	return printAll(c, all, func(s *sheet) {
		if len(all) == 0 {
			s.line("No vehicle is missing.")
			return
		}
		followUpTable(s, all)
	})
}

// unsettled are the states in which something is to be done, or nobody can.
var unsettled = []bulletinv1.FollowUpState{
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_OPEN, bulletinv1.FollowUpState_FOLLOW_UP_STATE_NOTIFIED,
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_BOOKED, bulletinv1.FollowUpState_FOLLOW_UP_STATE_DONE_WRONG,
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_REFUSED, bulletinv1.FollowUpState_FOLLOW_UP_STATE_OWNER_UNKNOWN,
	bulletinv1.FollowUpState_FOLLOW_UP_STATE_EXPORTED,
}

func followUpTable(s *sheet, all []*bulletinv1.FollowUp) {
	rows := [][]string{{"vehicle", "campaign", "state", "since", "on the list since", "title"}}
	for _, f := range all {
		title := f.GetTitle()
		if f.GetStopUse() {
			title = "STOP USE: " + title
		}
		rows = append(rows, []string{serialOf(f.GetName()), idOf(f.GetName()), word(f.GetState(), "FOLLOW_UP_STATE_"),
			day(f.GetSinceDate()), day(f.GetEnterDate()), title})
	}
	s.table("", rows)
}

// followUpSheet prints one vehicle of a campaign with all that happened.
func followUpSheet(s *sheet, f *bulletinv1.FollowUp) {
	s.line("%s, %s: %s", serialOf(f.GetName()), idOf(f.GetName()), f.GetTitle())
	s.text("", f.GetSentence())
	for _, step := range f.GetSteps() {
		text := word(step.GetKind(), "FOLLOW_UP_STEP_KIND_")
		for _, more := range []string{step.GetLetter(), step.GetText(), step.GetEvidence(), step.GetOrganisation()} {
			if more != "" {
				text += "; " + more
			}
		}
		s.text("  "+day(step.GetStepDate())+"  ", text)
	}
	if d := day(f.GetReinspectByDate()); d != "" {
		s.line("To be looked at again by %s.", d)
	}
	if len(f.GetLetterDates()) > 0 {
		var days []string
		for _, d := range f.GetLetterDates() {
			days = append(days, day(d))
		}
		s.text("Letters: ", strings.Join(days, ", "))
	}
}

// StepGiven is what is recorded of a vehicle of a campaign, as people type it.
type StepGiven struct {
	Kind     string       // "done", "booked", "wrong", "refused", "not-needed" and the others of the API
	On       vehicle.Date // zero is today
	Evidence string       // resource name, or the identifier of a service entry
	Parts    []string     // "AP-1110", "AP-1110:L7", "AP-1110:L7:4", "AP-1110:L7:4:rear-propshaft"
	Measured []string     // "torque=45 N.m", "C1:torque=45 N.m"
	Reading  string       // "21000 mi"
	Text     string
}

// RecordCampaignStep records what happened to a vehicle of a campaign.
func (c *Console) RecordCampaignStep(ctx context.Context, serial, campaign string, given StepGiven) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	step, err := given.proto(serialOf(name))
	if err != nil {
		return err
	}
	full := "vehicles/" + serialOf(name) + "/followUps/" + idOf(campaign)
	f, err := c.Bulletins.GetFollowUp(ctx, &bulletinv1.GetFollowUpRequest{Name: full})
	if err != nil {
		return err
	}
	f, err = c.Bulletins.RecordFollowUpStep(ctx, &bulletinv1.RecordFollowUpStepRequest{Name: full, Step: step, Etag: f.GetEtag(), RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(f, func(s *sheet) { followUpSheet(s, f) })
}

func (g *StepGiven) proto(serial string) (*bulletinv1.FollowUpStep, error) {
	kind := g.Kind
	if kind == "wrong" {
		kind = "found-wrong"
	}
	value, ok := enumOf(bulletinv1.FollowUpStepKind_value, "FOLLOW_UP_STEP_KIND_", kind)
	if !ok {
		return nil, fault.InvalidField("step", g.Kind, "wrong, or "+kinds(bulletinv1.FollowUpStepKind_name, "FOLLOW_UP_STEP_KIND_"))
	}
	step := &bulletinv1.FollowUpStep{Kind: bulletinv1.FollowUpStepKind(value), StepDate: vehiclewire.DateProto(g.On), Text: g.Text, Evidence: g.Evidence}
	if g.Evidence != "" && !strings.Contains(g.Evidence, "/") {
		step.Evidence = "vehicles/" + serial + "/serviceEntries/" + g.Evidence
	}
	for _, text := range g.Parts {
		part, err := partFitted(text)
		if err != nil {
			return nil, err
		}
		step.Parts = append(step.Parts, part)
	}
	for _, text := range g.Measured {
		name, amount, ok := strings.Cut(text, "=")
		number, unit, hasUnit := strings.Cut(amount, " ")
		if !ok || !hasUnit {
			return nil, fault.InvalidField("measured", text, "what and how much, with its unit: torque=45 N.m")
		}
		m := &bulletinv1.RemedyValue{Characteristic: name, Value: &vehiclev1.Quantity{Value: number, Unit: unit}}
		if item, of, ok := strings.Cut(name, ":"); ok {
			m.ItemId, m.Characteristic = item, of
		}
		step.Measured = append(step.Measured, m)
	}
	if g.Reading != "" {
		number, unit, ok := strings.Cut(g.Reading, " ")
		if !ok {
			return nil, fault.InvalidField("reading", g.Reading, "what the odometer showed, with its unit: 21000 mi")
		}
		step.Reading = &vehiclev1.Distance{EnteredValue: number, EnteredUnit: unit}
	}
	return step, nil
}

func partFitted(text string) (*bulletinv1.PartFitted, error) {
	fields := strings.SplitN(text, ":", 4)
	p := &bulletinv1.PartFitted{Part: fields[0], Quantity: 1}
	if len(fields) > 1 {
		p.Lot = fields[1]
	}
	if len(fields) > 2 {
		n, err := strconv.Atoi(fields[2])
		if err != nil || n < 1 {
			return nil, fault.InvalidField("part", text, "PART, PART:LOT, PART:LOT:HOW-MANY or PART:LOT:HOW-MANY:POSITION")
		}
		p.Quantity = int32(n)
	}
	if len(fields) > 3 {
		p.Position = fields[3]
	}
	return p, nil
}

// CampaignReport prints where a campaign stands on a day, or at the end of a
// quarter ("2026-Q1").
func (c *Console) CampaignReport(ctx context.Context, campaign, quarter string) error {
	r, err := c.Bulletins.GetCampaignReport(ctx, &bulletinv1.GetCampaignReportRequest{Name: "bulletins/" + idOf(campaign) + "/campaignReport", Quarter: quarter})
	if err != nil {
		return err
	}
	return c.print(r, func(s *sheet) { reportSheet(s, r) })
}

// reportSheet prints a report; its sentences name who is missing.
func reportSheet(s *sheet, r *bulletinv1.CampaignReport) {
	for _, text := range r.GetSentences() {
		s.text("", text)
	}
	if len(r.GetCompletion()) > 0 {
		s.heading("Completion")
		rows := [][]string{{"day", "on the list", "completed", "share"}}
		for _, p := range r.GetCompletion() {
			rows = append(rows, []string{day(p.GetOnDate()), strconv.Itoa(int(p.GetVehicles())), strconv.Itoa(int(p.GetCompleted())), shareText(p)})
		}
		s.table("  ", rows)
	}
}

// shareText is the share that is completed of those that can be.
func shareText(p *bulletinv1.CompletionPoint) string {
	of := p.GetVehicles() - p.GetScrapped()
	if of <= 0 {
		return ""
	}
	return strconv.Itoa(int(p.GetCompleted()*100/of)) + " %"
}

// RefreshCampaigns looks at all sets now, and prints which vehicles came on a
// list.
func (c *Console) RefreshCampaigns(ctx context.Context) error {
	r, err := c.Bulletins.RefreshSets(ctx, &bulletinv1.RefreshSetsRequest{})
	if err != nil {
		return err
	}
	return c.print(r, func(s *sheet) {
		s.line("Came on a list: %s. Steps made for others: %d.", plural(len(r.GetEntered()), "vehicle", "vehicles"), r.GetSteps())
		for _, f := range r.GetEntered() {
			why := ""
			if len(f.GetEnteredBecause()) > 0 {
				why = f.GetEnteredBecause()[0].GetSentence()
			}
			s.text("  "+serialOf(f.GetName())+"  "+idOf(f.GetName())+"  ", why)
		}
	})
}
