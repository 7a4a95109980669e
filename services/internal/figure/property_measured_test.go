package figure_test

import (
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/internal/figure"
)

func TestAnyMeasuredValueKeepsTheRulesOfFigures(t *testing.T) {
	keepsTheRules(t, func(t *rapid.T) func(figure.Reader, figure.Layout) figure.Figure { return randomMeasured(t).Figure })
}

func randomMeasured(t *rapid.T) figure.Measured {
	m := figure.Measured{
		Name: "w" + names.Draw(t, "name"), Unit: rapid.SampledFrom([]string{"mm", "thou", "N·m", "%"}).Draw(t, "unit"),
		Decimals: rapid.IntRange(0, 3).Draw(t, "decimals"), ByDistance: rapid.Bool().Draw(t, "by distance"), Today: days.Draw(t, "today"),
	}
	value := rapid.OneOf(rapid.Float64Range(0, 1), rapid.Float64Range(-50, 900))
	place := func() figure.Place { return figure.Place{On: days.Draw(t, "on"), At: ways.Draw(t, "at")} }
	for _, limit := range []**float64{&m.Lower, &m.Upper, &m.Action} {
		if rapid.Bool().Draw(t, "limited") {
			*limit = new(value.Draw(t, "limit"))
		}
	}
	for range rapid.IntRange(0, 40).Draw(t, "values") {
		m.Values = append(m.Values, figure.Value{Place: place(), Value: value.Draw(t, "value"), Aside: rapid.IntRange(0, 5).Draw(t, "aside") == 0})
	}
	for range rapid.IntRange(0, 4).Draw(t, "renewals") {
		m.Renewals = append(m.Renewals, figure.Renewal{Place: place(), Name: names.Draw(t, "work")})
	}
	if rapid.Bool().Draw(t, "meets") {
		m.Meets = &figure.Meeting{Limit: value.Draw(t, "limit"), Early: place(), Likely: place(), Late: place()}
		for range 3 {
			v := value.Draw(t, "trend")
			m.Trend = append(m.Trend, figure.TrendPoint{Place: place(), Low: v - 0.1, Likely: v, High: v + 0.1})
		}
	}
	return m
}

func TestAMeasuredValuesTableHasAllThatIsDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := randomMeasured(t)
		f := m.Figure(reader(t), figure.Wide)
		if got, want := len(f.Table.Rows), len(m.Values)+len(m.Renewals)+len(m.Trend); got != want {
			t.Fatalf("%d rows for %d values, renewals and points of the trend", got, want)
		}
	})
}
