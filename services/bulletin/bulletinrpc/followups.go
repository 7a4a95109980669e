package bulletinrpc

import (
	"context"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const (
	vehiclePattern = "vehicles/{serial}"
	allVehicles    = "vehicles/-"
)

// orToday reads a day of a request; unset is today.
func (s *Service) orToday(field string, d *date.Date) (vehicle.Date, error) {
	on, err := vehiclewire.Date(d)
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return vehicle.Date{}, fault.InvalidField(field, f.Got, f.Want)
	}
	if on.IsZero() {
		return s.today(), nil
	}
	return on, nil
}

// shown writes a follow-up for the caller.
func (s *Service) shown(ctx context.Context, k *bulletinstore.Kept) *bulletinv1.FollowUp {
	v := s.Store.Leading(k.FollowUp.Bulletin) // there is one: its list has this
	p := bulletinwire.FollowUpProto(&k.FollowUp, &v.Bulletin, s.today())
	p.Etag = kv.Etag(k.Revision)
	return discreetFollowUp(access.CallerFrom(ctx), p)
}

// kept gives the follow-up of a name.
func (s *Service) kept(field, name string) (*bulletinstore.Kept, error) {
	serial, id, err := bulletinwire.FollowUpID(field, name)
	if err != nil {
		return nil, err
	}
	k := s.Store.FollowUp(serial, id)
	if k == nil {
		return nil, fault.New(fault.NotFound, "FOLLOW_UP_NOT_FOUND", "%s is on no list of a campaign %s here.", serial, id)
	}
	return k, nil
}

// GetFollowUp implements the BulletinService.
func (s *Service) GetFollowUp(ctx context.Context, r *bulletinv1.GetFollowUpRequest) (*bulletinv1.FollowUp, error) {
	k, err := s.kept("name", r.GetName())
	if err != nil {
		return nil, err
	}
	return s.shown(ctx, k), nil
}

// ListFollowUps implements the BulletinService.
func (s *Service) ListFollowUps(ctx context.Context, r *bulletinv1.ListFollowUpsRequest) (*bulletinv1.ListFollowUpsResponse, error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	only := ""
	if r.GetBulletin() != "" {
		if only, err = bulletinwire.BulletinID("bulletin", r.GetBulletin()); err != nil {
			return nil, err
		}
	}
	serials := s.Store.Serials()
	if r.GetParent() != allVehicles {
		serial, _, err := resname.Serial("parent", vehiclePattern, r.GetParent())
		if err != nil {
			return nil, err
		}
		serials = []vehicle.Serial{serial}
	}
	var found []*bulletinstore.Kept
	for _, serial := range serials {
		if len(found) > size || after != "" && string(serial) < after[:strings.IndexByte(after, '\x00')] {
			continue
		}
		for _, k := range s.Store.OfVehicle(serial) {
			state := bulletinv1.FollowUpState(k.FollowUp.Standing().State)
			if followKey(k) > after && (only == "" || k.FollowUp.Bulletin == only) && among(state, r.GetStates()) {
				found = append(found, k)
			}
		}
	}
	out := &bulletinv1.ListFollowUpsResponse{}
	some, token := page.Cut(r, found, size, followKey)
	for _, k := range some {
		out.FollowUps = append(out.FollowUps, s.shown(ctx, k))
	}
	out.NextPageToken = token
	return out, nil
}

// followKey orders follow-ups by vehicle, then by campaign.
func followKey(k *bulletinstore.Kept) string {
	return string(k.FollowUp.Serial) + "\x00" + k.FollowUp.Bulletin
}

// ofDealer are the steps that a dealer records.
var ofDealer = map[bulletin.StepKind]bool{
	bulletin.StepBooked: true, bulletin.StepDone: true, bulletin.StepNotNeeded: true, bulletin.StepPartNotThere: true,
}

// byService are the steps that the service alone makes.
var byService = map[bulletin.StepKind]bool{
	bulletin.StepEntered: true, bulletin.StepCalledOff: true, bulletin.StepNoLongerMeets: true, bulletin.StepMeetsAgain: true,
	bulletin.StepNewVersion: true,
}

