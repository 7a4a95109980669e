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
	on, err := s.dayFor(ctx, "on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	known, err := s.known(ctx, serial)
	if err != nil {
		return nil, err
	}
	view, err := viewOf(r.GetView())
	if err != nil {
		return nil, err
	}
	caller := access.CallerFrom(ctx)
	work := view
	if caller.Role == access.Dealer && view != schedulev1.ScheduleView_SCHEDULE_VIEW_SUMMARY {
		work = schedulev1.ScheduleView_SCHEDULE_VIEW_FULL // what a dealer is not told is found by the reasons
	}
	answer, err := s.viewed(occasion{serial, known, s.store.History(serial), on, vehicle.Date{}, s.habitsOn(on)}, work)
	if err != nil {
		return nil, err
	}
	answer = vehiclewire.Alone(ctx, serial, discreetSchedule(caller, answer))
	if work != view {
		reduce(answer, view)
	}
	return answer, nil
}

// viewOf reads how much of a schedule a caller wants to be told.
func viewOf(view schedulev1.ScheduleView) (schedulev1.ScheduleView, error) {
	switch view {
	case schedulev1.ScheduleView_SCHEDULE_VIEW_UNSPECIFIED:
		return schedulev1.ScheduleView_SCHEDULE_VIEW_FULL, nil
	case schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC, schedulev1.ScheduleView_SCHEDULE_VIEW_FULL,
		schedulev1.ScheduleView_SCHEDULE_VIEW_SUMMARY, schedulev1.ScheduleView_SCHEDULE_VIEW_TO_DO:
		return view, nil
	}
	return view, fault.InvalidField("view", view.String(),
		"SCHEDULE_VIEW_BASIC, SCHEDULE_VIEW_FULL, SCHEDULE_VIEW_SUMMARY or SCHEDULE_VIEW_TO_DO")
}

// viewed gives a schedule as a view has it, kept or worked out. What it gives is
// not to be changed.
func (s *Service) viewed(key occasion, view schedulev1.ScheduleView) (*schedulev1.Schedule, error) {
	keep := &s.seen[view]
	if have, ok := keep.get(key, s); ok {
		return have, nil
	}
	versions := s.versionsFor(key)
	e, err := s.evaluate(key.known, key.history, key.on, key.habits, &schedule.Schedule{})
	if err != nil {
		return nil, err
	}
	answer := e.answer(key.serial, view != schedulev1.ScheduleView_SCHEDULE_VIEW_FULL, func(st *schedule.Status, item *schedule.Item) bool {
		switch view {
		case schedulev1.ScheduleView_SCHEDULE_VIEW_SUMMARY:
			return false
		case schedulev1.ScheduleView_SCHEDULE_VIEW_TO_DO:
			return toDo(schedulev1.DueState(st.State), item.OwnerCheck, !item.Every.IsZero())
		}
		return true
	})
	keep.put(key, e.plan, versions, answer)
	return answer, nil
}

// toDo says whether an item is something for a workshop to do, now or later:
// neither one with nothing to do, nor what an owner does without a workshop, of
// which nobody keeps a record, so that it would look overdue for ever.
func toDo(state schedulev1.DueState, ownerCheck, recurs bool) bool {
	return state != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO &&
		!(ownerCheck && (recurs || state == schedulev1.DueState_DUE_STATE_OVERDUE))
}

// reduce makes a full schedule into what a lesser view has.
func reduce(m *schedulev1.Schedule, view schedulev1.ScheduleView) {
	if view == schedulev1.ScheduleView_SCHEDULE_VIEW_TO_DO {
		m.Items = slices.DeleteFunc(m.GetItems(), func(i *schedulev1.ItemStatus) bool {
			return !toDo(i.GetState(), i.GetItem().GetOwnerCheck(), i.GetItem().GetEvery() != nil)
		})
	}
	for _, item := range m.GetItems() {
		item.Item, item.Reasons, item.LastMeasured = nil, nil, nil
	}
}

// isBasic reads how much a caller wants to be told.
func isBasic(view, unset schedulev1.ScheduleView) (bool, error) {
	if view == schedulev1.ScheduleView_SCHEDULE_VIEW_UNSPECIFIED {
		view = unset
	}
	switch view {
	case schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC, schedulev1.ScheduleView_SCHEDULE_VIEW_FULL:
		return view == schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC, nil
	}
	return false, fault.InvalidField("view", view.String(), "SCHEDULE_VIEW_BASIC or SCHEDULE_VIEW_FULL")
}

