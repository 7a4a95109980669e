package figure_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
)

// rect is the room that a mark takes.
type rect struct{ left, top, right, bottom float64 }

// textRoom reckons with wider letters than most fonts have: see TestWidths in
// the package itself, and the figures in the comment of measure.go.
func textRoom(t figure.Text) rect {
	w := figure.Width(t.Text, t.Size, t.Bold)
	left := t.At.X
	switch t.Anchor {
	case figure.Middle:
		left -= w / 2
	case figure.End:
		left -= w
	}
	return rect{left, t.At.Y - 0.75*t.Size, left + w, t.At.Y + 0.2*t.Size}
}

func (r rect) meets(o rect) bool {
	return r.left < o.right && o.left < r.right && r.top < o.bottom && o.top < r.bottom
}

// around is the smallest rectangle around points.
func around(points ...figure.Point) rect {
	r := rect{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range points {
		r = rect{min(r.left, p.X), min(r.top, p.Y), max(r.right, p.X), max(r.bottom, p.Y)}
	}
	return r
}

// complaints says what is wrong with a figure, whatever it shows.
func complaints(f figure.Figure) []string {
	var all []string
	bad := func(format string, a ...any) { all = append(all, fmt.Sprintf(format, a...)) }
	d := f.Drawing
	inFrame := func(what any, r rect) {
		// NaN fails this too
		if !(r.left >= -0.6 && r.top >= -0.6 && r.right <= d.Width+0.6 && r.bottom <= d.Height+0.6) {
			bad("%+v is not within %g by %g", what, d.Width, d.Height)
		}
	}
	var texts []figure.Text
	for _, m := range d.Marks {
		switch m := m.(type) {
		case figure.Path:
			inFrame(m, around(m.Points...))
		case figure.Bar:
			if m.Width < 0 || m.Height < 0 {
				bad("%+v is turned inside out", m)
			}
			inFrame(m, around(m.Outline().Points...))
		case figure.Symbol:
			inFrame(m, rect{m.At.X - m.Size/2, m.At.Y - m.Size/2, m.At.X + m.Size/2, m.At.Y + m.Size/2})
		case figure.Text:
			if m.Size < 12 {
				bad("%q is too small to read: %g", m.Text, m.Size)
			}
			inFrame(m, textRoom(m))
			texts = append(texts, m)
		}
	}
	for i, t := range texts {
		for _, o := range texts[:i] {
			if textRoom(t).meets(textRoom(o)) {
				bad("%q covers %q at %v", t.Text, o.Text, t.At)
			}
		}
	}
	for _, row := range f.Table.Rows {
		if len(row) != len(f.Table.Heads) {
			bad("a row of %d cells under %d heads: %q", len(row), len(f.Table.Heads), row)
		}
	}
	if f.Title == "" || len(f.Description) == 0 || slices.Contains(f.Description, "") {
		bad("no title or description: %q %q", f.Title, f.Description)
	}
	return all
}

var layouts = []figure.Layout{figure.Narrow, figure.Column, figure.Wide, {Width: 1000}}

func TestSamplesKeepTheRulesOfFigures(t *testing.T) {
	for _, s := range samples() {
		for _, language := range []string{"en", "de"} {
			for _, l := range layouts {
				for _, c := range complaints(s.draw(figure.Reader{Language: language, Unit: s.unit}, l)) {
					t.Errorf("%s, %s, %g wide: %s", s.name, language, l.Width, c)
				}
			}
		}
	}
}

// keepsTheRules checks figures of random data in random layouts.
func keepsTheRules(t *testing.T, draw func(*rapid.T) func(figure.Reader, figure.Layout) figure.Figure) {
	t.Helper()
	rapid.Check(t, func(t *rapid.T) {
		f := draw(t)(reader(t), figure.Layout{Width: rapid.Float64Range(240, 1100).Draw(t, "width")})
		for _, c := range complaints(f) {
			t.Error(c)
		}
	})
}

func reader(t *rapid.T) figure.Reader {
	return figure.Reader{
		Language: rapid.SampledFrom([]string{"en", "de", ""}).Draw(t, "language"),
		Unit:     rapid.SampledFrom([]vehicle.Unit{vehicle.Miles, vehicle.Kilometres, ""}).Draw(t, "unit"),
	}
}

var (
	days = rapid.Custom(func(t *rapid.T) vehicle.Date {
		return day("1995-01-01").AddDays(rapid.IntRange(0, 14000).Draw(t, "day"))
	})
	names = rapid.OneOf(rapid.StringMatching(`[A-Za-zäöüß ]{0,14}`), rapid.StringMatching(`[A-Za-z ]{0,120}`), rapid.StringOfN(rapid.Rune(), 0, 40, -1))
	ways  = rapid.Custom(func(t *rapid.T) vehicle.Distance {
		return miles(rapid.OneOf(rapid.Float64Range(0, 300), rapid.Float64Range(0, 300_000)).Draw(t, "miles"))
	})
)

func TestAnyLedgerKeepsTheRulesOfFigures(t *testing.T) {
	keepsTheRules(t, func(t *rapid.T) func(figure.Reader, figure.Layout) figure.Figure { return randomLedger(t).Figure })
}

func randomLedger(t *rapid.T) figure.Ledger {
	l := figure.Ledger{Vehicle: names.Draw(t, "vehicle"), Today: days.Draw(t, "today"), Chance: rapid.IntRange(0, 99).Draw(t, "chance")}
	for range rapid.IntRange(0, 40).Draw(t, "readings") {
		l.Readings = append(l.Readings, figure.Reading{On: days.Draw(t, "on"), Distance: ways.Draw(t, "at"), Doubtful: rapid.IntRange(0, 5).Draw(t, "doubtful") == 0})
	}
	for range rapid.IntRange(0, 4).Draw(t, "events") {
		l.Events = append(l.Events, figure.InstrumentEvent{On: days.Draw(t, "on"), Name: names.Draw(t, "name")})
	}
	for range rapid.IntRange(0, 6).Draw(t, "limits") {
		l.Limits = append(l.Limits, figure.DistanceLimit{At: ways.Draw(t, "at"), Name: names.Draw(t, "name")})
	}
	if rapid.Bool().Draw(t, "forecast") {
		l.Forecast = fan(l.Today, ways.Draw(t, "from"), rapid.IntRange(0, 36).Draw(t, "months"), rapid.Float64Range(0, 9000).Draw(t, "pace"))
	}
	return l
}

func TestALedgersTableHasAllThatIsDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, r := randomLedger(t), reader(t)
		f := l.Figure(r, figure.Wide)
		if got, want := len(f.Table.Rows), len(l.Readings)+len(l.Events)+len(l.Forecast)+len(l.Limits); got != want {
			t.Fatalf("%d rows for %d readings, events, forecasts and limits", got, want)
		}
	})
}

func TestAnyPlanOfVisitsKeepsTheRulesOfFigures(t *testing.T) {
	keepsTheRules(t, func(t *rapid.T) func(figure.Reader, figure.Layout) figure.Figure {
		v := figure.Visits{Vehicle: names.Draw(t, "vehicle"), Today: days.Draw(t, "today"), Months: rapid.IntRange(0, 40).Draw(t, "months")}
		soon := func() vehicle.Date { return v.Today.AddDays(rapid.IntRange(-40, 900).Draw(t, "soon")) }
		for range rapid.IntRange(0, 20).Draw(t, "visits") {
			v.Visits = append(v.Visits, figure.Visit{On: soon(), Items: rapid.SliceOfN(names, 0, 12).Draw(t, "items")})
		}
		for range rapid.IntRange(0, 4).Draw(t, "lay-ups") {
			from := soon()
			v.LayUps = append(v.LayUps, figure.Span{From: from, To: from.AddDays(rapid.IntRange(0, 300).Draw(t, "days"))})
		}
		return v.Figure
	})
}