// RecordFollowUpStep implements the BulletinService.
func (s *Service) RecordFollowUpStep(ctx context.Context, r *bulletinv1.RecordFollowUpStepRequest) (*bulletinv1.FollowUp, error) {
	if r.GetValidateOnly() {
		_, _, answer, err := s.withStep(ctx, r)
		if err != nil {
			return nil, err
		}
		return discreetFollowUp(access.CallerFrom(ctx), answer), nil
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &bulletinv1.FollowUp{}, func() (*bulletinv1.FollowUp, kv.Result, error) {
		k, f, p, err := s.withStep(ctx, r)
		if err != nil {
			return nil, kv.Result{}, err
		}
		result, err := s.Store.PutFollowUp(ctx, nil, bulletinstore.Request{ID: r.GetRequestId(), Payload: r, Answer: p}, f, k.Revision)
		return p, result, err
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = kv.Etag(result.Revision)
	return discreetFollowUp(access.CallerFrom(ctx), answer), nil
}

// withStep gives a follow-up as it is kept, and as it is with a step, also as it
// is told. It writes nothing.
func (s *Service) withStep(ctx context.Context, r *bulletinv1.RecordFollowUpStepRequest) (k *bulletinstore.Kept, f *bulletin.FollowUp, p *bulletinv1.FollowUp, err error) {
	if k, err = s.kept("name", r.GetName()); err != nil {
		return nil, nil, nil, err
	}
	if err = kv.Matches("etag", r.GetEtag(), k.Revision); err != nil {
		return nil, nil, nil, err
	}
	toCome := ""
	if r.GetValidateOnly() {
		toCome = "vehicles/" + string(k.FollowUp.Serial) + "/serviceEntries/-"
	}
	if f, err = s.recorded(ctx, k, r.GetStep(), toCome); err != nil {
		return nil, nil, nil, err
	}
	return k, f, bulletinwire.FollowUpProto(f, &s.Store.Leading(f.Bulletin).Bulletin, s.today()), nil
}

// recorded gives a follow-up with a step that the caller reports. Evidence that
// is still to be made, where there may be such, is taken as it is.
func (s *Service) recorded(ctx context.Context, k *bulletinstore.Kept, p *bulletinv1.FollowUpStep, toCome string) (*bulletin.FollowUp, error) {
	step, err := bulletinwire.Step(p)
	if err != nil {
		return nil, fault.Under("step", err)
	}
	caller := access.CallerFrom(ctx)
	switch {
	case step.Kind == bulletin.StepWritten && caller.Role != access.Service:
		return nil, fault.InvalidField("step.kind", p.GetKind().String(), "NOTIFIED for an owner who was told: that a letter went out is recorded by the reminder service alone, when it sent one")
	case step.Kind != bulletin.StepWritten && caller.Role == access.Service:
		return nil, fault.InvalidField("step.kind", p.GetKind().String(), "WRITTEN: a service records nothing else")
	case byService[step.Kind]:
		return nil, fault.InvalidField("step.kind", p.GetKind().String(), "a step that somebody reports: the service itself makes this one")
	case caller.Role == access.Dealer && !ofDealer[step.Kind]:
		return nil, fault.InvalidField("step.kind", p.GetKind().String(), "BOOKED, DONE, NOT_NEEDED or PART_NOT_THERE: the works records the rest")
	}
	if caller.Role == access.Dealer {
		step.Organisation, _ = access.OrganisationID(caller.Organisation)
	}
	if step.Date.IsZero() {
		step.Date = s.today()
	}
	if step.Kind == bulletin.StepWritten {
		step.Date = ours(step.Date, k.FollowUp.Entered, s.today())
	}
	step.RecordedBy, step.Recorded = caller.Bearer, s.now().In(s.Zone)
	if toCome == "" || step.Evidence != toCome {
		if err := s.shows(ctx, k.FollowUp.Serial, step.Evidence); err != nil {
			return nil, err
		}
	}
	v, err := s.campaign(k.FollowUp.Bulletin)
	if err != nil {
		return nil, err
	}
	ready, err := s.Job.Prepared(v)
	if err != nil {
		return nil, err
	}
	f, err := k.FollowUp.Record(ready, step, s.today())
	return &f, err
}

// ours gives the works' day for one of UTC, by which letters are dated. Around
// midnight that may be the day before a vehicle came on the list, or the day
// after today.
func ours(on, entered, today vehicle.Date) vehicle.Date {
	switch on {
	case entered.AddDays(-1):
		return entered
	case today.AddDays(1):
		return today
	}
	return on
}

// shows checks that evidence is a record of the vehicle that the caller may see;
// none is for the domain to refuse where there must be some.
func (s *Service) shows(ctx context.Context, serial vehicle.Serial, evidence string) error {
	if evidence == "" {
		return nil
	}
	there, err := false, error(nil)
	switch {
	case strings.HasPrefix(evidence, "builds/"+string(serial)+"/changes/"):
		if err := s.Job.Ready(ctx); err != nil {
			return err
		}
		there, err = s.Job.HasChange(serial, evidence)
	case strings.HasPrefix(evidence, "vehicles/"+string(serial)+"/serviceEntries/"):
		there, err = s.hasEntry(ctx, serial, evidence)
	}
	if err == nil && !there {
		return fault.InvalidField("step.evidence", evidence, "a service entry of "+string(serial)+" that was not struck out, or a change of its build record")
	}
	return err
}

func (s *Service) hasEntry(ctx context.Context, serial vehicle.Serial, name string) (bool, error) {
	there := false
	err := page.Each(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
		r, err := s.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: "vehicles/" + string(serial), PageSize: mostPage, PageToken: token})
		return r.GetServiceEntries(), r.GetNextPageToken(), err
	}, func(e *schedulev1.ServiceEntry) error {
		there = there || e.GetName() == name && e.GetVoidReason() == ""
		return nil
	})
	return there, err
}

// RefreshSets implements the BulletinService.
func (s *Service) RefreshSets(ctx context.Context, _ *bulletinv1.RefreshSetsRequest) (*bulletinv1.RefreshSetsResponse, error) {
	done, err := s.Job.Refresh(ctx, nil)
	if err != nil {
		return nil, err
	}
	out := &bulletinv1.RefreshSetsResponse{Steps: int32(done.Steps)}
	for _, k := range done.Entered {
		out.Entered = append(out.Entered, s.shown(ctx, k))
	}
	return out, nil
}
