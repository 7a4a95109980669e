package figure_test

import (
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/internal/figure"
)

func TestAnyCompletionKeepsTheRulesOfFigures(t *testing.T) {
	keepsTheRules(t, func(t *rapid.T) func(figure.Reader, figure.Layout) figure.Figure {
		c := figure.Completion{Name: names.Draw(t, "name"), Total: rapid.IntRange(0, 5000).Draw(t, "total"), Today: days.Draw(t, "today")}
		for range rapid.IntRange(0, 40).Draw(t, "points") {
			c.Points = append(c.Points, figure.CompletionPoint{On: days.Draw(t, "on"), Done: rapid.IntRange(0, 5000).Draw(t, "done")})
		}
		for range rapid.IntRange(0, 6).Draw(t, "letters") {
			c.Letters = append(c.Letters, figure.Letter{On: days.Draw(t, "on"), Name: names.Draw(t, "letter")})
		}
		return c.Figure
	})
}

func TestAnyLoadKeepsTheRulesOfFigures(t *testing.T) {
	keepsTheRules(t, func(t *rapid.T) func(figure.Reader, figure.Layout) figure.Figure {
		l := figure.Load{Name: names.Draw(t, "name"), Unit: names.Draw(t, "unit"), Decimals: rapid.IntRange(0, 1).Draw(t, "decimals")}
		if rapid.Bool().Draw(t, "limited") {
			l.Capacity = rapid.Float64Range(0, 500).Draw(t, "capacity")
		}
		first := days.Draw(t, "first")
		for i := range rapid.IntRange(0, 120).Draw(t, "weeks") {
			l.Weeks = append(l.Weeks, figure.Week{From: first.AddDays(7 * i), Due: rapid.Float64Range(0, 400).Draw(t, "due")})
		}
		return l.Figure
	})
}
