package forecast_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// histories generates readings of a vehicle: uneven in time and in way, some of
// them without any way.
func histories(least, most int) *rapid.Generator[[]forecast.Point] {
	return rapid.Custom(func(t *rapid.T) []forecast.Point {
		points := []forecast.Point{{Day: 18_000}}
		n := rapid.IntRange(least, most).Draw(t, "readings")
		for len(points) < n {
			last := points[len(points)-1]
			points = append(points, forecast.Point{
				Day:      last.Day + rapid.Int32Range(1, 500).Draw(t, "days"),
				Distance: last.Distance + vehicle.Distance(rapid.Int64Range(0, 3_000).Draw(t, "miles"))*vehicle.Mile,
			})
		}
		return points[:n]
	})
}

// calendars generates calendars with and without a season and lay-ups.
func calendars() *rapid.Generator[*forecast.Calendar] {
	return rapid.Custom(func(t *rapid.T) *forecast.Calendar {
		var cal forecast.Calendar
		if rapid.Bool().Draw(t, "season") {
			cal.Season = forecast.InMonths(rapid.IntRange(1, 12).Draw(t, "first"), rapid.IntRange(1, 12).Draw(t, "last"))
		}
		at := int32(17_500)
		for range rapid.IntRange(0, 6).Draw(t, "lay-ups") {
			from := at + rapid.Int32Range(2, 600).Draw(t, "free")
			at = from + rapid.Int32Range(0, 300).Draw(t, "laid up")
			cal.LayUps = append(cal.LayUps, forecast.Span{From: from, To: at})
		}
		if rapid.Bool().Draw(t, "indexed") {
			cal.Index()
		}
		return &cal
	})
}

func waysToGo() *rapid.Generator[float64] { return rapid.Float64Range(mile, 20_000*mile) }

func estimate(points []forecast.Point, cal *forecast.Calendar) forecast.Usage {
	var u forecast.Usage
	forecast.Estimate(&u, points, cal, forecast.Assumed(), forecast.Never)
	return u
}

func TestAHigherRateNeverMakesADistanceLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points, cal, way := histories(0, 25).Draw(t, "points"), calendars().Draw(t, "calendar"), waysToGo().Draw(t, "way")
		slow := estimate(points, cal)
		times := rapid.Float64Range(1, 10).Draw(t, "times")
		faster := slices.Clone(points)
		for i := range faster {
			faster[i].Distance = vehicle.Distance(math.Round(float64(faster[i].Distance) * times))
		}
		fast := estimate(faster, cal)
		_, before, _ := slow.Reach(way)
		_, after, _ := fast.Reach(way)
		if after > before*(1+1e-6) {
			t.Fatalf("%g times the rate: %g days instead of %g", times, after, before)
		}
	})
}

func TestAHigherLastReadingNeverMakesADistanceLater(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points, cal := histories(2, 25).Draw(t, "points"), calendars().Draw(t, "calendar")
		last := len(points) - 1
		target := float64(points[last].Distance) + waysToGo().Draw(t, "way")
		more := slices.Clone(points)
		more[last].Distance += vehicle.Distance(rapid.Int64Range(1, 3_000).Draw(t, "more")) * vehicle.Mile
		slow, fast := estimate(points, cal), estimate(more, cal)
		_, before, _ := slow.Reach(target - float64(points[last].Distance))
		_, after, _ := fast.Reach(target - float64(more[last].Distance))
		if after > before*(1+1e-6) {
			t.Fatalf("%g active days instead of %g", after, before)
		}
	})
}

func TestTheRangeIsInOrderAndChancesAreItsInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := estimate(histories(0, 25).Draw(t, "points"), calendars().Draw(t, "calendar"))
		way := waysToGo().Draw(t, "way")
		p10, middle, p90 := u.Reach(way)
		if !(0 < p10 && p10 <= middle && middle <= p90) {
			t.Fatalf("%g, %g, %g", p10, middle, p90)
		}
		for active, want := range map[float64]float64{p10: 0.1, middle: 0.5, p90: 0.9} {
			if p := u.Probability(way, active); math.Abs(p-want) > 1e-9 {
				t.Fatalf("chance %g within %g, want %g", p, active, want)
			}
		}
		chance := rapid.Float64Range(0.001, 0.999).Draw(t, "chance")
		if p := u.Probability(way, u.At(way, chance)); math.Abs(p-chance) > 1e-9 {
			t.Fatalf("chance %g came back as %g", chance, p)
		}
	})
}

func TestMoreDistanceIsNeverSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := estimate(histories(0, 25).Draw(t, "points"), calendars().Draw(t, "calendar"))
		way, chance := waysToGo().Draw(t, "way"), rapid.Float64Range(0.001, 0.999).Draw(t, "chance")
		further := way * rapid.Float64Range(1, 3).Draw(t, "further")
		if a, b := u.At(way, chance), u.At(further, chance); b < a*(1-1e-9) {
			t.Fatalf("with chance %g %g miles take %g, %g miles %g", chance, way/mile, a, further/mile, b)
		}
		active := rapid.Float64Range(1, 5_000).Draw(t, "active")
		if a, b := u.Probability(way, active), u.Probability(further, active); b > a+1e-12 {
			t.Fatalf("within %g days: chance %g of %g miles, %g of %g", active, a, way/mile, b, further/mile)
		}
	})
}

