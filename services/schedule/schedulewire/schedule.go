package schedulewire

import (
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// StatusProto writes where one item stands, with its reasons and its sentence.
// item is the programme's own message, shared between answers, and not to be
// changed.
func StatusProto(s *schedule.Schedule, v *schedule.Vehicle, st *schedule.Status, item *schedulev1.Item) *schedulev1.ItemStatus {
	reasons, sentence := s.Explain(st)
	p := &schedulev1.ItemStatus{
		ItemId: item.GetItemId(), Title: item.GetTitle(), Group: item.GetGroup(),
		State: schedulev1.DueState(st.State), Item: item, Reasons: vehiclewire.Reasons(reasons), Sentence: sentence,
	}
	if last, entry := st.LastDone(); entry >= 0 {
		p.LastDoneDate, p.LastDoneEntry = vehiclewire.DateProto(last), v.Entries[entry].Record
	} else if w := st.Earlier(); w != nil {
		p.LastDoneDate, p.LastDoneEntry = vehiclewire.DateProto(last), w.Record
	}
	if !st.Open() {
		return p
	}
	p.DueDate, p.ActByDate = vehiclewire.DateProto(st.DueDate()), vehiclewire.DateProto(st.ActBy())
	p.Binding, p.Cycle, p.BeddingIn = schedulev1.Limb(st.Binding), st.Cycle(item.GetItemId()), st.Bedding
	p.TimeDueDate = vehiclewire.DateProto(st.TimeDueDate())
	p.DistanceDueDate = vehiclewire.DateProto(st.DistanceDueDate())
	early, late, first := s.DistanceRange(st)
	p.DistanceEarlyDate, p.DistanceLateDate, p.DistanceFirstPercent = vehiclewire.DateProto(early), vehiclewire.DateProto(late), int32(first)
	window := s.Window(st)
	p.SensibleFromDate, p.LatestDate = vehiclewire.DateProto(window.SensibleFrom), vehiclewire.DateProto(window.Latest)
	p.NotBeforeDate = vehiclewire.DateProto(st.NotBefore())
	if at, ok := st.DueDistance(); ok {
		p.DueDistance = vehiclewire.DistanceProto(at)
	}
	p.DistanceSince = vehiclewire.DistanceProto(s.Since(st))
	return p
}

// PaceProto writes distance and pace.
func PaceProto(s *schedule.Schedule) *schedulev1.Pace {
	unit := s.Unit()
	p := &schedulev1.Pace{
		EstimatedDistance: vehiclewire.DistanceProto(s.Distance), PerYear: vehiclewire.DistanceProto(s.Pace.PerYear),
		Evidence: vehiclewire.ReasonProto(s.Evidence(unit)), Unit: string(unit), DialDigits: int32(s.Dial().Digits),
	}
	low, high := s.YearRange()
	p.LowPerYear, p.HighPerYear = vehiclewire.DistanceProto(low), vehiclewire.DistanceProto(high)
	for i := range s.Ledger.Outcomes {
		if s.Ledger.Outcomes[i].State == schedule.Counted {
			p.CountedReadings++
		}
	}
	if n := len(s.Ledger.Points); n > 0 {
		p.LifeDistance = vehiclewire.DistanceProto(s.Ledger.Points[n-1].Distance)
		p.ReadingDate = vehiclewire.DateProto(s.Ledger.Points[n-1].Date())
	}
	return p
}

// ExplanationProto writes what may be behind a doubtful reading.
func ExplanationProto(e schedule.Explanation) *schedulev1.Explanation {
	p := &schedulev1.Explanation{
		Rule: string(e.Rule), Sentence: e.Sentence, WouldRead: vehiclewire.EnteredProto(e.WouldRead), Verdict: schedulev1.Verdict(e.Verdict),
		WouldBeDate: vehiclewire.DateProto(e.Date),
	}
	if e.PerYear != 0 {
		p.PerYear = vehiclewire.DistanceProto(e.PerYear)
	}
	if e.Usual != 0 {
		p.UsualPerYear = vehiclewire.DistanceProto(e.Usual)
	}
	return p
}

// Measured is what entries measured, by item.
type Measured map[string][]measured

type measured struct {
	value *schedulev1.MeasuredValue
	entry *schedulev1.ServiceEntry
}

// MeasuredBy collects what the entries of a vehicle measured up to a day.
// entries are those that stand, by date.
func MeasuredBy(entries []*schedulev1.ServiceEntry, until vehicle.Date) Measured {
	all := Measured{}
	for _, e := range entries {
		if d, err := vehiclewire.Date(e.GetServiceDate()); err != nil || d.After(until) {
			continue
		}
		for _, done := range e.GetItems() {
			for _, m := range done.GetMeasured() {
				all[done.GetItemId()] = append(all[done.GetItemId()], measured{m, e})
			}
		}
	}
	return all
}

// Last gives the latest value of each quantity of an item, by position.
func (all Measured) Last(item *schedule.Item) []*schedulev1.LastMeasured {
	values := all[item.ID]
	if len(values) == 0 {
		return nil
	}
	var out []*schedulev1.LastMeasured
	for i := range item.Measured {
		limit := &item.Measured[i]
		from := len(out)
		for _, v := range values {
			if v.value.GetCharacteristic() != limit.Characteristic {
				continue
			}
			latest, at := measuredProto(v.value, limit, v.entry), from
			for at < len(out) && out[at].GetPosition() != latest.GetPosition() {
				at++
			}
			if at == len(out) {
				out = append(out, nil)
			}
			out[at] = latest
		}
	}
	return out
}

func measuredProto(m *schedulev1.MeasuredValue, limit *schedule.MeasuredLimit, e *schedulev1.ServiceEntry) *schedulev1.LastMeasured {
	value, ok := Value(m)
	return &schedulev1.LastMeasured{
		Characteristic: m.GetCharacteristic(), Position: m.GetPosition(),
		Value:        &vehiclev1.Quantity{Value: m.GetValue().GetValue(), Unit: m.GetValue().GetUnit()},
		MeasuredDate: e.GetServiceDate(), WithinLimits: ok && value.Unit == limit.Unit && limit.Within(value.Value),
	}
}
