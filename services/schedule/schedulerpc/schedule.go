package schedulerpc

import (
	"context"
	"slices"
	"time"

	"google.golang.org/genproto/googleapis/type/date"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const vehiclePattern = "vehicles/{serial}"

// GetSchedule implements the ScheduleService.
func (s *Service) GetSchedule(ctx context.Context, r *schedulev1.GetScheduleRequest) (*schedulev1.Schedule, error) {
	serial, _, err := resname.Serial("name", vehiclePattern+"/schedule", r.GetName())
	if err != nil {
		return nil, err
	}
	on, err := s.day("on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	known, err := s.known(ctx, serial)
	if err != nil {
		return nil, err
	}
	return s.scheduleOf(serial, known, on, func(*schedule.Status, *schedule.Item) bool { return true })
}

// day reads a date of a request; none is today.
func (s *Service) day(field string, d *date.Date) (vehicle.Date, error) {
	on, err := vehiclewire.Date(d)
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return on, fault.InvalidField(field, f.Got, f.Want)
	}
	if on.IsZero() {
		return s.today(), nil
	}
	return on, nil
}

// known gives what the build service says of a vehicle, once it has been heard.
func (s *Service) known(ctx context.Context, serial vehicle.Serial) (*known, error) {
	if err := s.fleet.Synced(ctx); err != nil {
		return nil, &fault.Error{
			Kind: fault.Unavailable, Reason: "BUILDS_OUT_OF_REACH", RetryAfter: time.Second, Cause: err,
			Message: "the build records are not here yet",
		}
	}
	k := s.fleet.find(serial)
	if k == nil {
		return nil, access.NoVehicle(serial)
	}
	return k, nil
}

// evaluated is a vehicle's schedule with what answers need beside it.
type evaluated struct {
	*schedule.Schedule
	vehicle *schedule.Vehicle
	plan    *plan
	past    *past
}

// evaluate computes the schedule of a vehicle.
func (s *Service) evaluate(known *known, h *schedulestore.History, on vehicle.Date) (*evaluated, error) {
	standing, err := s.fleet.standing(known, on)
	if err != nil {
		return nil, err
	}
	plan, err := s.plans.inForce(s.store.Versions(standing.programme), standing.programme, on)
	if err != nil {
		return nil, err
	}
	past, err := pastOf(h)
	if err != nil {
		return nil, err
	}
	v := vehicleOf(standing, past, s.plans.fits(plan, standing))
	return &evaluated{schedule.Evaluate(plan.Plan, v, on), v, plan, past}, nil
}

// scheduleOf answers with the items that are taken.
func (s *Service) scheduleOf(
	serial vehicle.Serial, known *known, on vehicle.Date, taken func(*schedule.Status, *schedule.Item) bool,
) (*schedulev1.Schedule, error) {
	e, err := s.evaluate(known, s.store.History(serial), on)
	if err != nil {
		return nil, err
	}
	answer := &schedulev1.Schedule{
		Name: "vehicles/" + string(serial) + "/schedule", OnDate: vehiclewire.DateProto(on), Programme: e.plan.programme.Name(),
		Sample: e.plan.programme.Sample, Pace: schedulewire.PaceProto(e.Schedule), DoubtfulReadings: int32(e.Ledger.Doubtful),
	}
	if start, end, ok := e.LayUp(); ok {
		answer.LayUp = &schedulev1.LayUp{StartDate: vehiclewire.DateProto(start), EndDate: vehiclewire.DateProto(end)}
	}
	measured := schedulewire.MeasuredBy(e.past.entries, on)
	for _, st := range e.byUrgency() {
		item := e.plan.Item(int(st.Item))
		if !taken(st, item) {
			continue
		}
		p := schedulewire.StatusProto(e.Schedule, e.vehicle, st, e.plan.items[st.Item])
		p.LastMeasured = measured.Last(item)
		answer.Items = append(answer.Items, p)
	}
	return answer, nil
}

// byUrgency orders the items: the most urgent first, an owner's own checks
// after what a workshop does, and last what there is nothing to do about.
func (e *evaluated) byUrgency() []*schedule.Status {
	order := make([]*schedule.Status, len(e.Statuses))
	for i := range e.Statuses {
		order[i] = &e.Statuses[i]
	}
	last := func(st *schedule.Status) int {
		switch {
		case !st.Open():
			return 2
		case e.plan.Item(int(st.Item)).OwnerCheck:
			return 1
		}
		return 0
	}
	slices.SortStableFunc(order, func(a, b *schedule.Status) int {
		if x, y := last(a), last(b); x != y {
			return x - y
		}
		return a.Before(b)
	})
	return order
}
