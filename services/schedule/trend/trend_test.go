package trend

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

const today = "2026-05-18"

func TestTrendsInWords(t *testing.T) {
	for _, c := range []struct {
		name    string
		series  *Series
		trend   string // how the sentence of the trend begins
		outlook string
	}{
		{"no value at all", series(endFloat), "There is no value, so", "From so few values no date"},
		{"one value", series(endFloat, rising[0]), "There is one value only, so no trend", "From so few values no date"},
		{"two values that differ", series(endFloat, "2020-01-01 0.11 mm", "2022-01-01 0.14 mm"),
			"There are two values only, so no trend can be told. 0.11 mm on 1 January 2020, 0.14 mm on 1 January 2022: 0.03 mm more.", "From so few values"},
		{"two values of a step", series(endFloat, "2020-01-01 0.11 mm", "2022-01-01 0.10 mm"),
			"There are two values only, so no trend can be told. 0.11 mm on 1 January 2020, 0.10 mm on 1 January 2022: 0.01 mm less, no more than a step of the instrument.", "From so few values"},
		{"three values within a step", series(endFloat, rising[:3]...),
			"3 values only, from 20 November 2012 to 14 November 2015, between 0.11 mm and 0.12 mm: no change that the instrument can tell, for its step is 0.01 mm.",
			"Without a trend no date is given on which it meets its limit."},
		{"values all alike", series(endFloat, "2020-01-01 0.11 mm", "2021-01-01 0.11 mm", "2022-01-01 0.11 mm"),
			"3 values only, from 1 January 2020 to 1 January 2022, all of them 0.11 mm: no change that", "Without a trend"},
		{"three values of one day", series(endFloat, "2020-01-01 0.11 mm", "2020-01-01 0.13 mm", "2020-01-01 0.15 mm"),
			"All values are of one day", "From so few values"},
		{"values that scatter", series(endFloat, "2020-01-01 0.10 mm", "2021-01-01 0.14 mm", "2022-01-01 0.09 mm", "2023-01-01 0.13 mm"),
			"4 values only, from 1 January 2020 to 1 January 2023, between 0.09 mm and 0.14 mm: they scatter", "Without a trend"},
		{"four that rise", series(endFloat, rising[:4]...),
			"4 values only, from 20 November 2012 to 14 November 2017: rising by about 0.0043 mm a year (0.0022 to 0.0063 in four cases out of five), counted by time, for the distance is not on record with each of them. They are few: the range says how little they tell.",
			"At this trend a measurement meets the upper end of its window, 0.15 mm, any day now, and by 1 March 2030 in nine cases out of ten; and its action limit, 0.22 mm, not before 26 April 2031."},
		{"eight that rise, past the window", series(endFloat, rising...), "8 values, from 20 November 2012 to 14 November 2025: rising by about 0.0048 mm a year (0.0043 to 0.0053",
			"At this trend a measurement meets its action limit, 0.22 mm, between 5 June 2034 and 5 October 2038, most likely about June 2036."},
		{"past both limits", series(endFloat, "2018-01-01 0.20 mm", "2020-01-01 0.24 mm", "2022-01-01 0.28 mm", "2024-01-01 0.32 mm"),
			"4 values only, from 1 January 2018 to 1 January 2024: rising by about 0.02 mm a year", "It is past its action limit, 0.22 mm, already, so no date is given."},
		{"falling where only the upper end has an action limit", series("mm - 0.15 0.22", "2020-01-01 0.14 mm", "2022-01-01 0.12 mm", "2024-01-01 0.10 mm", "2026-01-01 0.08 mm"),
			"4 values only, from 1 January 2020 to 1 January 2026: falling by about 0.01 mm a year", "It moves away from its limit"},
		{"without a limit", series("", rising...), "8 values", "The programme in force has no limit for it, so no date is given."},
		{"so slow that no limit is in sight", series("mm - 9.9 9.9", rising...), "8 values", "At this trend it does not meet the end of its window, which is its action limit too, 9.9 mm, within 20 years."},
		{"a slip among them", series(endFloat, append(slices.Clone(rising), "2026-03-01 0.71 mm")...),
			"8 values, from 20 November 2012 to 14 November 2025: rising by about 0.0048 mm a year (0.0043 to 0.0053 in four cases out of five), counted by time, for the distance is not on record with each of them. The 0.71 mm of 1 March 2026 lies far off the others and is left out: it may be a slip.",
			"At this trend a measurement meets its action limit, 0.22 mm, between 5 June 2034"},
		{"overhauled, with one value since", series(endFloat, rising...).overhauled("2024-01-01"),
			"There is one value only since the output shaft bearing was overhauled on 1 January 2024, so no trend can be told.", "From so few values"},
		{"a value of the day of the overhaul", series(endFloat, rising...).overhauled("2025-11-14"),
			"There is no value since the output shaft bearing was overhauled on 14 November 2025, so no trend", "From so few values"},
		{"as left on that day", series(endFloat, rising...).overhauled("2025-11-14").stage("2025-11-14", AsLeft), "There is one value only since", "From so few"},
		{"as found on that day", series(endFloat, rising...).overhauled("2025-11-14").stage("2025-11-14", AsFound), "There is no value since", "From so few"},
		{"a unit that does not convert", series(endFloat, append(slices.Clone(rising), "2026-03-01 7 kgf")...), "8 values", "At this trend"},
		{"by distance", series("mm 3.0 - 1.6", "2020-01-01 8.0 mm 100", "2021-01-01 7.0 mm 2600", "2022-01-01 6.8 mm 3100", "2023-01-01 5.6 mm 6100", "2024-01-01 5.4 mm 6600"),
			"5 values, from 1 January 2020 to 1 January 2024: falling by about 0.4 mm per 1,000 miles (0.39 to 0.41 in four cases out of five), counted by distance, over which they lie nearer to a line than over time.",
			"At this trend a measurement meets the lower end of its window, 3.0 mm, between 16 July 2028 and 5 December 2031, most likely about December 2029; and its action limit, 1.6 mm, between"},
		{"by time though the distance is known", series(endFloat, "2012-01-01 0.10 mm 0", "2014-01-01 0.11 mm 5000", "2016-01-01 0.12 mm 5100", "2018-01-01 0.13 mm 9000", "2020-01-01 0.14 mm 9100"),
			"5 values, from 1 January 2012 to 1 January 2020: rising by about 0.005 mm a year (0.0039 to 0.0061 in four cases out of five), counted by time; by distance it would be 0.004 mm per 1,000 miles, which the values bear out no better.", "At this trend"},
	} {
		got := c.series.Trend(day(today), steadily("2024-01-01", 6600))
		if !strings.HasPrefix(got.Reason.Sentence, c.trend) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got.Reason.Sentence, c.trend)
		}
		if !strings.HasPrefix(got.Outlook.Sentence, c.outlook) {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got.Outlook.Sentence, c.outlook)
		}
	}
}

