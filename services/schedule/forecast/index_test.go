package forecast_test

import (
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule/forecast"
)

func TestAnIndexedCalendarAnswersAsOneThatIsNot(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var c forecast.Calendar
		day := int32(rapid.IntRange(-5_000, 20_000).Draw(t, "begin"))
		for range rapid.IntRange(0, 5).Draw(t, "lay-ups") {
			from := day + int32(rapid.IntRange(2, 400).Draw(t, "free"))
			day = from + int32(rapid.IntRange(0, 400).Draw(t, "laid up"))
			c.LayUps = append(c.LayUps, forecast.Span{From: from, To: day})
		}
		if n := len(c.LayUps); n > 0 && rapid.Bool().Draw(t, "open") {
			c.LayUps[n-1].To = forecast.Never
		}
		if first := rapid.IntRange(0, 12).Draw(t, "first month"); first > 0 {
			c.Season = forecast.InMonths(first, rapid.IntRange(1, 12).Draw(t, "last month"))
		}
		indexed := c
		indexed.Index()
		from := int32(rapid.IntRange(-6_000, 24_000).Draw(t, "from"))
		to := from + int32(rapid.IntRange(0, 4_000).Draw(t, "days"))
		a, b := c.Active(to)-c.Active(from), indexed.Active(to)-indexed.Active(from)
		if a-b > 1e-6 || b-a > 1e-6 {
			t.Fatalf("active time %v, indexed %v", a, b)
		}
		way := rapid.Float64Range(0, 3_000).Draw(t, "time")
		if x, y := c.After(from, way), indexed.After(from, way); x != y {
			t.Fatalf("after %v of %d: day %d, indexed %d", way, from, x, y)
		}
	})
}
