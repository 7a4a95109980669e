package reminderjob

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// yearOf gathers the history of the year that a draft's letter is about, and
// what the next year brings.
func (j *Job) yearOf(ctx context.Context, d reminder.Draft) (*reminderwords.Year, error) {
	parent := reminderwire.VehicleName(d.Vehicle.Serial)
	y := &reminderwords.Year{Year: d.Lines[0].Item.Year}
	for _, gather := range []func(context.Context, string, *reminderwords.Year) error{j.yearReadings, j.yearWorks, j.yearMeasured, j.yearNext} {
		if err := gather(ctx, parent, y); err != nil {
			return nil, fmt.Errorf("gather the year of %s: %w", d.Vehicle.Serial, err)
		}
	}
	return y, nil
}

// counted is a reading that counts, with the vehicle's true distance then.
type counted struct {
	day  vehicle.Date
	life vehicle.Distance
}

// yearReadings gives the year's readings that count, and how far the vehicle
// went.
func (j *Job) yearReadings(ctx context.Context, parent string, y *reminderwords.Year) error {
	var all []counted
	err := page.Each(func(token string) ([]*schedulev1.Reading, string, error) {
		r, err := j.Schedules.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetReadings(), r.GetNextPageToken(), err
	}, func(p *schedulev1.Reading) error {
		day, err := vehiclewire.Date(p.GetReadingDate())
		if err != nil || p.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
			return err
		}
		value, err := vehiclewire.Entered(p.GetValue())
		if err != nil {
			return err
		}
		if day.Year == y.Year {
			y.Readings = append(y.Readings, reminderwords.Reading{Date: day, Value: value})
		}
		if p.GetLifeDistance() == nil {
			return nil
		}
		life, err := vehiclewire.Distance(p.GetLifeDistance())
		all = append(all, counted{day, life})
		return err
	})
	slices.SortStableFunc(y.Readings, func(a, b reminderwords.Reading) int { return a.Date.Compare(b.Date) })
	slices.SortStableFunc(all, func(a, b counted) int { return cmp.Or(a.day.Compare(b.day), cmp.Compare(a.life, b.life)) })
	y.Driven = driven(all, y.Year)
	return err
}

// driven gives how far the vehicle went in a year, between readings by days;
// where none lies before or after the year, from the first or until the last in
// it. 0 when the readings do not tell.
func driven(all []counted, year int) vehicle.Distance {
	from, okFrom := lifeOn(all, vehicle.MustDate(year, 1, 1))
	until, okUntil := lifeOn(all, vehicle.MustDate(year+1, 1, 1))
	if !okFrom || !okUntil || until < from {
		return 0
	}
	return until - from
}

// lifeOn gives the true distance on a day: between two readings by days, before
// the first or after the last that of the nearest. false without readings.
func lifeOn(all []counted, day vehicle.Date) (vehicle.Distance, bool) {
	if len(all) == 0 {
		return 0, false
	}
	after := slices.IndexFunc(all, func(c counted) bool { return !c.day.Before(day) })
	switch {
	case after < 0:
		return all[len(all)-1].life, true
	case after == 0 || all[after].day == day:
		return all[after].life, true
	}
	a, b := all[after-1], all[after]
	share := float64(a.day.DaysUntil(day)) / float64(a.day.DaysUntil(b.day))
	return a.life + vehicle.Distance(float64(b.life-a.life)*share), true
}

// yearWorks gives the items of the programme that were done in the year.
func (j *Job) yearWorks(ctx context.Context, parent string, y *reminderwords.Year) error {
	s, err := j.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: parent + "/schedule", View: schedulev1.ScheduleView_SCHEDULE_VIEW_BASIC})
	if err != nil {
		return err
	}
	titles := map[string]string{}
	for _, i := range s.GetItems() {
		titles[i.GetItemId()] = i.GetTitle()
	}
	err = page.Each(func(token string) ([]*schedulev1.ServiceEntry, string, error) {
		r, err := j.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetServiceEntries(), r.GetNextPageToken(), err
	}, func(p *schedulev1.ServiceEntry) error {
		day, err := vehiclewire.Date(p.GetServiceDate())
		if err != nil || day.Year != y.Year || p.GetVoidReason() != "" {
			return err
		}
		for _, i := range p.GetItems() {
			y.Works = append(y.Works, reminderwords.Work{
				Date: day, Item: i.GetItemId(), Title: cmp.Or(titles[i.GetItemId()], i.GetItemId()), Workshop: p.GetDoneBy(),
			})
		}
		return nil
	})
	slices.SortStableFunc(y.Works, func(a, b reminderwords.Work) int { return a.Date.Compare(b.Date) })
	return err
}

// yearMeasured gives each quantity that was measured in the year, with its last
// value and the one before.
func (j *Job) yearMeasured(ctx context.Context, parent string, y *reminderwords.Year) error {
	return page.Each(func(token string) ([]*schedulev1.MeasuredSeries, string, error) {
		r, err := j.Schedules.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetMeasuredSeries(), r.GetNextPageToken(), err
	}, func(p *schedulev1.MeasuredSeries) error {
		c := reminderwords.Change{
			Characteristic: p.GetCharacteristic(), Position: p.GetPosition(), Unit: p.GetUnit(),
			Lower: p.GetLimit().GetLower(), Upper: p.GetLimit().GetUpper(),
		}
		for _, v := range p.GetValues() {
			day, err := vehiclewire.Date(v.GetMeasuredDate())
			if err != nil {
				return err
			}
			if day.Year > y.Year || v.GetValue().GetUnit() != c.Unit {
				continue
			}
			c.Before, c.BeforeDate = c.Now, c.NowDate
			c.Now, c.NowDate = v.GetValue().GetValue(), day
		}
		if c.NowDate.Year == y.Year {
			y.Measured = append(y.Measured, c)
		}
		return nil
	})
}

// yearNext gives what falls due until the end of the next year, in the order of
// the days.
func (j *Job) yearNext(ctx context.Context, parent string, y *reminderwords.Year) error {
	plan, err := j.Schedules.GetVisitPlan(ctx, &schedulev1.GetVisitPlanRequest{Name: parent + "/visitPlan", Months: 13})
	if err != nil {
		return err
	}
	tasks := plan.GetUnplanned()
	for _, v := range plan.GetVisits() {
		tasks = append(tasks, v.GetTasks()...)
	}
	for _, task := range tasks {
		day, err := vehiclewire.Date(task.GetDueDate())
		if err != nil {
			return err
		}
		if day.Year <= y.Year+1 {
			y.Next = append(y.Next, reminderwords.Coming{Item: task.GetItemId(), Title: task.GetTitle(), ActBy: day})
		}
	}
	slices.SortStableFunc(y.Next, func(a, b reminderwords.Coming) int { return a.ActBy.Compare(b.ActBy) })
	return nil
}
