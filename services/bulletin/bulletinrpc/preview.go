package bulletinrpc

import (
	"context"
	"strconv"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinjob"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
)

// usualMatches are shown where nobody says which.
var usualMatches = []bulletinv1.MatchState{
	bulletinv1.MatchState_MATCH_STATE_IN, bulletinv1.MatchState_MATCH_STATE_UNKNOWN, bulletinv1.MatchState_MATCH_STATE_NEAR,
}

// PreviewSet implements the BulletinService.
func (s *Service) PreviewSet(ctx context.Context, r *bulletinv1.PreviewSetRequest) (*bulletinv1.PreviewSetResponse, error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	ready, set, err := s.previewed(r)
	if err != nil {
		return nil, err
	}
	fleet, err := s.Job.Fleet(ctx, bulletinjob.AsksUse(set))
	if err != nil {
		return nil, err
	}
	p := ready.Preview(fleet)
	states := r.GetStates()
	if len(states) == 0 {
		states = usualMatches
	}
	var found []*bulletinv1.SetMatch
	for i := range p.Matches {
		if m := &p.Matches[i]; string(m.Serial) > after && among(bulletinv1.MatchState(m.State), states) && len(found) <= size {
			found = append(found, bulletinwire.MatchProto(m))
		}
	}
	out := &bulletinv1.PreviewSetResponse{
		InCount: int32(p.In), UnknownCount: int32(p.Unknown), NearCount: int32(p.Near), OutCount: int32(p.Out),
	}
	for i := range p.Loose {
		out.LooseUnits = append(out.LooseUnits, p.Loose[i].Sentence())
	}
	for _, m := range p.Missing {
		out.MissingSerials = append(out.MissingSerials, m.Sentence())
	}
	out.Matches, out.NextPageToken = page.Cut(r, found, size, func(m *bulletinv1.SetMatch) string { return m.GetVehicle()[len("vehicles/"):] })
	return out, nil
}

// previewed gives the set that is asked about: that of a version, or one that is
// on no record.
func (s *Service) previewed(r *bulletinv1.PreviewSetRequest) (*bulletin.Ready, *bulletin.Set, error) {
	if (r.GetName() == "") == (r.GetSet() == nil) {
		return nil, nil, fault.InvalidField("name", r.GetName(), "the name of a version, or a set; one of them")
	}
	if r.GetName() != "" {
		v, err := s.version("name", r.GetName())
		if err != nil {
			return nil, nil, err
		}
		ready, err := s.Job.Prepared(v)
		return ready, &v.Bulletin.Set, err
	}
	set, err := bulletinwire.Set(r.GetSet())
	if err != nil {
		return nil, nil, err
	}
	ready, err := bulletin.Prepare(bulletin.Bulletin{Set: set}, s.Job.Compiler())
	return ready, &set, err
}

// GetCampaignReport implements the BulletinService.
func (s *Service) GetCampaignReport(_ context.Context, r *bulletinv1.GetCampaignReportRequest) (*bulletinv1.CampaignReport, error) {
	id, err := bulletinwire.ReportID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	v, err := s.campaign(id)
	if err != nil {
		return nil, err
	}
	var all []bulletin.FollowUp
	for _, k := range s.Store.OfCampaign(id) {
		all = append(all, k.FollowUp)
	}
	if r.GetQuarter() != "" {
		if r.GetOnDate() != nil {
			return nil, fault.InvalidField("quarter", r.GetQuarter(), "a quarter or a day, not both")
		}
		q, err := bulletin.ParseQuarter(r.GetQuarter())
		if err != nil {
			return nil, fault.Under("quarter", err)
		}
		report := bulletin.QuarterReport(&v.Bulletin, all, q)
		return bulletinwire.ReportProto(&report), nil
	}
	on, err := s.orToday("on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	report := bulletin.ReportOn(&v.Bulletin, all, on)
	return bulletinwire.ReportProto(&report), nil
}

// campaign gives the version by which a campaign is read that was ever issued.
func (s *Service) campaign(id string) (*bulletinstore.Version, error) {
	v := s.Store.Leading(id)
	switch {
	case v == nil:
		return nil, noVersion(id, 0)
	case v.Bulletin.Kind != bulletin.Campaign:
		return nil, fault.New(fault.FailedPrecondition, "NOT_A_CAMPAIGN", "%s is advice: nobody is followed up.", id)
	case v.Bulletin.State == bulletin.Draft:
		return nil, fault.New(fault.FailedPrecondition, "NOT_ISSUED", "Version %s of %s is a draft: nobody is followed up yet.", strconv.Itoa(v.Bulletin.Version), id)
	}
	return v, nil
}
