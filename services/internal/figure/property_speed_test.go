package figure_test

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/internal/figure"
)

func TestAnySpeedometerKeepsTheRulesOfFigures(t *testing.T) {
	keepsTheRules(t, func(t *rapid.T) func(figure.Reader, figure.Layout) figure.Figure {
		s := figure.Speedometer{Vehicle: names.Draw(t, "vehicle")}
		for range rapid.IntRange(0, 4).Draw(t, "curves") {
			c := figure.SpeedCurve{Name: names.Draw(t, "name")}
			reads := rapid.Float64Range(0.7, 1.4).Draw(t, "reads")
			for v := range rapid.IntRange(0, 14).Draw(t, "points") {
				c.Points = append(c.Points, figure.SpeedPoint{True: float64(v * 10), Shown: float64(v*10) * reads})
			}
			s.Curves = append(s.Curves, c)
		}
		return s.Figure
	})
}

func TestAnyGearsKeepTheRulesOfFigures(t *testing.T) {
	keepsTheRules(t, func(t *rapid.T) func(figure.Reader, figure.Layout) figure.Figure {
		g := figure.RoadSpeeds{Vehicle: names.Draw(t, "vehicle"), From: rapid.Float64Range(0, 1000).Draw(t, "from"), To: rapid.Float64Range(900, 9000).Draw(t, "to")}
		for i := range rapid.IntRange(0, 12).Draw(t, "gears") {
			g.Gears = append(g.Gears, figure.Gear{
				Name: fmt.Sprint(i, names.Draw(t, "name")), Range: rapid.IntRange(-1, 4).Draw(t, "range"), Speed: rapid.Float64Range(-5, 60).Draw(t, "speed"),
			})
		}
		return g.Figure
	})
}