func TestEvidenceThatContradictsNeverNarrowsTheRange(t *testing.T) {
	narrower := 0
	rapid.Check(t, func(t *rapid.T) {
		points, cal := histories(1, 25).Draw(t, "points"), calendars().Draw(t, "calendar")
		last := points[len(points)-1]
		before := estimate(points, cal)
		next := forecast.Point{
			Day:      last.Day + rapid.Int32Range(1, 900).Draw(t, "days"),
			Distance: last.Distance + vehicle.Distance(rapid.Int64Range(1, 20_000).Draw(t, "miles"))*vehicle.Mile,
		}
		after := estimate(append(slices.Clone(points), next), cal)
		way := waysToGo().Draw(t, "way")
		spread := func(u *forecast.Usage) float64 { p10, _, p90 := u.Reach(way); return p90 / p10 }
		contradicts := true
		if active := cal.Active(next.Day) - cal.Active(last.Day); active > 0 {
			chance := before.Probability(float64(next.Distance-last.Distance), active)
			contradicts = chance < 0.1 || chance > 0.9
		}
		switch {
		case spread(&after) >= spread(&before)*(1-1e-9):
		case contradicts:
			t.Fatalf("the range went from %g to %g times", spread(&before), spread(&after))
		default:
			narrower++
		}
	})
	if narrower == 0 {
		t.Error("nothing narrows the range")
	}
}

func TestThePaceIsThatOfPerfectlySteadyReadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cal := calendars().Draw(t, "calendar")
		perDay := rapid.Float64Range(1, 40).Draw(t, "miles a day") * mile
		points := []forecast.Point{{Day: 18_000}}
		for intervals, active := 0, 0.0; active < 2*366 || intervals < 2; {
			day := points[len(points)-1].Day + rapid.Int32Range(20, 400).Draw(t, "days")
			if now := cal.Active(day) - cal.Active(18_000); now > active {
				active = now
				intervals++
			}
			points = append(points, forecast.Point{Day: day, Distance: vehicle.Distance(perDay * active)})
		}
		if u := estimate(points, cal); !near(u.PerDay(), perDay, 1e-7) {
			t.Fatalf("%g miles a day, want %g", u.PerDay()/mile, perDay/mile)
		}
	})
}

// TestADayIsFoundAsByCountingDays holds the calendar against counting day by
// day.
func TestADayIsFoundAsByCountingDays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cal := calendars().Draw(t, "calendar")
		from := rapid.Int32Range(17_000, 22_000).Draw(t, "from")
		active := rapid.Float64Range(0, 1_500).Draw(t, "active")
		const slack = 3e-5
		want, sum := from, 0.0
		for sum < active-slack && sum+weightOf(cal, want) < active-slack {
			sum += weightOf(cal, want)
			want++
		}
		got := cal.After(from, active)
		passed := cal.Active(got) - cal.Active(from)
		if got != want && math.Abs(passed-active) > 2*slack && math.Abs(passed+weightOf(cal, got)-active) > 2*slack {
			t.Fatalf("%g after %d: day %d, want %d", active, from, got, want)
		}
		if days := cal.Active(want) - cal.Active(from); math.Abs(days-sum) > 1e-6 {
			t.Fatalf("active time %g from %d to %d, want %g", days, from, want, sum)
		}
	})
}

// weightOf is what a day counts, by the definition.
func weightOf(cal *forecast.Calendar, day int32) float64 {
	for _, s := range cal.LayUps {
		if s.From <= day && day <= s.To {
			return 0
		}
	}
	if cal.Season.Source == forecast.Uniform {
		return 1
	}
	return cal.Season.Weights[vehicle.DateFromOrdinal(int(day)).Month-1]
}

func TestTheWeightsOfASeasonHaveAMeanOfOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := forecast.InMonths(rapid.IntRange(1, 12).Draw(t, "first"), rapid.IntRange(1, 12).Draw(t, "last"))
		cal := forecast.Calendar{Season: s}
		from := rapid.Int32Range(-200_000, 200_000).Draw(t, "from")
		const fourCenturies = 146_097 // days of the Gregorian calendar's cycle
		if got := cal.Active(from+fourCenturies) - cal.Active(from); !near(got, fourCenturies, 1e-9) {
			t.Fatalf("four centuries come to %g days", got)
		}
	})
}

func TestNothingIsAllocated(t *testing.T) {
	points, cal := twenty(), forecast.Calendar{Season: forecast.InMonths(5, 10), LayUps: winters()}
	cal.Index()
	var u forecast.Usage
	if n := testing.AllocsPerRun(100, func() {
		forecast.Estimate(&u, points, &cal, forecast.Assumed(), forecast.Never)
		p10, _, _ := u.Reach(mile)
		cal.After(20_000, p10)
		forecast.LearnSeason(points, nil)
	}); n != 0 {
		t.Errorf("%g allocations", n)
	}
}
