package schedulerpc

import (
	"context"
	"strconv"

	"google.golang.org/protobuf/types/known/timestamppb"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// RecordEvent implements the ScheduleService.
func (s *Service) RecordEvent(ctx context.Context, r *schedulev1.RecordEventRequest) (*schedulev1.Event, error) {
	serial, _, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	answer, _, err := once(ctx, s, r.GetRequestId(), r, &schedulev1.Event{}, func() (*schedulev1.Event, []schedulestore.Record, error) {
		from, id := r.GetEvent(), kv.NewID()
		m := &schedulev1.Event{
			Name: schedulestore.Events.Name(serial, id), Kind: from.GetKind(), EventDate: s.orToday(from.GetEventDate()),
			Reading: from.GetReading(), Note: from.GetNote(),
			RecordedBy: access.CallerFrom(ctx).Bearer, CreateTime: timestamppb.New(s.now()), Organisation: dealerIn(ctx),
		}
		if caller := access.CallerFrom(ctx); caller.Role == access.Owner {
			m.StatedBy = caller.Person
		}
		c := &checker{}
		c.room("parent", s.store.History(serial).Count(schedulestore.Events))
		e, err := checkEvent(c, m)
		if err != nil {
			return nil, nil, fault.Under("event", err)
		}
		if e.Date.After(s.today().AddDays(1)) {
			return nil, nil, fault.InvalidField("event.event_date", e.Date.String(), "a day that has come; a lay-up ahead is declared as use")
		}
		records := []schedulestore.Record{{Key: schedulestore.Events.Key(serial, id), Message: m}}
		if reading := readingOfEvent(serial, id, m); reading != nil {
			records = append(records, schedulestore.Record{Key: schedulestore.Readings.Key(serial, id), Message: reading})
		}
		return m, records, nil
	})
	return answer, err
}

// checkEvent checks an event by itself.
func checkEvent(c *checker, m *schedulev1.Event) (schedule.Event, error) {
	e, err := schedulewire.Event(m)
	c.wrong = append(c.wrong, fault.FieldsOf("", err)...)
	if err == nil {
		c.date("event_date", e.Date)
	}
	c.must(e.Kind.Valid(), "kind", strconv.Itoa(int(m.GetKind())), "a kind of event")
	reading, _ := vehiclewire.Entered(m.GetReading())
	c.dial("reading", reading)
	c.note("note", m.GetNote())
	c.statedBy(m.GetStatedBy())
	c.organisation(m.GetOrganisation())
	m.Reading = vehiclewire.EnteredProto(reading)
	return e, c.err()
}

// readingOfEvent is the reading that comes with an event, nil for none.
func readingOfEvent(serial vehicle.Serial, id string, m *schedulev1.Event) *schedulev1.Reading {
	if m.GetReading() == nil {
		return nil
	}
	source := schedulev1.ReadingSource_READING_SOURCE_OWNER
	if m.GetOrganisation() != "" {
		source = schedulev1.ReadingSource_READING_SOURCE_DEALER
	}
	return &schedulev1.Reading{
		Name: schedulestore.Readings.Name(serial, id), ReadingDate: m.GetEventDate(), Value: m.GetReading(),
		Source: source, Note: "read at the event", StatedBy: m.GetStatedBy(), Organisation: m.GetOrganisation(),
		RecordedBy: m.GetRecordedBy(), CreateTime: m.GetCreateTime(),
	}
}

// ListEvents implements the ScheduleService.
func (s *Service) ListEvents(ctx context.Context, r *schedulev1.ListEventsRequest) (*schedulev1.ListEventsResponse, error) {
	serial, _, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	all, err := messages[schedulev1.Event](s.store.History(serial), schedulestore.Events)
	if err != nil {
		return nil, err
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), discreetEvents(access.CallerFrom(ctx), all))
	if err != nil {
		return nil, err
	}
	return vehiclewire.Alone(ctx, serial, &schedulev1.ListEventsResponse{Events: few, NextPageToken: next}), nil
}
