package ownerpages_test

import (
	"strings"
	"testing"
	"time"

	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle"
)

// Near midnight in UTC it is another day for many: what they did today counts
// today, and what they see is of their day.
func TestWhatIsDoneTodayCountsOnTheReadersDay(t *testing.T) {
	for _, c := range []struct {
		zone             string
		now              time.Time
		today, next, day string // the day to be, a year later, and the same in ISO 8601
	}{
		{"Pacific/Auckland", time.Date(2026, 5, 18, 23, 50, 0, 0, time.UTC), "19 May 2026", "19 May 2027", "2026-05-19"},
		{"Europe/Berlin", time.Date(2026, 5, 18, 23, 50, 0, 0, time.UTC), "19 May 2026", "19 May 2027", "2026-05-19"},
		{"America/Los_Angeles", time.Date(2026, 5, 18, 23, 50, 0, 0, time.UTC), "18 May 2026", "18 May 2027", "2026-05-18"},
		{"America/Los_Angeles", time.Date(2026, 5, 19, 0, 10, 0, 0, time.UTC), "18 May 2026", "18 May 2027", "2026-05-18"},
	} {
		d, server := newDesk(t)
		d.now, d.person.TimeZone = c.now, c.zone
		to := func(purpose links.Purpose) string {
			return server.URL + "/l/" + token(t, purpose, c.now.Add(time.Hour))
		}
		form := get(t, to(links.Done)).page.form(t, "Send")
		form["item"] = bothRounds[:1]
		if form.Get("date") != c.day {
			t.Errorf("%s: the form says %s", c.zone, form.Get("date"))
		}
		a := post(t, to(links.Done), form)
		if !strings.Contains(a.say(), "done on "+c.today) || !strings.Contains(a.say(), "Change engine oil and filter: next by "+c.next) {
			t.Errorf("%s: %s", c.zone, a.say())
		}
		s := get(t, to(links.Schedule))
		if !strings.Contains(s.say(), "Change engine oil and filter By "+c.next) || strings.Contains(s.say(), "Change engine oil and filter By 10 June 2026") {
			t.Errorf("%s: the schedule says %s", c.zone, s.say())
		}
		if d.plannedOn.String() != c.day {
			t.Errorf("%s: the visits are planned on %s", c.zone, d.plannedOn)
		}
		// It is over for the other pages too.
		if a := get(t, to(links.Booked)); strings.Contains(a.say(), "engine oil") {
			t.Errorf("%s: %s", c.zone, a.say())
		}
	}
}

// Behind UTC it is yesterday that the reading is of, and what it changed is seen.
func TestAReadingOfTodayChangesTheDaysOfToday(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-04-01", "12000", "km")
	d.now, d.person.TimeZone = time.Date(2026, 5, 18, 23, 50, 0, 0, time.UTC), "Pacific/Auckland"
	address := server.URL + "/l/" + token(t, links.Odometer, d.now.Add(time.Hour))
	a := post(t, address, filled(get(t, address).page.form(t, "Send"), "value", "12345"))
	if !strings.Contains(a.say(), "read on 19 May 2026") || d.askedOn != (vehicle.Date{Year: 2026, Month: 5, Day: 19}) {
		t.Errorf("asked on %s: %s", d.askedOn, a.say())
	}
}
