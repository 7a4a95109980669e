package trend

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

const lining = "mm 0.8 - 0.8"

func TestWhichWayAQuantityWears(t *testing.T) {
	for text, want := range map[string]float64{
		"mm - 38":          1,  // the lash of a steering box
		endFloat:           1,  // the action limit is above
		lining:             -1, // at least
		"psi 35 60":        0,  // either
		"kgf 5 8 3":        -1, // the action limit is below
		"mm 0.15 0.15 0.2": 1,
	} {
		if got := worse(limit(text)); got != want {
			t.Errorf("%s: %g, want %g", text, got, want)
		}
	}
	if worse(nil) != 0 {
		t.Error("without a limit it wears no way")
	}
}

func TestWhatGetsBetterByItselfDoesNotEnterTheTrend(t *testing.T) {
	worn := []string{"2013-01-01 6.0 mm", "2016-01-01 4.0 mm", "2019-01-01 1.7 mm"}
	for _, c := range []struct {
		name   string
		series *Series
		values []int
		says   string
	}{
		{"the last of them", series(lining, append(worn, "2021-01-01 5.0 mm")...), []int{0, 1, 2},
			"The 5.0 mm of 1 January 2021 is left out: it is better than the 1.7 mm of 1 January 2019, and wear does not go back. Measure again; or was it renewed or set anew in between? Then record that."},
		{"a slip that the next value shows", series(lining, append(worn, "2021-01-01 5.0 mm", "2022-01-01 1.5 mm")...), []int{0, 1, 2, 4}, "The 5.0 mm of 1 January 2021 is left out"},
		{"a renewal that nobody recorded", series(lining, append(worn, "2021-01-01 5.0 mm", "2022-01-01 4.6 mm", "2023-01-01 4.1 mm")...), []int{3, 4, 5},
			"They are counted from the 5.0 mm of 1 January 2021 on, which is better than the 1.7 mm of 1 January 2019 although nothing on record says why: if it was renewed or set anew in between, record that."},
		{"a renewal on record", series(lining, append(worn, "2021-01-01 5.0 mm")...).overhauled("2020-05-01"), []int{3}, "There is one value only since"},
		{"no more than the instrument", series(lining, append(worn, "2021-01-01 2.2 mm")...), []int{0, 1, 2, 3}, "4 values only"},
		{"by a hair more than that", series(lining, append(worn, "2021-01-01 2.3 mm")...), []int{0, 1, 2}, "The 2.3 mm of 1 January 2021 is left out"},
		{"no more than they went to and fro", series(lining, "2013-01-01 6.0 mm", "2014-01-01 6.4 mm", "2019-01-01 5.0 mm", "2021-01-01 6.0 mm"), []int{0, 1, 2, 3}, "4 values only"},
		{"upwards, where the limit is above", series(endFloat, "2013-01-01 0.13 mm", "2015-01-01 0.15 mm", "2017-01-01 0.17 mm", "2019-01-01 0.08 mm"), []int{0, 1, 2}, "The 0.08 mm of 1 January 2019 is left out"},
		{"where either way may be right", series("mm 8 13", "2013-01-01 13 mm", "2015-01-01 13 mm", "2017-01-01 13 mm", "2019-01-01 3 mm"), []int{0, 1, 2, 3}, "4 values only"},
		{"the first of them is the slip", series(lining, "2013-01-01 0.5 mm", "2014-01-01 5.0 mm", "2016-01-01 4.6 mm", "2018-01-01 4.2 mm"), []int{1, 2, 3}, "They are counted from the 5.0 mm"},
	} {
		got := c.series.Trend(day("2024-01-01"), nil)
		if !slices.Equal(got.Values, c.values) || !strings.Contains(got.Reason.Sentence, c.says) {
			t.Errorf("%s: %v, want %v\n got %s\nwant %s", c.name, got.Values, c.values, got.Reason.Sentence, c.says)
		}
	}
}

// What only ever wears is never doubted; and turned over, values and limit, it
// is the same.
func TestWearIsNeverDoubtedAndTheRuleIsTheSameBothWays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 9).Draw(t, "values")
		up, down := series("mm - 9"), series("mm -9 -")
		on, wears := day("2012-01-01"), true
		was := int64(0)
		for k := range n {
			on = on.AddDays(rapid.IntRange(1, 900).Draw(t, "days"))
			value := rapid.Int64Range(0, 900).Draw(t, "hundredths")
			wears, was = wears && (k == 0 || value >= was), value
			for s, sign := range map[*Series]int64{up: 1, down: -1} {
				s.Values = append(s.Values, Value{Date: on, Limit: s.Limit, Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: sign * value, Scale: 2}, Unit: "mm"}})
			}
		}
		a, b := up.Trend(on, nil), down.Trend(on, nil)
		if !slices.Equal(a.Values, b.Values) || !slices.Equal(a.Better, b.Better) || a.anew != b.anew {
			t.Fatalf("up %v and %v, down %v and %v", a.Values, a.Better, b.Values, b.Better)
		}
		if wears && (len(a.Better) > 0 || a.anew >= 0) {
			t.Fatalf("%v: doubted %v", up.Values, a.Better)
		}
	})
}
