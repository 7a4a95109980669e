package bulletinwire

import (
	"slices"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/vehicle/vehiclewire"
)

// MatchProto writes whether a bulletin is for a vehicle.
func MatchProto(m *bulletin.Match) *bulletinv1.SetMatch {
	return &bulletinv1.SetMatch{
		Vehicle: "vehicles/" + string(m.Serial), State: bulletinv1.MatchState(m.State),
		Reasons: vehiclewire.Reasons(m.Reasons), Sentence: m.Sentence(),
	}
}

// ReportProto writes where a campaign stands.
func ReportProto(r *bulletin.Report) *bulletinv1.CampaignReport {
	p := &bulletinv1.CampaignReport{
		Name: bulletin.Name(r.Bulletin.ID) + "/campaignReport", OnDate: vehiclewire.DateProto(r.On),
		Vehicles: int32(r.Counts.Vehicles), Notified: int32(r.Counts.Notified), Classes: classesProto(&r.Counts),
		NotifyByDate: vehiclewire.DateProto(r.NotifyBy), Sentences: r.Sentences(),
	}
	if r.Quarter != (bulletin.Quarter{}) {
		p.InQuarter = classesProto(&r.InQuarter)
	}
	for state, n := range r.States {
		if n != 0 {
			p.Counts = append(p.Counts, &bulletinv1.FollowUpCount{State: bulletinv1.FollowUpState(state), Vehicles: int32(n)})
		}
	}
	slices.SortFunc(p.Counts, func(a, b *bulletinv1.FollowUpCount) int { return int(a.GetState()) - int(b.GetState()) })
	for _, c := range r.Curve {
		p.Completion = append(p.Completion, &bulletinv1.CompletionPoint{
			OnDate: vehiclewire.DateProto(c.On), Vehicles: int32(c.Vehicles), Completed: int32(c.Completed), Scrapped: int32(c.Scrapped), Days: int32(c.Days),
		})
	}
	for _, m := range r.Missing {
		f := FollowUpProto(m.FollowUp, &r.Bulletin, r.On)
		f.State, f.Sentence = bulletinv1.FollowUpState(m.Standing.State), m.Why.Sentence
		p.Missing = append(p.Missing, f)
	}
	return p
}

func classesProto(c *bulletin.Counts) *bulletinv1.CampaignClasses {
	return &bulletinv1.CampaignClasses{
		Vehicles: int32(c.Vehicles), Notified: int32(c.Notified), Remedied: int32(c.Remedied), NotNeeded: int32(c.NotNeeded),
		Unreachable: int32(c.Unreachable), Exported: int32(c.Exported), Scrapped: int32(c.Scrapped), Refused: int32(c.Refused),
		CalledOff: int32(c.CalledOff), Outstanding: int32(c.Outstanding), NoLongerMeets: int32(c.NoLongerMeets),
	}
}
