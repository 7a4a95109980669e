package warrantyrpc

import (
	"context"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
)

// unit says what stands at a position, and since when.
func (s *Service) unit(ctx context.Context, g *gathered, stands *build.Fitted) (warranty.Unit, error) {
	u := warranty.Unit{Part: stands.Component.Part, Record: stands.Change}
	switch stands.Origin {
	case build.FromService:
		u.Source = warranty.SourceService
	case build.FromCampaign:
		u.Source = warranty.SourceCampaign
	case build.FromOwner:
		u.Source = warranty.SourceOwner
	case build.FromRelease, build.FromOption, build.FromBuild:
		if stands.Change == "" {
			u.Source = warranty.SourceBuild
			return u, nil
		}
		u.Source = warranty.SourceService // an option that was added since
	}
	u.Fitted = stands.Component.Fitted
	if i := slices.IndexFunc(g.changes, func(c build.Change) bool { return c.Name() == stands.Change }); i >= 0 {
		u.Fitted = g.changes[i].Date
		if from := g.changes[i].Counterpart; from != "" {
			if err := s.broughtAlong(ctx, g, stands.Component.Position, from, &u); err != nil {
				return u, err
			}
		}
	}
	u.FittedAt = g.reach(u.Fitted).True()
	return u, nil
}

// broughtAlong fills in what a unit brings along from where it stood before,
// which the change that took it off there leads to. What stood on vehicles at
// the works only was nobody's before: its life begins here.
func (s *Service) broughtAlong(ctx context.Context, g *gathered, position, takenOff string, u *warranty.Unit) error {
	before, all := s.stays(takenOff, 0)
	before = slices.DeleteFunc(before, func(b stayed) bool { return b.delivered.IsZero() || !b.delivered.Before(b.until) })
	if all && len(before) == 0 {
		return nil
	}
	u.Moved = true
	if all {
		u.FirstFitted = before[0].from
		if before[0].delivered.After(u.FirstFitted) {
			u.FirstFitted = before[0].delivered
		}
		ties := clipped(s.ties.of(g.serial), u.Fitted, vehicle.Date{})
		for _, b := range before {
			ties = append(ties, clipped(s.ties.of(b.serial), b.from, b.until)...)
		}
		u.OwnerChanges, u.OwnersUnknown = warranty.OwnerChanges(ties, u.FirstFitted, g.when.on)
	}
	var err error
	u.Prior, err = s.ranBefore(ctx, g, position)
	return err
}

// stayed is a time in which a unit stood on another vehicle: up to the day of
// until, on which it was taken off.
type stayed struct {
	serial      vehicle.Serial
	delivered   vehicle.Date // the vehicle; zero while it is at the works
	from, until vehicle.Date
}

// maxMoves is how many vehicles a unit is followed over.
const maxMoves = 50

// stays follows a moved unit back over the vehicles where it stood, by the change
// that took it off the last of them, and gives its times there, the oldest first;
// all is false when the trail is lost.
func (s *Service) stays(takenOff string, moves int) (times []stayed, all bool) {
	text, _, _ := strings.Cut(strings.TrimPrefix(takenOff, "builds/"), "/")
	state, releases := s.fleet.find(vehicle.Serial(text))
	if state == nil || moves > maxMoves {
		return nil, false
	}
	record, changes, err := state.Read()
	if err != nil {
		return nil, false
	}
	life, err := build.TimelineOf(record, changes, releases)
	if err != nil {
		return nil, false
	}
	i := slices.IndexFunc(life.Stays, func(stay build.Stay) bool { return stay.Ended == takenOff })
	if i < 0 {
		return nil, false
	}
	stay := &life.Stays[i]
	came := slices.IndexFunc(changes, func(c build.Change) bool { return c.Name() == stay.Began })
	if came >= 0 && changes[came].Counterpart != "" {
		if times, all = s.stays(changes[came].Counterpart, moves+1); !all {
			return nil, false
		}
	}
	return append(times, stayed{record.Serial, record.Delivered, stay.From, stay.Until}), true
}

// clipped gives ties as far as they lie in a time; a zero until is no end.
func clipped(ties []owner.Tie, from, until vehicle.Date) []owner.Tie {
	var all []owner.Tie
	for _, t := range ties {
		if t.Start.Before(from) {
			t.Start = from
		}
		if !until.IsZero() && !t.Over(until) {
			t.End = until
		}
		if t.End.IsZero() || t.Start.Before(t.End) {
			all = append(all, t)
		}
	}
	return all
}