// stillInForce says whether what was worked out by a plan holds for a vehicle on
// a day. The release may have become known, or the programme may have a new
// version; and what rests on the histories of other vehicles is not kept.
func (s *Service) stillInForce(plan *plan, known *known, on vehicle.Date) bool {
	standing, err := s.fleet.standing(known, on)
	if err != nil || standing.moved {
		return false
	}
	now, err := s.plans.inForce(s.store.Versions(standing.programme), standing.programme, on)
	return err == nil && now == plan
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

// dayFor reads a date for which somebody asks. An owner or a dealer asks about
// the year before this one, this, and the next: of each year the habits of the
// whole fleet are worked out, those of three are kept, and whoever asked about
// one year after the other would keep all others waiting.
func (s *Service) dayFor(ctx context.Context, field string, d *date.Date) (vehicle.Date, error) {
	on, err := s.day(field, d)
	if err != nil || !access.CallerFrom(ctx).Role.Limited() {
		return on, err
	}
	first, last := vehicle.MustDate(s.today().Year-1, 1, 1), vehicle.MustDate(s.today().Year+1, 12, 31)
	if on.Before(first) || on.After(last) {
		return on, fault.InvalidField(field, on.String(), "a day from "+first.String()+" to "+last.String())
	}
	return on, nil
}

// orToday is the date of a record that somebody makes, today when it says none.
func (s *Service) orToday(d *date.Date) *date.Date {
	if d == nil {
		return vehiclewire.DateProto(s.today())
	}
	return d
}

// heard waits until the build service has told of all vehicles.
func (s *Service) heard(ctx context.Context) error {
	if err := s.fleet.Synced(ctx); err != nil {
		return &fault.Error{
			Kind: fault.Unavailable, Reason: "BUILDS_OUT_OF_REACH", RetryAfter: time.Second, Cause: err,
			Message: "the build records are not here yet",
		}
	}
	return nil
}

// known gives what the build service says of a vehicle.
func (s *Service) known(ctx context.Context, serial vehicle.Serial) (*known, error) {
	if err := s.heard(ctx); err != nil {
		return nil, err
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

// evaluate computes the schedule of a vehicle, in the memory of into.
func (s *Service) evaluate(
	known *known, h *schedulestore.History, on vehicle.Date, habits schedule.Habits, into *schedule.Schedule,
) (*evaluated, error) {
	standing, err := s.fleet.standing(known, on)
	if err != nil {
		return nil, err
	}
	plan, err := s.plans.inForce(s.store.Versions(standing.programme), standing.programme, on)
	if err != nil {
		return nil, err
	}
	past, err := s.pasts.of(h)
	if err != nil {
		return nil, err
	}
	fits, err := s.fits(plan, known, standing, on)
	if err != nil {
		return nil, err
	}
	v := vehicleOf(standing, past, fits, habits)
	into.Evaluate(plan.Plan, v, on)
	return &evaluated{into, v, plan, past}, nil
}

// answer tells of the items that are taken, and of each what its view has.
func (e *evaluated) answer(serial vehicle.Serial, basic bool, taken func(*schedule.Status, *schedule.Item) bool) *schedulev1.Schedule {
	on := e.On
	answer := &schedulev1.Schedule{
		Name: "vehicles/" + string(serial) + "/schedule", OnDate: vehiclewire.DateProto(on), Programme: e.plan.programme.Name(),
		Sample: e.plan.programme.Sample, Pace: schedulewire.PaceProto(e.Schedule), DoubtfulReadings: int32(e.Ledger.Doubtful),
		DeliveryDate: vehiclewire.DateProto(e.vehicle.Delivered), EvidenceDate: vehiclewire.DateProto(e.evidence()),
	}
	if start, end, ok := e.LayUp(); ok {
		answer.LayUp = &schedulev1.LayUp{StartDate: vehiclewire.DateProto(start), EndDate: vehiclewire.DateProto(end)}
	}
	if ask, ok := e.Ask(); ok {
		answer.ReadingRequest = &schedulev1.ReadingRequest{
			AskDate: vehiclewire.DateProto(on), Cycle: ask.Cycle, Reason: vehiclewire.ReasonProto(ask.Reason),
		}
	}
	var measured schedulewire.Measured
	if !basic {
		measured = schedulewire.MeasuredBy(e.past.entries, on)
	}
	for _, st := range e.byUrgency() {
		item := e.plan.Item(int(st.Item))
		if !taken(st, item) {
			continue
		}
		p := schedulewire.StatusProto(e.Schedule, e.vehicle, st, e.plan.items[st.Item])
		if basic {
			p.Item, p.Reasons = nil, nil
		} else {
			p.LastMeasured = measured.Last(item)
		}
		answer.Items = append(answer.Items, p)
	}
	return answer
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
