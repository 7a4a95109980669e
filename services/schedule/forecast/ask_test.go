package forecast_test

import (
	"testing"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

func TestAReadingIsAskedForWhenTheAnswerCanChangeANotice(t *testing.T) {
	var cal forecast.Calendar
	last := day(t, "2026-03-01")
	forecastOf := func(perYear float64) *forecast.Usage {
		var u forecast.Usage
		forecast.Estimate(&u, steady(&cal, last, perYear, 3*365, 5), &cal, forecast.Assumed(), last)
		return &u
	}
	usual := forecast.UsualAsking()
	// 3,000 miles or twelve months from the day of the last reading.
	base := forecast.Question{
		Today: day(t, "2026-10-01"), TimeDue: day(t, "2027-03-01"), Way: 3_000 * mile, Notice: 28,
		LastReading: last, LastAsked: day(t, "2025-01-01"),
	}
	for _, c := range []struct {
		name    string
		perYear float64
		asking  forecast.Asking
		change  func(q *forecast.Question)
		want    bool
	}{
		{"distance may come first and the notice is near", 3_200, usual, func(*forecast.Question) {}, true},
		{"time decides", 600, usual, func(*forecast.Question) {}, false},
		{"the notice is far off", 3_200, usual, func(q *forecast.Question) { q.Today = day(t, "2026-06-15") }, false},
		{"asked last month", 3_200, usual, func(q *forecast.Question) { q.LastAsked = day(t, "2026-09-01") }, false},
		{"read last month", 3_200, usual, func(q *forecast.Question) { q.LastReading = day(t, "2026-09-01") }, false},
		{"passed already", 3_200, usual, func(q *forecast.Question) { q.Way = -1 }, false},
		{"the day is sure enough", 3_200, forecast.Asking{Every: 91, Chance: 0.2, Ahead: 28, Apart: 400}, func(*forecast.Question) {}, false},
		{"not likely enough", 3_200, forecast.Asking{Every: 91, Chance: 0.95, Ahead: 28, Apart: 21}, func(*forecast.Question) {}, false},
		{"no time limb", 3_200, usual, func(q *forecast.Question) { q.TimeDue = forecast.Never }, true},
		{"never by default", 3_200, forecast.Asking{}, func(*forecast.Question) {}, false},
	} {
		q := base
		c.change(&q)
		if got, chance := c.asking.WorthAsking(q, forecastOf(c.perYear), &cal); got != c.want {
			t.Errorf("%s: %t with chance %.2f, want %t", c.name, got, chance, c.want)
		}
	}
}

func TestTheEvidenceReadsWell(t *testing.T) {
	last := day(t, "2026-09-01")
	summer := forecast.Calendar{Season: forecast.InMonths(6, 9)}
	learned := summer
	learned.Season.Source = forecast.Learned
	var plain forecast.Calendar
	faster := steady(&plain, last, 900, 5*365, 6)
	for i := range int32(3) {
		end := faster[len(faster)-1]
		faster = append(faster, forecast.Point{Day: end.Day + 150, Distance: end.Distance + vehicle.Distance(1_500+i)*vehicle.Mile})
	}
	for _, c := range []struct {
		cal    *forecast.Calendar
		points []forecast.Point
		want   string
	}{
		{&plain, nil, "There is no reading, so about 1,200 miles a year are assumed, as for any such vehicle."},
		{&summer, steady(&summer, last, 900, 3*365, 6)[:1], "There is one reading only, so about 1,200 miles a year are assumed, as for any such vehicle, used June to September as its owner says."},
		{&learned, steady(&summer, last, 900, 4*365, 6), "6 readings from 2 September 2022 to 1 September 2026 give about 900 miles a year, used June to September as its readings show."},
		{&plain, faster, "9 readings from 2 September 2021 to 25 November 2027 give about 3,655 miles a year; its use has changed, so that older readings count little."},
	} {
		var u forecast.Usage
		forecast.Estimate(&u, c.points, c.cal, forecast.Assumed(), forecast.Never)
		r := u.Evidence(vehicle.Miles)
		if r.Sentence != c.want {
			t.Errorf("got  %s\nwant %s", r.Sentence, c.want)
		}
		if r.Fact("per_year") == "" || r.Fact("readings") == "" {
			t.Errorf("facts %v", r.Facts)
		}
	}
}
