package schedule_test

import (
	"fmt"
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// on reads a date written in a test.
func on(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

// miles is what a dial in miles showed.
func miles(n int64) vehicle.Entered {
	return vehicle.Entered{Value: vehicle.Decimal{Coefficient: n}, Unit: vehicle.Miles}
}

var mileDial = vehicle.Dial{Digits: 5, Unit: vehicle.Miles, TurnsPerUnit: 1000, Tenths: true}

// world is a vehicle under test; its methods read as its history.
type world struct {
	t testing.TB
	schedule.Vehicle
	plan       *schedule.Plan
	components []schedule.Component
	fitted     map[string][]string
}

// delivered begins a vehicle with a programme of a few items.
func delivered(t testing.TB, date string, items ...schedule.Item) *world {
	t.Helper()
	if len(items) == 0 {
		items = []schedule.Item{{ID: "A1", Every: limit(0, 12)}}
	}
	for i := range items {
		items[i].Group, items[i].SourceMark = "test", "b"
		if items[i].Title == "" {
			items[i].Title = "Item " + items[i].ID
		}
	}
	p := &schedule.Programme{ID: "test", Version: 1, Title: "test", Effective: on("2000-01-01"), Sample: true, Items: items}
	w := &world{t: t, plan: compiled(t, p), fitted: map[string][]string{}}
	w.Delivered = on(date)
	w.Segments = []schedule.Segment{{From: on(date), Dial: mileDial, FactorPPM: schedule.Unity, Start: miles(0)}}
	return w
}

func (w *world) component(position, fitted string) *world {
	w.components = append(w.components, schedule.Component{Position: position, Fitted: on(fitted)})
	w.fitted[position] = nil
	return w
}

func (w *world) read(date string, value vehicle.Entered) *world {
	w.Marks = append(w.Marks, schedule.Mark{Date: on(date), Value: value, Source: schedule.ByOwner, Alone: true,
		Record: fmt.Sprintf("readings/%03d", len(w.Marks))})
	return w
}

func (w *world) done(date string, items ...string) *world {
	w.Entries = append(w.Entries, schedule.Entry{Date: on(date), Items: items, Mark: -1,
		Record: fmt.Sprintf("serviceEntries/%03d", len(w.Entries))})
	return w
}

func (w *world) event(date string, kind schedule.EventKind) *world {
	w.Events = append(w.Events, schedule.Event{Kind: kind, Date: on(date), Mark: -1,
		Record: fmt.Sprintf("events/%03d", len(w.Events))})
	return w
}

// use declares a use; an empty end lasts.
func (w *world) use(kind schedule.UseKind, start, end string) *world {
	f := schedule.UseFact{Kind: kind, Start: on(start)}
	if end != "" {
		f.End = on(end)
	}
	w.Uses = append(w.Uses, f)
	return w
}

// at evaluates the vehicle on a day.
func (w *world) at(date string) *schedule.Schedule {
	w.t.Helper()
	applicable, err := w.plan.Applicable(vehicle.Makeup{Fitted: w.fitted})
	if err != nil {
		w.t.Fatal(err)
	}
	w.Fits = w.plan.Fits(applicable, w.components)
	return schedule.Evaluate(w.plan, &w.Vehicle, on(date))
}

// status gives one item's.
func (w *world) status(date, item string) (*schedule.Schedule, *schedule.Status) {
	w.t.Helper()
	s := w.at(date)
	n, ok := w.plan.Index(item)
	for i := range s.Statuses {
		if ok && int(s.Statuses[i].Item) == n {
			return s, &s.Statuses[i]
		}
	}
	w.t.Fatalf("no item %s", item)
	return nil, nil
}

// every and first make limits; 0 is none.
func limit(mi int64, months int) schedule.Limit {
	l := schedule.Limit{Months: months}
	if mi > 0 {
		l.Distance = miles(mi)
	}
	return l
}