func TestKilometresAreSpokenOfWhereTheDialCountsThem(t *testing.T) {
	s := series("mm 3.0 - 1.6", "2020-01-01 8.0 mm 100", "2021-01-01 7.0 mm 2600", "2022-01-01 6.8 mm 3100", "2023-01-01 5.6 mm 6100", "2024-01-01 5.4 mm 6600")
	s.Dial = vehicle.Kilometres
	// 0.40 mm in 1,000 miles is 0.25 mm in 1,000 km.
	if got := s.Trend(day(today), steadily("2024-01-01", 6600)).Reason.Sentence; !strings.Contains(got, "falling by about 0.25 mm per 1,000 km (") {
		t.Error(got)
	}
}

// draw makes a series of any kind.
func draw(t *rapid.T) *Series {
	s := &Series{Position: "hub", Characteristic: "end-float", Limit: anyLimit(t)}
	start := day("2012-01-01")
	for i := range rapid.IntRange(0, 9).Draw(t, "values") {
		known := rapid.Bool().Draw(t, "known")
		v := Value{
			Date:     start.AddDays(rapid.IntRange(0, 4000).Draw(t, "day")),
			Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: rapid.Int64Range(-40, 40).Draw(t, "value"), Scale: 2}, Unit: "mm"},
			Record:   fmt.Sprint("r", i), Known: known,
		}
		if known {
			v.Distance = vehicle.Distance(start.DaysUntil(v.Date)) * 4 * vehicle.Mile
		}
		s.Values = append(s.Values, v)
	}
	for range rapid.IntRange(0, 2).Draw(t, "breaks") {
		s.Breaks = append(s.Breaks, Break{Date: start.AddDays(rapid.IntRange(0, 4000).Draw(t, "break")), What: "it was overhauled"})
	}
	s.Sort()
	return s
}

