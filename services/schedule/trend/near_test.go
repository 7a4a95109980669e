package trend

import "testing"

// What was measured counts as near by the last value since what it was measured
// on began anew.
func TestWhatIsNearALimit(t *testing.T) {
	cases := map[string]struct {
		series *Series
		near   bool
		rank   float64 // of those that are near; 0 is beyond
	}{
		"the middle of the window is near nothing":      {series(endFloat, "2025-11-14 0.10 mm"), false, 0},
		"less than a tenth of the window left is near":  {series(endFloat, "2025-11-14 0.142 mm"), true, 10_000.08},
		"a tenth exactly is near":                       {series(endFloat, "2025-11-14 0.14 mm"), true, 10_000.1},
		"the lower end counts as the upper does":        {series(endFloat, "2025-11-14 0.055 mm"), true, 10_000.05},
		"outside the window is beyond":                  {series(endFloat, "2025-11-14 0.16 mm"), true, 0},
		"the limit is met within two years":             {series(endFloat, rising[:5]...), true, 1},
		"one end is held against itself":                {series("mm - 3.0", "2025-11-14 2.8 mm"), true, 10_000.0667},
		"an action limit alone is one":                  {series("mm - - 3.0", "2025-11-14 2.8 mm"), true, 10_000.0667},
		"another unit is converted":                     {series(endFloat, "2025-11-14 5.6 thou"), true, 10_000.0776},
		"without a limit nothing is near":               {series("", "2025-11-14 0.16 mm"), false, 0},
		"never measured is near nothing":                {series(endFloat), false, 0},
		"what was before an overhaul says nothing more": {series(endFloat, "2019-11-14 0.19 mm").overhauled("2020-01-01"), false, 0},
		"in a unit that does not convert nobody knows":  {series(endFloat, "2025-11-14 0.14 bar"), false, 0},
	}
	on := day("2026-05-18")
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			trend := c.series.Trend(on, nil)
			near, rank := c.series.Near(&trend, on)
			if near != c.near || c.rank == 0 && rank != 0 || c.rank >= 10_000 && (rank < c.rank-0.0002 || rank > c.rank+0.0002) ||
				c.rank == 1 && (rank < 1 || rank > 732) {
				t.Errorf("near %v by %v, want %v by %v; %s", near, rank, c.near, c.rank, trend.Outlook.Sentence)
			}
		})
	}
}
