package bulletin

import (
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// VehicleOf makes a Vehicle of the records: as it is at the end of the day on.
// How it is used is for the caller to add. The error is of kind
// FailedPrecondition when the record's release is not in the set, or when there
// was no such vehicle yet on that day.
func VehicleOf(rec build.Record, changes []build.Change, releases build.ReleaseSet, on vehicle.Date) (Vehicle, error) {
	changes = slices.DeleteFunc(slices.Clone(changes), func(c build.Change) bool { return c.Date.After(on) })
	now, err := build.Configure(rec, changes, releases, on)
	if err != nil {
		return Vehicle{}, err
	}
	life, err := build.TimelineOf(rec, changes, releases)
	if err != nil {
		return Vehicle{}, err
	}
	v := Vehicle{
		Serial: rec.Serial, BuiltRelease: rec.Release, BuiltOptions: rec.Options, Options: now.Options,
		Built: rec.Built, Delivered: rec.Delivered, Market: rec.Market, Wheelbase: rec.Wheelbase, Makeup: makeupOf(&now),
	}
	if rec.Delivered.After(on) {
		v.Delivered = vehicle.Date{}
	}
	v.Releases = releasesOf(&now)
	byName := make(map[string]*build.Change, len(changes))
	for i := range changes {
		byName[changes[i].Name()] = &changes[i]
	}
	for i := range life.Stays {
		v.Stays = appendStays(v.Stays, &life.Stays[i], byName)
	}
	return v, nil
}

// releasesOf gives the releases that the positions follow: of a vehicle that
// was upgraded part of the way, both.
func releasesOf(now *build.Configuration) []string {
	var all []string
	for i := range now.Fitted {
		if r := now.Fitted[i].Release; r != "" {
			all = append(all, r)
		}
	}
	if len(all) == 0 && now.Release != "" {
		all = []string{now.Release}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

func makeupOf(now *build.Configuration) vehicle.Makeup {
	m := vehicle.Makeup{
		Release: now.Release, Options: now.Options, Wheelbase: now.Wheelbase, Market: now.Market,
		AxleRatio: now.Drive.AxleRatio.Float64(), SpeedometerDrive: now.Drive.Gears(), TyreSize: now.Tyre.Size,
		Fitted: make(map[string][]string, len(now.Fitted)),
	}
	for i := range now.Fitted {
		m.Fitted[now.Fitted[i].Component.Position] = now.Fitted[i].Component.Traits
	}
	return m
}

// appendStays gives the stay, cut where an overhaul gave the unit another
// number.
func appendStays(all []Stay, s *build.Stay, byName map[string]*build.Change) []Stay {
	one := stayOf(s.Component, s)
	if c := byName[s.Began]; c != nil {
		one.CameFrom = otherEnd(c)
	}
	for i := range s.Overhauls {
		o := &s.Overhauls[i]
		next := stayOf(o.Component, s)
		if next.Part == one.Part && next.Serial == one.Serial && next.Lot == one.Lot {
			continue
		}
		next.From, next.Began = o.Date, o.Change
		before := one
		before.Until, before.Ended, before.Continues = o.Date, o.Change, true
		all, one = append(all, before), next
	}
	one.Until, one.Ended = s.Until, s.Ended
	if c := byName[s.Ended]; c != nil {
		one.ByCampaign, one.WentTo = c.Source == build.SourceCampaign, leftFor(c)
	}
	return append(all, one)
}

func stayOf(c build.Component, s *build.Stay) Stay {
	return Stay{
		Position: c.Position, Part: c.Part, Serial: c.Serial, Lot: c.Lot,
		From: s.From, Began: s.Began, Origin: s.Origin,
	}
}

// leftFor is the vehicle that a unit taken off went to. A change that fitted
// something names in its counterpart where that came from, not where the
// former unit went.
func leftFor(c *build.Change) vehicle.Serial {
	if c.Kind != build.Remove {
		return ""
	}
	return otherEnd(c)
}

// otherEnd is the other vehicle of a move; empty for no move.
func otherEnd(c *build.Change) vehicle.Serial {
	steps := strings.Split(c.Counterpart, "/") // builds/AM0148N/changes/c9
	if len(steps) < 2 {
		return ""
	}
	return vehicle.Serial(steps[1])
}
