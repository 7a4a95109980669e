package figure_test

import (
	"slices"
	"testing"

	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
)

// TestWhatTheRegulationAllows has the bounds of UN Regulation No. 39 § 5.3 at
// the speeds that it names: at true 40, 80 and 120 km/h not less than these may
// be shown, and not more than 48, 92 and 136 km/h.
func TestWhatTheRegulationAllows(t *testing.T) {
	s := figure.Speedometer{Curves: []figure.SpeedCurve{{Name: "now", Points: []figure.SpeedPoint{{40, 40}, {80, 92}, {120, 136}}}}}
	f := s.Figure(figure.Reader{Unit: vehicle.Kilometres}, figure.Wide)
	want := [][]string{{"40", "40.0", "40", "48.0"}, {"80", "92.0", "80", "92.0"}, {"120", "136.0", "120", "136.0"}}
	if !slices.EqualFunc(f.Table.Rows, want, slices.Equal) {
		t.Errorf("%q, want %q", f.Table.Rows, want)
	}
	if f.Description[1] != "That is within what is allowed." {
		t.Errorf("on the bounds: %q", f.Description)
	}
	for _, c := range []struct {
		shown float64
		want  string
	}{{39.9, "That is less than the true speed at some speeds."}, {48.1, "That is more than is allowed at some speeds."}} {
		s.Curves[0].Points[0].Shown = c.shown
		if got := s.Figure(figure.Reader{Unit: vehicle.Kilometres}, figure.Wide).Description[1]; got != c.want {
			t.Errorf("%g shown at 40 km/h: %q", c.shown, got)
		}
	}
}

// TestSpeedsAreInTheReadersUnit: 16.977362 mph are 27.322415 km/h, by the mile
// of 1.609344 km (NIST SP 811, Appendix B).
func TestSpeedsAreInTheReadersUnit(t *testing.T) {
	g := figure.RoadSpeeds{From: 1000, To: 4000, Gears: []figure.Gear{{Name: "4th", Speed: 27.322415}}}
	for unit, want := range map[vehicle.Unit]string{vehicle.Miles: "17.0", vehicle.Kilometres: "27.3", "": "17.0"} {
		if got := g.Figure(figure.Reader{Unit: unit}, figure.Wide).Table.Rows[0][1]; got != want {
			t.Errorf("in %q: %s, want %s", unit, got, want)
		}
	}
}

func TestTheLargestSpeedsStandHighest(t *testing.T) {
	f := eightGears().Figure(figure.Reader{}, figure.Wide)
	at := map[string]float64{}
	for _, m := range f.Drawing.Marks {
		if text, ok := m.(figure.Text); ok {
			at[text.Text] = text.At.Y
		}
	}
	order := []string{"4th, high", "3rd, high", "2nd, high", "4th, low", "1st, high", "3rd, low", "2nd, low", "1st, low"}
	for i := 1; i < len(order); i++ {
		if !(at[order[i-1]] < at[order[i]]) {
			t.Errorf("%s at %g is not above %s at %g", order[i-1], at[order[i-1]], order[i], at[order[i]])
		}
	}
}

func TestVisitsOutsideTheMonthsShownAreInTheTableOnly(t *testing.T) {
	v := plannedVisits()
	v.Months = 6
	f := v.Figure(figure.Reader{}, figure.Wide)
	if len(f.Table.Rows) != 5 || f.Description[0] != "One visit is planned until April 2027." {
		t.Errorf("%d rows, %q", len(f.Table.Rows), f.Description[0])
	}
	for _, m := range f.Drawing.Marks {
		if text, ok := m.(figure.Text); ok && text.Text == "4 Oct: 1 item" {
			t.Error("October is drawn")
		}
	}
}

func TestWhatIsBeyondTheCapacityIsHatched(t *testing.T) {
	l := figure.Load{Unit: "vehicles", Capacity: 3, Weeks: []figure.Week{{From: day("2026-11-23"), Due: 2}, {From: day("2026-11-30"), Due: 5}}}
	f := l.Figure(figure.Reader{}, figure.Wide)
	heights := map[figure.Fill][]float64{}
	for _, m := range f.Drawing.Marks {
		if b, ok := m.(figure.Bar); ok {
			heights[b.Fill] = append(heights[b.Fill], b.Height)
		}
	}
	within, beyond := heights[figure.Wash], heights[figure.Rising]
	if len(within) != 2 || len(beyond) != 1 || !nearly(beyond[0]*2, within[0]*2) || !nearly(within[1]*2, within[0]*3) {
		t.Errorf("within %v, beyond %v", within, beyond)
	}
	if got := f.Table.Rows[1][2]; got != "more than can be done" {
		t.Errorf("the note of the full week is %q", got)
	}
}

func nearly(a, b float64) bool { return a-b < 1e-6 && b-a < 1e-6 }

// TestAValueStandsWhereItWasMeasured looks at three values whose days and
// distances are spread differently.
func TestAValueStandsWhereItWasMeasured(t *testing.T) {
	m := figure.Measured{Name: "End float", Unit: "mm", Decimals: 2}
	for _, v := range []struct {
		on    string
		miles float64
		value float64
	}{{"2020-01-01", 1000, 0.10}, {"2020-01-11", 4000, 0.20}, {"2020-02-10", 5000, 0.15}} {
		m.Values = append(m.Values, figure.Value{Place: figure.Place{On: day(v.on), At: miles(v.miles)}, Value: v.value})
	}
	for _, c := range []struct {
		byDistance bool
		want       float64 // the share of the way from the first to the last at which the second stands
	}{{false, 10.0 / 40}, {true, 3000.0 / 4000}} {
		m.ByDistance = c.byDistance
		var at []figure.Point
		for _, mark := range m.Figure(figure.Reader{}, figure.Wide).Drawing.Marks {
			if s, ok := mark.(figure.Symbol); ok && s.Shape == figure.Dot {
				at = append(at, s.At)
			}
		}
		if len(at) != 3 || !nearly((at[1].X-at[0].X)/(at[2].X-at[0].X), c.want) || !nearly(2*(at[2].Y-at[0].Y), at[1].Y-at[0].Y) || at[1].Y >= at[0].Y {
			t.Errorf("by distance %v: %v", c.byDistance, at)
		}
	}
}

func TestAValueOnTheEndOfItsWindowIsWithinIt(t *testing.T) {
	for value, want := range map[float64]string{0.04: "outside its window", 0.05: "", 0.15: "", 0.16: "outside its window"} {
		m := figure.Measured{Name: "End float", Unit: "mm", Decimals: 2, Lower: new(0.05), Upper: new(0.15)}
		m.Values = []figure.Value{{Place: figure.Place{On: day("2026-01-02")}, Value: value}, {Place: figure.Place{On: day("2026-01-01")}, Value: 0.1, Note: "as left"}}
		row := m.Figure(figure.Reader{}, figure.Wide).Table.Rows[1]
		if got := row[len(row)-1]; got != want {
			t.Errorf("%g mm: %q, want %q", value, got, want)
		}
	}
}
