package schedulerpc

import (
	"context"
	"strings"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ListComponentDistances implements the ScheduleService.
func (s *Service) ListComponentDistances(ctx context.Context, r *schedulev1.ListComponentDistancesRequest) (*schedulev1.ListComponentDistancesResponse, error) {
	serial, _, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	on, err := s.dayFor(ctx, "on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	t := trail{service: s, on: on, lives: map[vehicle.Serial]*lived{}}
	here, err := t.life(serial)
	if err != nil {
		return nil, err
	}
	var all []*schedulev1.ComponentDistance
	for i := range here.timeline.Stays {
		stay := &here.timeline.Stays[i]
		if stay.From.After(on) || !stay.Until.IsZero() && !stay.Until.After(on) {
			continue
		}
		c, err := t.covered(serial, stay)
		if err != nil {
			return nil, err
		}
		all = append(all, schedulewire.ComponentDistanceProto(serial, c, here.schedule.Unit()))
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), all)
	if err != nil {
		return nil, err
	}
	return vehiclewire.Alone(ctx, serial, &schedulev1.ListComponentDistancesResponse{ComponentDistances: few, NextPageToken: next}), nil
}

// trail follows components over the vehicles they stood in.
type trail struct {
	service *Service
	on      vehicle.Date
	lives   map[vehicle.Serial]*lived
}

// lived is a vehicle with its changes and its distances, up to the day asked
// for.
type lived struct {
	changes   []build.Change
	timeline  build.Timeline
	schedule  *schedule.Schedule
	past      *past
	programme string // identifier
}

// life gives a vehicle, nil when there is none of the serial.
func (t *trail) life(serial vehicle.Serial) (*lived, error) {
	if l, ok := t.lives[serial]; ok {
		return l, nil
	}
	known := t.service.fleet.find(serial)
	if known == nil {
		return nil, nil
	}
	rec, changes, err := known.state.Read()
	if err != nil {
		return nil, err
	}
	timeline, err := build.TimelineOf(rec, changes, t.service.fleet.specified())
	if err != nil {
		return nil, err
	}
	standing, err := t.service.fleet.standing(known, t.on)
	if err != nil {
		return nil, err
	}
	past, err := pastOf(t.service.store.History(serial))
	if err != nil {
		return nil, err
	}
	l := &lived{changes, timeline, &schedule.Schedule{}, past, standing.programme}
	// Distances need no items: a vehicle whose programme is not here has them.
	l.schedule.Evaluate(&schedule.Plan{}, vehicleOf(standing, past, nil, schedule.Habits{}), t.on)
	t.lives[serial] = l
	return l, nil
}

// covered works out how far a component has gone that stands on a vehicle.
func (t *trail) covered(serial vehicle.Serial, stay *build.Stay) (*schedule.ComponentDistance, error) {
	here, err := t.life(serial)
	if err != nil {
		return nil, err
	}
	unit := stay.Component
	var overhaul *build.OverhaulOf // the last by the day
	for i := range stay.Overhauls {
		if o := &stay.Overhauls[i]; !o.Date.After(t.on) {
			unit, overhaul = o.Component, o
		}
	}
	c := &schedule.ComponentDistance{
		Position: unit.Position, Part: unit.Part, Serial: unit.Serial, Lot: unit.Lot,
		Fitted: stay.From, Days: stay.From.DaysUntil(t.on), Distance: max(0, here.schedule.Distance-here.begin(stay)),
	}
	if overhaul != nil {
		c.Overhauled = overhaul.Date
		c.SinceOverhaul = max(0, here.schedule.Distance-here.schedule.DistanceAt(overhaul.Date, overhaul.Reading))
	}
	c.CameFrom, c.Prior, c.PriorDays, err = t.before(here, stay, mostMoves)
	return c, err
}

// mostMoves is how many moves of one component are followed: a record that
// leads in a circle must not.
const mostMoves = 50

// begin and end are the true distance of the vehicle when a component came and
// when it went.
func (l *lived) begin(stay *build.Stay) vehicle.Distance {
	return l.schedule.DistanceAt(stay.From, stay.FromReading)
}

func (l *lived) end(stay *build.Stay) vehicle.Distance {
	return l.schedule.DistanceAt(stay.Until, stay.EndReading)
}

// before works out how far a component had gone when it came, and how many days
// it had stood in other vehicles. What somebody recorded at the move stands;
// where nobody did, its record still says what it had when it came to the
// vehicle before, and what it went there is added.
func (t *trail) before(here *lived, stay *build.Stay, moves int) (from string, way vehicle.Distance, days int, err error) {
	recorded, err := stay.Component.Prior.Distance()
	if err != nil {
		recorded = 0 // nothing entered: new
	}
	serial, there, source, err := t.source(here, stay)
	if err != nil || source == nil || moves == 0 {
		return "", recorded, 0, err
	}
	_, way, days, err = t.before(there, source, moves-1)
	if err != nil {
		return "", 0, 0, err
	}
	if stay.Component.Prior != source.Current().Prior {
		way = recorded
	} else {
		way += max(0, there.end(source)-there.begin(source))
	}
	return "vehicles/" + string(serial), way, days + source.From.DaysUntil(source.Until), nil
}

// source finds the vehicle and the stay that a component came from; none when
// it did not come from a vehicle that is on record.
func (t *trail) source(here *lived, stay *build.Stay) (vehicle.Serial, *lived, *build.Stay, error) {
	other := ""
	for i := range here.changes {
		if c := &here.changes[i]; c.Counterpart != "" && c.Name() == stay.Began {
			other = c.Counterpart // "builds/AM0147P/changes/0192f0"
		}
	}
	owner, _, ok := strings.Cut(strings.TrimPrefix(other, "builds/"), "/")
	if !ok {
		return "", nil, nil, nil
	}
	serial := vehicle.Serial(owner)
	there, err := t.life(serial)
	if err != nil || there == nil {
		return "", nil, nil, err
	}
	for i := range there.timeline.Stays {
		if s := &there.timeline.Stays[i]; s.Ended == other {
			return serial, there, s, nil
		}
	}
	return "", nil, nil, nil
}
