package schedulewire

import (
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Reading reads a reading. Whether it counts is not in it: that follows from
// all of a vehicle.
func Reading(p *schedulev1.Reading) (schedule.Mark, error) {
	var r reader
	m := schedule.Mark{
		Record: p.GetName(), Date: r.date("reading_date", p.GetReadingDate()), Value: r.entered("value", p.GetValue()),
		Source: enum[schedule.Source](p.GetSource()),
	}
	if t := p.GetCreateTime(); t.IsValid() {
		m.Recorded = vehicle.DateOf(t.AsTime())
	}
	if s := p.GetSettlement(); s != nil {
		m.Settlement = &schedule.Settlement{
			Verdict: enum[schedule.Verdict](s.GetVerdict()), Corrected: r.entered("settlement.corrected", s.GetCorrected()),
		}
	}
	return m, r.err()
}

// Entry reads work done, as far as the schedule asks. Mark is -1: which reading
// belongs to it is for the caller to say.
func Entry(p *schedulev1.ServiceEntry) (schedule.Entry, error) {
	var r reader
	e := schedule.Entry{Record: p.GetName(), Date: r.date("service_date", p.GetServiceDate()), Mark: -1}
	r.entered("reading", p.GetReading())
	for i, it := range p.GetItems() {
		e.Items = append(e.Items, it.GetItemId())
		for k, m := range it.GetMeasured() {
			r.quantity(at("items", i, at("measured", k, "value")), m.GetValue())
		}
	}
	return e, r.err()
}

// Event reads what happened. Mark is as in Entry.
func Event(p *schedulev1.Event) (schedule.Event, error) {
	var r reader
	e := schedule.Event{
		Record: p.GetName(), Kind: enum[schedule.EventKind](p.GetKind()), Date: r.date("event_date", p.GetEventDate()), Mark: -1,
	}
	r.entered("reading", p.GetReading())
	return e, r.err()
}

// UseFact reads how a vehicle lives.
func UseFact(p *schedulev1.UseFact) (schedule.UseFact, error) {
	var r reader
	f := schedule.UseFact{
		Kind: enum[schedule.UseKind](p.GetKind()), Start: r.date("start_date", p.GetStartDate()), End: r.date("end_date", p.GetEndDate()),
		FirstMonth: int(p.GetFirstMonth()), LastMonth: int(p.GetLastMonth()),
	}
	return f, r.err()
}

// Value reads a measured value; the second result is false for what is none,
// which the store never holds.
func Value(p *schedulev1.MeasuredValue) (vehicle.Quantity, bool) {
	var r reader
	q := r.quantity("value", p.GetValue())
	return q, len(r.wrong) == 0 && p.GetValue() != nil
}
