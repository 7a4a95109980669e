package ownerpages_test

import (
	"cmp"
	"context"
	"fmt"

	calendar "google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// item is one item of the desk's programme.
type item struct {
	id, title, since, due string
	months                int
	class                 schedulev1.ItemClass
	caution, mix          string
}

var programme = []item{
	{"E01", "Change engine oil and filter", "2025-06-10", "2026-06-10", 12, schedulev1.ItemClass_ITEM_CLASS_ROUTINE, "Hot oil burns. Let the engine cool for half an hour.", ""},
	{"B01", "Change brake fluid", "2024-06-20", "2026-06-20", 24, schedulev1.ItemClass_ITEM_CLASS_SAFETY, "Brake fluid eats paint and skin.", "silicone fluid"},
	{"T01", "Check the end float of the transfer-case output bearing", "2024-09-01", "2027-09-01", 36, schedulev1.ItemClass_ITEM_CLASS_ROUTINE, "", ""},
}

func date(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

// doneOn is the day an item was last stated done, by the entries that stand. What
// is of a later day than the one asked about is not there yet.
func (d *desk) doneOn(id string, today vehicle.Date) (vehicle.Date, bool) {
	for i := len(d.entries) - 1; i >= 0; i-- {
		on, _ := vehiclewire.Date(d.entries[i].GetServiceDate())
		for _, done := range d.entries[i].GetItems() {
			if done.GetItemId() == id && d.entries[i].GetVoidReason() == "" && !on.After(today) {
				return on, true
			}
		}
	}
	return vehicle.Date{}, false
}

// day is the day that a request is about; none is today in UTC, as the service
// has it.
func (d *desk) day(on *calendar.Date) vehicle.Date {
	if day, err := vehiclewire.Date(on); err == nil && !day.IsZero() {
		return day
	}
	return vehicle.DateOf(d.now)
}

func (d *desk) GetSchedule(ctx context.Context, r *schedulev1.GetScheduleRequest, _ ...grpc.CallOption) (*schedulev1.Schedule, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	today := d.day(r.GetOnDate())
	d.askedOn = today
	s := &schedulev1.Schedule{Sample: true, Programme: d.programme, DeliveryDate: vehiclewire.DateProto(d.delivered), Pace: &schedulev1.Pace{
		Unit: d.dialUnit, DialDigits: d.dialDigits, HighPerYear: vehiclewire.DistanceProto(2000 * vehicle.Kilometre),
		EstimatedDistance: vehiclewire.DistanceProto(12_300 * vehicle.Kilometre),
	}}
	for _, it := range programme {
		since, due := date(it.since), date(it.due)
		if on, ok := d.doneOn(it.id, today); ok {
			since, due = on, on.AddMonths(it.months)
		}
		if it.id == "E01" && len(d.readings) > 1 {
			due = due.AddDays(-10) // the readings brought it nearer
		}
		state := schedulev1.DueState_DUE_STATE_NOT_YET
		switch days := today.DaysUntil(due); {
		case days < 0:
			state = schedulev1.DueState_DUE_STATE_OVERDUE
		case days < 30:
			state = schedulev1.DueState_DUE_STATE_DUE
		case days < 60:
			state = schedulev1.DueState_DUE_STATE_COMING
		}
		s.Items = append(s.Items, &schedulev1.ItemStatus{
			ItemId: it.id, Title: it.title, State: state, DueDate: vehiclewire.DateProto(due), ActByDate: vehiclewire.DateProto(due),
			LastDoneDate: vehiclewire.DateProto(since), DistanceSince: vehiclewire.DistanceProto(300 * vehicle.Kilometre),
			DueDistance: vehiclewire.DistanceProto(d.dueAt[it.id]),
			Cycle:       it.id + "." + since.String(),
			Sentence:    fmt.Sprintf("%s is due on %s: %d months since it was last done.", it.title, due.Long(), it.months),
			Item:        &schedulev1.Item{ItemId: it.id, ItemClass: it.class, Caution: it.caution, Why: "It wears.", Fluid: &schedulev1.FluidNeed{NeverMix: it.mix}},
		})
	}
	if d.wanted != "" {
		s.ReadingRequest = &schedulev1.ReadingRequest{Cycle: d.wanted}
	}
	if d.layUpEnd != "" {
		s.LayUp = &schedulev1.LayUp{StartDate: vehiclewire.DateProto(today), EndDate: vehiclewire.DateProto(date(d.layUpEnd))}
	}
	return s, nil
}

func (d *desk) GetVisitPlan(ctx context.Context, r *schedulev1.GetVisitPlanRequest, _ ...grpc.CallOption) (*schedulev1.VisitPlan, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	if r.GetName() != theVehicle+"/visitPlan" || r.GetMonths() != 24 {
		return nil, status.Error(codes.InvalidArgument, "want two years")
	}
	d.plannedOn = d.day(r.GetOnDate())
	return &schedulev1.VisitPlan{Visits: []*schedulev1.Visit{
		{VisitDate: vehiclewire.DateProto(date("2026-06-10")), Tasks: []*schedulev1.VisitTask{{ItemId: "E01", Title: programme[0].title}, {ItemId: "B01", Title: programme[1].title}}},
		{VisitDate: vehiclewire.DateProto(date("2027-06-10")), Tasks: []*schedulev1.VisitTask{{ItemId: "E01", Title: programme[0].title}}},
	}}, nil
}

func (d *desk) ListReadings(ctx context.Context, _ *schedulev1.ListReadingsRequest, _ ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return &schedulev1.ListReadingsResponse{Readings: d.readings}, nil
}

// read adds a reading that counts.
func (d *desk) read(on, value, unit string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.readings = append(d.readings, &schedulev1.Reading{
		ReadingDate: vehiclewire.DateProto(date(on)), State: schedulev1.ReadingState_READING_STATE_COUNTED,
		Value: &vehiclev1.Distance{EnteredValue: value, EnteredUnit: unit},
	})
}

func (d *desk) RecordReading(ctx context.Context, r *schedulev1.RecordReadingRequest, _ ...grpc.CallOption) (*schedulev1.Reading, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	for _, had := range d.readings { // said before, it stays one
		if _, replayed := d.requests[r.GetRequestId()]; !replayed && had.GetStatedBy() == "people/"+d.owner &&
			proto.Equal(had.GetReadingDate(), r.GetReading().GetReadingDate()) && proto.Equal(had.GetValue(), r.GetReading().GetValue()) {
			had.Photograph = cmp.Or(r.GetReading().GetPhotograph(), had.GetPhotograph())
			return proto.CloneOf(had), nil
		}
	}
	return once(d, r, func() (*schedulev1.Reading, error) {
		kept := proto.CloneOf(r.GetReading())
		kept.State, kept.StatedBy = d.state, "people/"+d.owner
		d.readings = append(d.readings, kept)
		return kept, nil
	})
}

func (d *desk) RecordService(ctx context.Context, r *schedulev1.RecordServiceRequest, _ ...grpc.CallOption) (*schedulev1.ServiceEntry, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*schedulev1.ServiceEntry, error) {
		kept := proto.CloneOf(r.GetServiceEntry())
		kept.Name, kept.Etag, kept.OwnerStatement = fmt.Sprintf("%s/serviceEntries/%d", theVehicle, len(d.entries)), "e1", true
		d.entries = append(d.entries, kept)
		return kept, nil
	})
}

func (d *desk) ListServiceEntries(ctx context.Context, _ *schedulev1.ListServiceEntriesRequest, _ ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return &schedulev1.ListServiceEntriesResponse{ServiceEntries: d.entries}, d.mine(ctx)
}

func (d *desk) VoidServiceEntry(ctx context.Context, r *schedulev1.VoidServiceEntryRequest, _ ...grpc.CallOption) (*schedulev1.ServiceEntry, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.mine(ctx); err != nil {
		return nil, err
	}
	return once(d, r, func() (*schedulev1.ServiceEntry, error) {
		for _, e := range d.entries {
			if e.GetName() == r.GetName() && e.GetEtag() == r.GetEtag() {
				e.VoidReason = r.GetReason()
				return e, nil
			}
		}
		return nil, notFound()
	})
}