// told is what a trend says, without what is inside it.
func told(tr Trend) string {
	return fmt.Sprintf("%d %d %v %v %v %.9v %.9v %v\n%s\n%s", tr.Direction, tr.Basis, tr.Values, tr.SetAside, tr.LeftOut, tr.PerYear, tr.PerMile, tr.Forecasts, tr.Reason, tr.Outlook)
}

func reach(d vehicle.Distance) (early, likely, late vehicle.Date) {
	return steadily("2024-01-01", 17000)(d)
}

func TestTheOrderOfTheRecordsChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := draw(t)
		want := told(s.Trend(day(today), reach))
		mixed := *s
		mixed.Values, mixed.Breaks = rapid.Permutation(s.Values).Draw(t, "values mixed"), rapid.Permutation(s.Breaks).Draw(t, "breaks mixed")
		mixed.Sort()
		if got := told(mixed.Trend(day(today), reach)); got != want {
			t.Fatalf("got %s\nwant %s", got, want)
		}
	})
}

// The same life some days later has the same trend, and its limits are met as
// many days later.
func TestShiftingTimeShiftsTheDates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := draw(t)
		by := rapid.IntRange(-3000, 3000).Draw(t, "days") * 4 // whole days of a like number of leap days differ by one at most
		later := *s
		later.Values, later.Breaks = slices.Clone(s.Values), slices.Clone(s.Breaks)
		for i := range later.Values {
			later.Values[i].Date = later.Values[i].Date.AddDays(by)
		}
		for i := range later.Breaks {
			later.Breaks[i].Date = later.Breaks[i].Date.AddDays(by)
		}
		a, b := s.Trend(day(today), nil), later.Trend(day(today).AddDays(by), nil)
		if a.Direction != b.Direction || !slices.Equal(a.Values, b.Values) || a.PerYear != b.PerYear || a.Outlook.Rule != b.Outlook.Rule {
			t.Fatalf("%s\nagainst %s", told(a), told(b))
		}
		for i := range a.Forecasts {
			if i >= len(b.Forecasts) {
				return // at the edge of the horizon, which is counted in calendar years
			}
			x, y := a.Forecasts[i], b.Forecasts[i]
			for _, d := range [][2]vehicle.Date{{x.Early, y.Early}, {x.Likely, y.Likely}, {x.Late, y.Late}} {
				if !d[0].IsZero() && !d[1].IsZero() && d[0].AddDays(by) != d[1] {
					t.Fatalf("%s in place of %s, %d days on", d[1], d[0], by)
				}
			}
		}
	})
}

func TestRangesHoldWhatIsLikely(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr := draw(t).Trend(day(today), reach)
		for _, f := range tr.Forecasts {
			if f.Early.IsZero() || f.Early.Before(day(today)) || !f.Likely.IsZero() && f.Likely.Before(f.Early) || !f.Late.IsZero() && f.Late.Before(f.Likely) {
				t.Fatalf("%+v\n%s", f, told(tr))
			}
		}
		if r := tr.PerYear; r.Low > r.Middle || r.High < r.Middle {
			t.Fatalf("%+v", r)
		}
		if len(tr.Values) < fewest && (tr.Direction != Untold || len(tr.Forecasts) > 0) {
			t.Fatalf("a trend from %d values: %s", len(tr.Values), told(tr))
		}
		if tr.Reason.Sentence == "" || tr.Outlook.Sentence == "" {
			t.Fatal("nothing said")
		}
	})
}

