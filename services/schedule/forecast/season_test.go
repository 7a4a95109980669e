package forecast_test

import (
	"math"
	"testing"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// everyTwoMonths makes readings of a vehicle driven evenly in the time of a
// calendar.
func everyTwoMonths(cal *forecast.Calendar, perYear float64, years int32) []forecast.Point {
	const from = 18_262 // 2020-01-01
	var points []forecast.Point
	for d := int32(from); d <= from+365*years; d += 61 {
		way := perYear / 365.2425 * (cal.Active(d) - cal.Active(from))
		points = append(points, forecast.Point{Day: d, Distance: vehicle.Distance(way * mile)})
	}
	return points
}

func TestASeasonIsLearnedFromReadingsThatCarryIt(t *testing.T) {
	summer := forecast.Calendar{Season: forecast.InMonths(6, 9)}
	s, ok := forecast.LearnSeason(everyTwoMonths(&summer, 1_500, 3), nil)
	if !ok || s.Source != forecast.Learned {
		t.Fatal("no season was learned")
	}
	for m, w := range s.Weights {
		if in := m >= 5 && m <= 8; in && w < 1.5 || !in && w > 1.5 {
			t.Errorf("month %d: weight %.2f", m+1, w)
		}
	}
	var u forecast.Usage
	cal := forecast.Calendar{Season: s}
	points := everyTwoMonths(&summer, 1_500, 3)
	forecast.Estimate(&u, points, &cal, forecast.Assumed(), forecast.Never)
	last := points[len(points)-1].Day
	_, middle, _ := u.Reach(300 * mile)
	if d := vehicle.DateFromOrdinal(int(cal.After(last, middle))); d.Year != 2023 || d.Month < 6 || d.Month > 7 {
		t.Errorf("300 miles after New Year are due on %s, want in June or July 2023", d)
	}
}

func TestNoSeasonIsReadIntoReadingsThatCarryNone(t *testing.T) {
	var all forecast.Calendar
	summer := forecast.Calendar{Season: forecast.InMonths(6, 9)}
	yearly := func(points []forecast.Point) (some []forecast.Point) {
		for i := 0; i < len(points); i += 6 {
			some = append(some, points[i])
		}
		return some
	}
	for _, c := range []struct {
		name   string
		points []forecast.Point
	}{
		{"driven all the year", everyTwoMonths(&all, 2_000, 4)},
		{"read once a year", yearly(everyTwoMonths(&summer, 2_000, 8))},
		{"not driven", everyTwoMonths(&all, 0, 4)},
		{"one summer", everyTwoMonths(&summer, 2_000, 4)[:4]},
		{"no reading", nil},
	} {
		if s, ok := forecast.LearnSeason(c.points, nil); ok {
			t.Errorf("%s: %v", c.name, s.Weights)
		}
	}
}

func TestTheSeasonOfAFleetIsThatOfItsVehicles(t *testing.T) {
	summer, winter := forecast.Calendar{Season: forecast.InMonths(5, 9)}, forecast.Calendar{Season: forecast.InMonths(11, 2)}
	var fleet []forecast.History
	for i := range 8 {
		fleet = append(fleet, forecast.History{Points: everyTwoMonths(&summer, 300*float64(i+1), 4)})
	}
	// One that is driven far in winter does not outweigh them.
	fleet = append(fleet, forecast.History{Points: everyTwoMonths(&winter, 20_000, 4)})
	s, ok := forecast.FleetSeason(fleet...)
	if !ok || s.Source != forecast.Fleet {
		t.Fatal("no season")
	}
	for m, w := range s.Weights { // readings two months apart blur the edges
		if in, out := m >= 5 && m <= 7, m <= 2 || m >= 10; in && w < 1.3 || out && w > 0.8 {
			t.Errorf("month %d: weight %.2f", m+1, w)
		}
	}
	if _, ok := forecast.FleetSeason(fleet[:4]...); ok {
		t.Error("a season of four vehicles")
	}
}

func TestWintersThatCameTwiceAreExpected(t *testing.T) {
	spans := func(dates ...string) (all []forecast.Span) {
		for i := 0; i < len(dates); i += 2 {
			to := forecast.Never
			if dates[i+1] != "" {
				to = day(t, dates[i+1])
			}
			all = append(all, forecast.Span{From: day(t, dates[i]), To: to})
		}
		return all
	}
	for _, c := range []struct {
		name  string
		rests []forecast.Span
		today string
		next  string // beginning of the first that is added
	}{
		{"two winters", spans("2023-10-10", "2024-04-01", "2024-11-01", "2025-03-20"), "2025-06-01", "2025-11-01"},
		{"the second not over", spans("2023-10-10", "2024-04-01", "2024-11-01", "2025-03-20"), "2024-12-01", "2025-11-01"},
		{"one winter", spans("2024-11-01", "2025-03-20"), "2025-06-01", ""},
		{"not since", spans("2020-11-01", "2021-04-01", "2021-11-01", "2022-03-20"), "2025-06-01", ""},
		{"the last without end", spans("2023-10-10", "2024-04-01", "2024-11-01", ""), "2025-06-01", ""},
		{"at other times of the year", spans("2023-10-10", "2024-01-01", "2025-01-10", "2025-04-01"), "2025-06-01", ""},
		{"weeks only", spans("2023-10-10", "2023-10-30", "2024-10-10", "2024-10-30"), "2025-06-01", ""},
	} {
		all := forecast.WithHabit(c.rests, day(t, c.today))
		got := ""
		if len(all) > len(c.rests) {
			got = vehicle.DateFromOrdinal(int(all[len(c.rests)].From)).String()
		}
		if got != c.next {
			t.Errorf("%s: next on %q, want %q", c.name, got, c.next)
		}
	}
}

func TestThePriorOfAFleetIsItsMedianOnceItIsLarge(t *testing.T) {
	paces := func(miles ...float64) (all []float64) {
		for range 50 {
			for _, m := range miles {
				all = append(all, m*mile)
			}
		}
		return all
	}
	large := forecast.FleetPrior(append(paces(250, 500, 1_000), 1e9*mile, 0, -1, math.Inf(1)))
	if got := float64(large.PerYear) / mile; got < 480 || got > 540 {
		t.Errorf("median %g, want about 500", got)
	}
	if large.Sigma < 0.6 || large.Sigma > 1.1 {
		t.Errorf("sigma %g: ln 2 and scale of the median deviation give about 1", large.Sigma)
	}
	if one := forecast.FleetPrior([]float64{100 * mile}); one.PerYear < 700*vehicle.Mile {
		t.Errorf("one vehicle moves the prior to %s", one.PerYear.Text(vehicle.Miles))
	}
	if none := forecast.FleetPrior(nil); none != forecast.Assumed() {
		t.Errorf("%+v", none)
	}
}
