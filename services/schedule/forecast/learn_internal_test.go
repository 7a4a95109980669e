package forecast

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

func TestTheDaysOfAnIntervalAreThoseOutsideLayUpsByMonth(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		points := []Point{{Day: 10_000}}
		for range rapid.IntRange(1, 6).Draw(t, "points") {
			last := points[len(points)-1]
			points = append(points, Point{last.Day + rapid.Int32Range(1, 400).Draw(t, "days"), last.Distance + vehicle.Mile})
		}
		var layUps []Span
		for from := int32(9_900); rapid.IntRange(0, 9).Draw(t, "more") > 0; {
			from += rapid.Int32Range(1, 300).Draw(t, "free")
			to := from + rapid.Int32Range(0, 300).Draw(t, "laid up")
			layUps = append(layUps, Span{from, to})
			from = to + 1
		}
		// Day by day, with the calendar of package time.
		var want []interval
		for i, p := range points[1:] {
			v := interval{way: float64(vehicle.Mile)}
			for day := points[i].Day; day < p.Day; day++ {
				driven := true
				for _, s := range layUps {
					driven = driven && (day < s.From || s.To < day)
				}
				if driven {
					v.total++
					v.days[time.Unix(int64(day)*86_400, 0).UTC().Month()-1]++
				}
			}
			if v.total > 0 {
				want = append(want, v)
			}
		}
		got := intervals(points, layUps, make([]interval, 0, learnLatest))
		if len(got) != len(want) {
			t.Fatalf("%d intervals, want %d", len(got), len(want))
		}
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("between %v, laid up %v: got %v, want %v", points, layUps, got[i], want[i])
			}
		}
	})
}