// Centimetres in place of millimetres are other numbers of the same trend.
func TestChangingTheUnitOfTheValuesDoesNotChangeTheTrend(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := draw(t)
		other := *s
		other.Values = slices.Clone(s.Values)
		for i := range other.Values {
			q := &other.Values[i].Quantity
			q.Value.Scale, q.Unit = 3, "cm" // 12 hundredths of a mm are 0.012 cm
		}
		a, b := s.Trend(day(today), nil), other.Trend(day(today), nil)
		if a.Direction != b.Direction || math.Abs(a.PerYear.Middle-b.PerYear.Middle) > 1e-12 || !slices.EqualFunc(a.Forecasts, b.Forecasts, func(x, y Forecast) bool { return x == y }) {
			t.Fatalf("%s\nagainst %s", told(a), told(b))
		}
	})
}

// worn makes a life: a part that wears by a law, measured every other year with
// an instrument of a hundredth, by two readings each of which is off by less
// than half a step, and a hand that is off by scatter besides.
func worn(r *rand.Rand, n int, perYear, scatter float64) *Series {
	s := &Series{Limit: limit("mm - 0.50 0.60")}
	for i := range n {
		size := 0.10 + perYear*float64(2*i) + scatter*r.NormFloat64()
		read := math.Round(100 * (size + (r.Float64()-r.Float64())/200))
		s.Values = append(s.Values, Value{Date: day("2010-01-01").AddMonths(24 * i), Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: int64(read), Scale: 2}, Unit: "mm"}})
	}
	return s
}

// Of lives that wear evenly, the range of the date holds the day on which a
// further measurement meets the limit in four cases out of five or more, and of
// lives that do not wear at all hardly one in ten is said to.
func TestRangesHoldInFourCasesOutOfFive(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 11))
	for _, c := range []struct {
		n                int
		perYear, scatter float64
	}{{3, 0.03, 0}, {4, 0.03, 0}, {6, 0.02, 0}, {9, 0.015, 0}, {4, 0.04, 0.01}, {6, 0.03, 0.01}, {9, 0.02, 0.01}} {
		held, dated := 0, 0
		for range 2000 {
			s := worn(r, c.n, c.perYear, c.scatter)
			from := s.Values[c.n-1].Date
			tr := s.Trend(from, nil)
			if len(tr.Forecasts) == 0 {
				continue
			}
			dated++
			// When a single measurement meets the limit: what is measured at the
			// true day is off by what any is.
			off := c.scatter*r.NormFloat64() + (r.Float64()-r.Float64())/200
			meets := day("2010-01-01").AddDays(int((0.5 - 0.10 - off) / c.perYear * daysPerYear))
			f := tr.Forecasts[0]
			if !meets.Before(f.Early) && (f.Late.IsZero() || !meets.After(f.Late)) {
				held++
			}
		}
		if share := float64(held) / float64(dated); dated < 200 || share < 0.76 {
			t.Errorf("%d values, %g a year, scatter %g: %d of %d held, %.2f", c.n, c.perYear, c.scatter, held, dated, share)
		}
	}
	for _, c := range []struct {
		n       int
		scatter float64
	}{{3, 0.01}, {5, 0.01}, {8, 0.01}, {8, 0}} {
		moving := 0
		for range 2000 {
			s := worn(r, c.n, 0, c.scatter)
			if d := s.Trend(s.Values[c.n-1].Date, nil).Direction; d != Steady {
				moving++
			}
		}
		if share := float64(moving) / 2000; share > 0.13 {
			t.Errorf("%d values that scatter by %g: %.2f of those that stand still are said to move", c.n, c.scatter, share)
		}
	}
}

func TestOfOneDayWhatWasFoundStandsFirst(t *testing.T) {
	s := series(endFloat)
	for _, v := range []struct {
		value string
		stage Stage
	}{{"0.08 mm", AsLeft}, {"0.12 mm", SomeTime}, {"0.18 mm", AsFound}} {
		s.Values = append(s.Values, Value{Date: day("2026-01-10"), Quantity: quantity(v.value), Stage: v.stage})
	}
	s.Sort()
	if s.Values[0].Stage != AsFound || s.Values[1].Stage != SomeTime || s.Values[2].Stage != AsLeft {
		t.Error(s.Values)
	}
}
