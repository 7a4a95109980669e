package forecast_test

import (
	"math"
	"testing"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

func day(t *testing.T, text string) int32 {
	t.Helper()
	d, err := vehicle.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return int32(d.Ordinal())
}

func near(got, want, relative float64) bool { return math.Abs(got-want) <= relative*math.Abs(want) }

func TestSteadyEvidenceGivesTheSteadyAnswer(t *testing.T) {
	summer := forecast.InMonths(6, 8)
	for _, c := range []struct {
		name    string
		cal     forecast.Calendar
		last    string
		perYear float64 // miles
		way     vehicle.Distance
		want    string
	}{
		{"1,200 miles a year, 3,000 more", forecast.Calendar{}, "2026-05-01", 1_200, 3_000 * vehicle.Mile, "2028-10-30"},                                    // checks O-66
		{"9,000 miles a year, 3,000 more", forecast.Calendar{}, "2026-05-01", 9_000, 3_000 * vehicle.Mile, "2026-08-30"},                                    // checks O-66, 121.75 days
		{"June to August only, 1,500 more", forecast.Calendar{Season: summer}, "2026-09-01", 1_200 * 365.25 / 365.2425, 1_500 * vehicle.Mile, "2028-06-24"}, // checks O-67
		{"the whole of one summer more", forecast.Calendar{Season: summer}, "2026-09-01", 1_200 * 365.25 / 365.2425, 1_200 * vehicle.Mile, "2027-09-01"},    // by hand: 92 days of 92
		{"laid up from October to March, half a year more", forecast.Calendar{LayUps: winters()}, "2026-10-01", 730.5, 365 * vehicle.Mile, "2027-09-30"},    // by hand: 2 miles a day on 183 days from 1 April
	} {
		last := day(t, c.last)
		points := steady(&c.cal, last, c.perYear, 5*365, 6)
		var u forecast.Usage
		forecast.Estimate(&u, points, &c.cal, forecast.Assumed(), last)
		_, median, _ := u.Reach(float64(c.way))
		got := vehicle.DateFromOrdinal(int(c.cal.After(last, median))).String()
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// steady makes n readings of a vehicle driven evenly in active time, so many
// miles in 365.25 active days, the last on a day, over that many days.
func steady(cal *forecast.Calendar, last int32, perYear float64, over, n int32) []forecast.Point {
	perDay := perYear * float64(vehicle.Mile) / 365.25
	var points []forecast.Point
	for i := range n {
		d := last - over + over*i/(n-1)
		points = append(points, forecast.Point{Day: d, Distance: vehicle.Distance(perDay * (cal.Active(d) - cal.Active(last-over)))})
	}
	return points
}

func winters() []forecast.Span {
	var all []forecast.Span
	for y := 2020; y < 2040; y++ {
		all = append(all, forecast.Span{From: int32(vehicle.MustDate(y, 10, 1).Ordinal()), To: int32(vehicle.MustDate(y+1, 3, 31).Ordinal())})
	}
	return all
}

func TestCivilIsTheCalendarOfPackageVehicle(t *testing.T) {
	for d := int32(-200_000); d < 200_000; d += 7 {
		year, month, of := forecast.Civil(d)
		want := vehicle.DateFromOrdinal(int(d))
		if int(year) != want.Year || int(month)+1 != int(want.Month) || int(of)+1 != want.Day {
			t.Fatalf("day %d: got %d-%d-%d, want %v", d, year, month+1, of+1, want)
		}
	}
}

// A case that the property test of a higher last reading found: a change of
// habit upwards must not let the pace fall.
func TestAChangeOfHabitUpwardsDoesNotSlowThePace(t *testing.T) {
	var cal forecast.Calendar
	var points []forecast.Point
	for d := int32(18_000); d <= 18_016; d++ {
		points = append(points, forecast.Point{Day: d})
	}
	for _, p := range [][2]int32{{18_073, 0}, {18_074, 0}, {18_075, 0}, {18_076, 42}, {18_123, 43}, {18_124, 43}} {
		points = append(points, forecast.Point{Day: p[0], Distance: vehicle.Distance(p[1]) * vehicle.Mile})
	}
	var before, after forecast.Usage
	forecast.Estimate(&before, points, &cal, forecast.Assumed(), forecast.Never)
	points[len(points)-1].Distance += vehicle.Mile
	forecast.Estimate(&after, points, &cal, forecast.Assumed(), forecast.Never)
	if after.PerDay() < before.PerDay() {
		t.Errorf("a mile more, and the pace falls from %g to %g", before.PerDay(), after.PerDay())
	}
}
