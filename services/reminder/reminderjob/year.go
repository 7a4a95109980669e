package reminderjob

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// yearOn gives the year whose letter may go out at a moment in some time zone;
// false for none. A day more on either side covers every zone.
func yearOn(now time.Time) (int, bool) {
	day := vehicle.DateOf(now.UTC())
	for _, year := range []int{day.Year - 1, day.Year} {
		from := reminder.YearItem(year).ActBy.AddDays(-1)
		until := from.AddDays(reminder.YearDays + 2)
		if !day.Before(from) && !day.After(until) {
			return year, true
		}
	}
	return 0, false
}

// yearMemory spares the passes of one day to ask again for people who do not
// want the letter. Who agrees to it gets it from the next day on.
type yearMemory struct {
	day      vehicle.Date
	unwanted map[string]bool // by person
}

// lookAtYear adds the letter of the year to the vehicles of those who want it,
// in its season.
func (j *Job) lookAtYear(ctx context.Context, w *world) error {
	year, ok := yearOn(w.now)
	if !ok {
		return nil
	}
	if day := vehicle.DateOf(w.now.UTC()); j.year.day != day {
		j.year = yearMemory{day, map[string]bool{}}
	}
	item := reminder.YearItem(year)
	due := map[vehicle.Serial]int{}
	for n, v := range w.due {
		due[v.Serial] = n
	}
	for _, serial := range slices.Sorted(maps.Keys(w.ties)) {
		wanted, err := j.wantsYear(ctx, w, serial, w.ties[serial], item)
		n, there := due[serial]
		if err == nil && wanted && !there {
			var v reminder.Vehicle
			if v, err = j.vehicleNow(ctx, w, serial); err == nil {
				n, w.due = len(w.due), append(w.due, v)
			}
		}
		switch {
		case err != nil && stops(ctx, err):
			return err
		case err != nil && there:
			j.Logger.Error("a vehicle got no letter of the year; the next pass tries again", "vehicle", serial, "error", err)
		case err != nil: // nothing else is due of it
			w.unread[serial] = err
			w.due = append(w.due, reminder.Vehicle{Serial: serial})
		case wanted:
			w.due[n].Items = append(w.due[n].Items, item)
		}
	}
	return nil
}

// wantsYear reports whether somebody tied to a vehicle wants the letter and was
// not told yet.
func (j *Job) wantsYear(ctx context.Context, w *world, serial vehicle.Serial, ties []reminder.Tie, item reminder.Item) (bool, error) {
	told := map[string]bool{}
	for _, c := range j.Store.Claims(serial) {
		if c.Cycle == item.Cycle && !c.Failed {
			told[c.Person] = true
		}
	}
	for _, t := range ties {
		if told[t.Person] || j.year.unwanted[t.Person] {
			continue
		}
		r, found, err := j.person(ctx, w, t.Person)
		if err != nil {
			return false, fmt.Errorf("ask who wants the letter of the year: %w", err)
		}
		if !found || !r.Yearly {
			j.year.unwanted[t.Person] = true
			continue
		}
		if t.Lasts(w.now) {
			return true, nil
		}
	}
	return false, nil
}
