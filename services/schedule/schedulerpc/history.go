package schedulerpc

import (
	"cmp"
	"fmt"
	"slices"
	"sync/atomic"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle/vehiclewire"
)

// past is what happened to a vehicle, ready to be evaluated. Messages and what
// is made of them are in order of date, then of identifier.
type past struct {
	readings []*schedulev1.Reading      // the messages of marks, in the same order
	recorded []*schedulev1.ServiceEntry // all of them
	entries  []*schedulev1.ServiceEntry // those that stand
	marks    []schedule.Mark
	done     []schedule.Entry // of entries, in the same order, those struck out left out of both
	events   []schedule.Event
	uses     []schedule.UseFact
	markOf   map[string]int // by identifier of the reading

	judged atomic.Pointer[judgedReadings]
}

// judgedReadings are the readings with what each comes to, as the vehicle stood.
type judgedReadings struct {
	standing *standing
	all      []*schedulev1.Reading
}

// readingsBy gives the readings judged, which are not to be changed.
func (p *past) readingsBy(s *standing) []*schedulev1.Reading {
	if have := p.judged.Load(); have != nil && have.standing == s {
		return have.all
	}
	all := make([]*schedulev1.Reading, len(p.readings))
	for i, m := range p.readings {
		all[i] = proto.CloneOf(m)
	}
	judge(s, p.marks, all)
	p.judged.Store(&judgedReadings{s, all})
	return all
}

// pastOf reads a history.
func pastOf(h *schedulestore.History) (*past, error) {
	p := &past{}
	if err := p.read(h); err != nil {
		return nil, fmt.Errorf("read a history: %w", err)
	}
	return p, nil
}

func (p *past) read(h *schedulestore.History) error {
	if err := p.readMarks(h); err != nil {
		return err
	}
	p.markOf = make(map[string]int, len(p.readings))
	for i, m := range p.readings {
		p.markOf[lastSegment(m.GetName())] = i
	}
	entries, err := messages[schedulev1.ServiceEntry](h, schedulestore.Entries)
	if err != nil {
		return err
	}
	p.recorded = entries
	for _, m := range entries {
		if m.GetVoidReason() != "" {
			continue
		}
		e, err := schedulewire.Entry(m)
		if err != nil {
			return err
		}
		if m.GetReading() != nil {
			e.Mark = p.markWith(m.GetName())
		}
		p.entries, p.done = append(p.entries, m), append(p.done, e)
	}
	events, err := messages[schedulev1.Event](h, schedulestore.Events)
	if err != nil {
		return err
	}
	for _, m := range events {
		e, err := schedulewire.Event(m)
		if err != nil {
			return err
		}
		if m.GetReading() != nil {
			e.Mark = p.markWith(m.GetName())
		}
		p.events = append(p.events, e)
	}
	return p.readUses(h)
}

// readUses reads how the vehicle lives.
func (p *past) readUses(h *schedulestore.History) error {
	uses, err := messages[schedulev1.UseFact](h, schedulestore.Uses)
	if err != nil {
		return err
	}
	for _, m := range uses {
		f, err := schedulewire.UseFact(m)
		if err != nil {
			return err
		}
		p.uses = append(p.uses, f)
	}
	return nil
}

// readMarks reads the readings alone, which is all that a ledger needs.
func (p *past) readMarks(h *schedulestore.History) error {
	var err error
	if p.readings, err = messages[schedulev1.Reading](h, schedulestore.Readings); err != nil {
		return err
	}
	p.marks = make([]schedule.Mark, len(p.readings))
	with := map[string]bool{}
	for _, k := range []schedulestore.Kind{schedulestore.Entries, schedulestore.Events} {
		for stored := range h.All(k) {
			with[string(stored.ID)] = true
		}
	}
	for i, m := range p.readings {
		if p.marks[i], err = schedulewire.Reading(m); err != nil {
			return err
		}
		// A reading with the identifier of an entry or event is that one's.
		p.marks[i].Alone = !with[lastSegment(m.GetName())]
	}
	return nil
}

// markWith finds the mark that belongs to an entry or event, -1 for none.
func (p *past) markWith(name string) int {
	if i, ok := p.markOf[lastSegment(name)]; ok {
		return i
	}
	return -1
}

func lastSegment(name string) string {
	for i := len(name) - 1; i >= 0; i-- {
		if name[i] == '/' {
			return name[i+1:]
		}
	}
	return name
}

// messages decodes the records of a kind, in order of date, then of identifier.
func messages[T any, M interface {
	*T
	proto.Message
	GetName() string
}](h *schedulestore.History, k schedulestore.Kind) ([]M, error) {
	out := make([]M, 0, h.Count(k))
	for s := range h.All(k) {
		m := M(new(T))
		if err := h.Read(k, s, m); err != nil {
			return nil, err
		}
		setEtag(m, kv.Etag(s.Revision))
		out = append(out, m)
	}
	slices.SortStableFunc(out, func(a, b M) int { return cmp.Compare(dayIn(a), dayIn(b)) })
	return out, nil
}

// setEtag sets the version of a record that has one; events are written once.
func setEtag(m proto.Message, etag string) {
	switch m := m.(type) {
	case *schedulev1.Reading:
		m.Etag = etag
	case *schedulev1.ServiceEntry:
		m.Etag = etag
	case *schedulev1.UseFact:
		m.Etag = etag
	}
}

// dayIn is the day of a record as one number, for ordering.
func dayIn(m proto.Message) int32 {
	var d interface {
		GetYear() int32
		GetMonth() int32
		GetDay() int32
	}
	switch m := m.(type) {
	case *schedulev1.Reading:
		d = m.GetReadingDate()
	case *schedulev1.ServiceEntry:
		d = m.GetServiceDate()
	case *schedulev1.Event:
		d = m.GetEventDate()
	case *schedulev1.UseFact:
		d = m.GetStartDate()
	default:
		return 0
	}
	return d.GetYear()<<9 | d.GetMonth()<<5 | d.GetDay()
}

// vehicleOf puts together what the schedule of a vehicle rests on.
func vehicleOf(s *standing, p *past, fits []schedule.Fit, habits schedule.Habits) *schedule.Vehicle {
	return &schedule.Vehicle{
		Delivered: s.delivered, Fits: fits, Segments: s.segments,
		Marks: p.marks, Entries: p.done, Events: eventsOf(s.altered, p.events), Uses: p.uses, Habits: habits,
	}
}

// judge says of each reading what it comes to among all of its vehicle, as it is
// known today. The messages are those of the marks.
func judge(s *standing, marks []schedule.Mark, readings []*schedulev1.Reading) {
	ledger := schedule.NewLedger(s.segments, marks)
	for i, m := range readings {
		out := &ledger.Outcomes[i]
		m.State = schedulev1.ReadingState(out.State)
		if out.State == schedule.Counted {
			m.LifeDistance = vehiclewire.DistanceProto(out.Distance)
		}
		for _, e := range ledger.Explain(i) {
			m.Explanations = append(m.Explanations, schedulewire.ExplanationProto(e))
		}
	}
}
