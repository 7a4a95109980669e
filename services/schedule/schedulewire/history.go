package schedulewire

import (
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Reading reads a reading. Whether it counts is not in it: that follows from
// all of a vehicle.
func Reading(p *schedulev1.Reading) (schedule.Mark, error) {
	var r reader
	m := schedule.Mark{
		Record: p.GetName(), Date: r.Date("reading_date", p.GetReadingDate()), Value: r.Entered("value", p.GetValue()),
		Source: vehiclewire.Enum[schedule.Source](p.GetSource()),
	}
	if t := p.GetCreateTime(); t.IsValid() {
		m.Recorded = vehicle.DateOf(t.AsTime())
	}
	if s := p.GetSettlement(); s != nil {
		m.Settlement = &schedule.Settlement{
			Verdict: vehiclewire.Enum[schedule.Verdict](s.GetVerdict()), Corrected: r.Entered("settlement.corrected", s.GetCorrected()),
		}
	}
	return m, r.Err()
}

// Entry reads work done, as far as the schedule asks. Mark is -1: which reading
// belongs to it is for the caller to say.
func Entry(p *schedulev1.ServiceEntry) (schedule.Entry, error) {
	var r reader
	e := schedule.Entry{Record: p.GetName(), Date: r.Date("service_date", p.GetServiceDate()), Mark: -1}
	r.Entered("reading", p.GetReading())
	for i, it := range p.GetItems() {
		e.Items = append(e.Items, it.GetItemId())
		for k, m := range it.GetMeasured() {
			r.quantity(vehiclewire.At("items", i, vehiclewire.At("measured", k, "value")), m.GetValue())
		}
	}
	return e, r.Err()
}

// Event reads what happened. Mark is as in Entry.
func Event(p *schedulev1.Event) (schedule.Event, error) {
	var r reader
	e := schedule.Event{
		Record: p.GetName(), Kind: vehiclewire.Enum[schedule.EventKind](p.GetKind()), Date: r.Date("event_date", p.GetEventDate()), Mark: -1,
	}
	r.Entered("reading", p.GetReading())
	return e, r.Err()
}

// UseFact reads how a vehicle lives.
func UseFact(p *schedulev1.UseFact) (schedule.UseFact, error) {
	var r reader
	f := schedule.UseFact{
		Kind: vehiclewire.Enum[schedule.UseKind](p.GetKind()), Start: r.Date("start_date", p.GetStartDate()), End: r.Date("end_date", p.GetEndDate()),
		FirstMonth: int(p.GetFirstMonth()), LastMonth: int(p.GetLastMonth()),
	}
	return f, r.Err()
}

// Value reads a measured value; the second result is false for what is none,
// which the store never holds.
func Value(p *schedulev1.MeasuredValue) (vehicle.Quantity, bool) {
	var r reader
	q := r.quantity("value", p.GetValue())
	return q, r.Err() == nil && p.GetValue() != nil
}
