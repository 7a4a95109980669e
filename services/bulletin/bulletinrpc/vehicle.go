package bulletinrpc

import (
	"cmp"
	"context"
	"slices"
	"strconv"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/access"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinjob"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
)

// ListVehicleBulletins implements the BulletinService.
func (s *Service) ListVehicleBulletins(ctx context.Context, r *bulletinv1.ListVehicleBulletinsRequest) (*bulletinv1.ListVehicleBulletinsResponse, error) {
	serial, _, err := resname.Serial("parent", vehiclePattern, r.GetParent())
	if err != nil {
		return nil, err
	}
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	all, err := s.ofVehicle(ctx, serial)
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(b *bulletinv1.VehicleBulletin) bool { return rank(b) <= after })
	out := &bulletinv1.ListVehicleBulletinsResponse{}
	out.VehicleBulletins, out.NextPageToken = page.Cut(r, all, size, rank)
	return out, nil
}

// ofVehicle gives the bulletins that hold for a vehicle, in their order.
func (s *Service) ofVehicle(ctx context.Context, serial vehicle.Serial) ([]*bulletinv1.VehicleBulletin, error) {
	var holding []*bulletinstore.Version
	use := false
	for _, id := range s.Store.IDs() {
		if v := s.Store.Holding(id); v != nil {
			holding = append(holding, v)
			use = use || bulletinjob.AsksUse(&v.Bulletin.Set)
		}
	}
	fleet, err := s.Job.FleetFor(ctx, serial, use)
	if err != nil {
		return nil, err
	}
	if !s.Job.Has(serial) {
		return nil, fault.New(fault.NotFound, "VEHICLE_NOT_FOUND", "There is no vehicle %s here.", serial)
	}
	var out []*bulletinv1.VehicleBulletin
	for _, v := range holding {
		one, err := s.concerns(ctx, v, fleet, serial)
		if err != nil {
			return nil, err
		}
		if one != nil {
			out = append(out, one)
		}
	}
	slices.SortFunc(out, func(a, b *bulletinv1.VehicleBulletin) int { return cmp.Compare(rank(a), rank(b)) })
	return out, nil
}

// concerns gives a version as it concerns a vehicle; nil where it does not: a
// campaign concerns all that are on its list, whatever is on record today.
func (s *Service) concerns(ctx context.Context, v *bulletinstore.Version, fleet *bulletin.Fleet, serial vehicle.Serial) (*bulletinv1.VehicleBulletin, error) {
	ready, err := s.Job.Prepared(v)
	if err != nil {
		return nil, err
	}
	m, _ := ready.Match(fleet, serial)
	k := s.Store.FollowUp(serial, v.Bulletin.ID)
	if !m.State.OnList() && k == nil {
		return nil, nil
	}
	caller := access.CallerFrom(ctx)
	p := s.held(v)
	p.Set = nil
	one := &bulletinv1.VehicleBulletin{
		Name: "vehicles/" + string(serial) + "/" + bulletin.Name(v.Bulletin.ID), Bulletin: discreetBulletin(caller, p), Match: discreetMatch(caller, bulletinwire.MatchProto(&m)),
	}
	if k != nil {
		one.FollowUp = s.shown(ctx, k)
	}
	return one, nil
}

// rank orders what holds for a vehicle: what forbids its use first, then what is
// to be done, then by name.
func rank(b *bulletinv1.VehicleBulletin) string {
	open := b.GetFollowUp() != nil && !bulletin.FollowUpState(b.GetFollowUp().GetState()).Settled()
	place := 2
	switch {
	case b.GetFollowUp().GetStopUse() || b.GetFollowUp() == nil && b.GetBulletin().GetStopUse():
		place = 0
	case open:
		place = 1
	}
	return strconv.Itoa(place) + b.GetName()
}
