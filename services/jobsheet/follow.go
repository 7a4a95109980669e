package jobsheet

import (
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Work is what a return becomes: all of it, or nothing.
type Work struct {
	Entry   Entry
	Changes []build.Change
	Steps   []Step
}

// Entry is the service entry.
type Entry struct {
	Date    vehicle.Date
	Reading vehicle.Entered
	Items   []ItemDone
	Parts   []PartUsed
	DoneBy  string
	Note    string
}

// ItemDone is an item of the entry.
type ItemDone struct {
	Item     string
	Measured []ItemValue
	Note     string
	Shims    []schedule.ShimWork
	Job      int   // which job of the return it is of
	Values   []int // which of its values each measured one is
}

// ItemValue is a value as it goes on record: in the unit of its limit.
type ItemValue struct {
	Characteristic, Position string
	Value                    vehicle.Quantity
	Instrument               string
}

// Step is the step of a campaign that its remedy's jobs make.
type Step struct {
	FollowUp string
	Date     vehicle.Date
	Reading  vehicle.Entered
	Parts    []StepPart
	Measured []StepValue
	Text     string
	Jobs     []int // which jobs of the return it is of
}

// StepPart is a part of a remedy that went in.
type StepPart struct {
	Number, Lot, Position string
	Quantity              int
}

// StepValue is a value of a remedy.
type StepValue struct {
	Item, Characteristic string
	Value                vehicle.Quantity
}

// Follow gives what a return becomes. It is for one that Check finds nothing
// against.
func (s *Sheet) Follow(r *Return) Work {
	w := Work{Entry: Entry{Date: r.Date, Reading: r.Reading, Parts: r.Parts, DoneBy: r.DoneBy}}
	notes := distinct(r.Note)
	lots := slices.Clone(r.Parts)
	for i := range r.Jobs {
		d := &r.Jobs[i]
		j := s.job(d.Number)
		switch {
		case j == nil:
		case !d.Done:
			notes = append(notes, "Not done: "+j.Item+", "+j.Title+": "+d.Note)
		case j.Remedy():
			notes = append(notes, "Done: "+j.Item+", "+j.Title+".")
			w.remedy(j, r, i, lots)
		default:
			w.Entry.Items = append(w.Entry.Items, j.entered(d, r, i))
		}
	}
	if text := strings.TrimSpace(r.confirmed(ReadingLine)); text != "" {
		notes = append(notes, "Odometer: "+text)
	}
	w.Entry.Note = strings.Join(notes, "\n")
	w.changes(s, r)
	w.whole(s)
	return w
}

// entered is a job as an item of the entry. What was confirmed stands in its
// note, so that whoever reads the value reads why.
func (j *Job) entered(d *Done, r *Return, at int) ItemDone {
	item := ItemDone{Item: j.Item, Shims: d.Shims, Job: at}
	notes := distinct(d.Note)
	for k, m := range d.Values {
		v := j.value(m.Line)
		if v == nil {
			continue
		}
		item.Measured = append(item.Measured, ItemValue{v.Limit.Characteristic, v.Position, inUnit(m.Value, v.Limit.Unit), m.Instrument})
		item.Values = append(item.Values, k)
	}
	for i := range j.Values {
		v := &j.Values[i]
		if text := strings.TrimSpace(r.confirmed(v.Line)); text != "" {
			notes = append(notes, fmt.Sprintf("Confirmed, %s: %s", v.name(), text))
		}
	}
	for k := range d.Shims {
		if text := strings.TrimSpace(r.confirmed(j.packLine(d, k))); text != "" {
			notes = append(notes, "Confirmed, with the new pack: "+text)
		}
	}
	item.Note = strings.Join(notes, "\n")
	return item
}

// inUnit gives a value in the unit of its limit: exactly, where a decimal writes
// it, else to the digits that its resolution has there.
func inUnit(q vehicle.Quantity, unit string) vehicle.Quantity {
	if q.Unit == unit {
		return q
	}
	r, ok := q.In(unit)
	if !ok {
		return q
	}
	if exact, ok := exactly(r, unit, 0); ok {
		return exact
	}
	figures, _ := q.Figures(unit)
	value, err := vehicle.ParseDecimal(figures)
	if err != nil {
		return q
	}
	return vehicle.Quantity{Value: value, Unit: unit}
}

// remedy adds a job of a remedy to the step of its campaign. Of the parts that
// went in, lots still holds what no remedy has taken.
func (w *Work) remedy(j *Job, r *Return, at int, lots []PartUsed) {
	i := slices.IndexFunc(w.Steps, func(s Step) bool { return s.FollowUp == j.FollowUp })
	if i < 0 {
		i = len(w.Steps)
		w.Steps = append(w.Steps, Step{FollowUp: j.FollowUp, Date: r.Date, Reading: r.Reading})
	}
	step, d := &w.Steps[i], &r.Jobs[at]
	step.Jobs = append(step.Jobs, at)
	step.Text = strings.Join(distinct(step.Text, d.Note), "\n")
	for _, p := range j.Parts {
		for want, k := p.Quantity, 0; want > 0 && k < len(lots); k++ {
			if n := min(want, lots[k].Quantity); lots[k].Number == p.Number && n > 0 {
				step.Parts = append(step.Parts, StepPart{p.Number, lots[k].Lot, p.Position, n})
				lots[k].Quantity -= n
				want -= n
			}
		}
	}
	for _, m := range d.Values {
		if v := j.value(m.Line); v != nil {
			step.Measured = append(step.Measured, StepValue{j.RemedyItem, v.Limit.Characteristic, inUnit(m.Value, v.Limit.Unit)})
		}
	}
}

// changes gives the changes the day, the odometer and the people of the sheet. On
// the day of another odometer the entry has no reading of its own, for two dials
// were read that day: the change says what each showed.
func (w *Work) changes(s *Sheet, r *Return) {
	for _, c := range r.Changes {
		c.Date, c.DoneBy = r.Date, r.DoneBy
		if c.Reading.IsZero() {
			c.Reading = r.Reading
		}
		if c.Source == build.SourceUnspecified {
			c.Source = build.SourceService
		}
		if c.Reason == "" {
			c.Reason = fmt.Sprintf("came back on job sheet %d", s.Number)
		}
		if c.Kind == build.DialChanged {
			w.Entry.Reading = vehicle.Entered{}
		}
		w.Changes = append(w.Changes, c)
	}
}

// whole leaves out a step whose remedy has several jobs of which not all are
// done: the campaign stays open until they are.
func (w *Work) whole(s *Sheet) {
	w.Steps = slices.DeleteFunc(w.Steps, func(step Step) bool {
		jobs := 0
		for i := range s.Jobs {
			if s.Jobs[i].FollowUp == step.FollowUp {
				jobs++
			}
		}
		return len(step.Jobs) < jobs
	})
}
