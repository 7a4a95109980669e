package trend

import (
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

func TestAValueIsHeldAgainstItsLimit(t *testing.T) {
	for _, c := range []struct {
		name, limit, value string
		want               Verdict
		close              bool
	}{
		{"in the middle", endFloat, "0.10 mm", Within, false},
		{"at the upper end", endFloat, "0.15 mm", Within, false},
		{"at the lower end", endFloat, "0.05 mm", Within, false},
		{"a step above", endFloat, "0.16 mm", OutsideWindow, false},
		{"at the action limit", endFloat, "0.22 mm", OutsideWindow, false},
		{"beyond it", endFloat, "0.23 mm", BeyondAction, false},
		{"below the window, where there is no action limit", endFloat, "-0.30 mm", OutsideWindow, false},
		{"in another unit, within", endFloat, "5 thou", Within, false},                        // 0.127 mm
		{"in another unit, closer than it can tell", endFloat, "6 thou", OutsideWindow, true}, // 0.1524 mm
		{"in another unit, beyond", endFloat, "9 thou", BeyondAction, false},                  // 0.2286 mm
		{"a lining at its limit", "mm 0.8 - 0.8", "0.8 mm", Within, false},
		{"a lining below it", "mm 0.8 - 0.8", "0.7 mm", BeyondAction, false},
		{"a torque in the other unit, within", "N·m 54 - 40", "40 lbf·ft", Within, false},     // 54.2 N·m
		{"a torque short of it", "N·m 54 - 40", "39 lbf·ft", OutsideWindow, false},            // 52.9 N·m
		{"a pressure below its action limit", "psi 23 27 20", "130 kPa", BeyondAction, false}, // 18.9 psi
		{"a pressure above its window, where there is no action limit", "psi 23 27 20", "300 kPa", OutsideWindow, false},
		{"a freezing point", "°C - -30 -20", "-22 °F", Within, false}, // -30 °C exactly
		{"a freezing point too high", "°C - -30 -20", "0 °F", BeyondAction, false},
		{"no action limit", "mm - 6", "60 mm", OutsideWindow, false},
		{"in a unit of something else", endFloat, "3 kgf", NoVerdict, false},
		{"a window of one value", "mm 5 5 5", "6 mm", BeyondAction, false},
		{"a window of one value, below", "mm 5 5 5", "4 mm", BeyondAction, false},
	} {
		got := Hold(limit(c.limit), quantity(c.value))
		if got.Verdict != c.want || got.Close != c.close {
			t.Errorf("%s: %d, close %t; want %d, %t", c.name, got.Verdict, got.Close, c.want, c.close)
		}
	}
	if got := Hold(nil, quantity("1 mm")); got.Verdict != NoVerdict {
		t.Errorf("without a limit: %d", got.Verdict)
	}
}

// anyLimit draws a limit that a programme may have.
func anyLimit(t *rapid.T) *schedule.MeasuredLimit {
	at := func(n int64) *vehicle.Decimal { return &vehicle.Decimal{Coefficient: n, Scale: 2} }
	l := &schedule.MeasuredLimit{Characteristic: "end-float", Unit: "mm"}
	low := rapid.Int64Range(-30, 30).Draw(t, "lower")
	high := low + rapid.Int64Range(0, 30).Draw(t, "width")
	off := rapid.Int64Range(0, 20).Draw(t, "action off")
	switch rapid.IntRange(0, 5).Draw(t, "form") {
	case 0:
		l.Lower, l.Upper, l.Action = at(low), at(high), at(high+off)
	case 1:
		l.Lower, l.Upper, l.Action = at(low), at(high), at(low-off)
	case 2:
		l.Upper, l.Action = at(high), at(high+off)
	case 3:
		l.Lower, l.Action = at(low), at(low-off)
	case 4:
		l.Lower, l.Upper = at(low), at(high)
	default:
		l.Upper = at(high)
	}
	return l
}

func TestFurtherPastALimitIsNeverBetter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := anyLimit(t)
		a := vehicle.Quantity{Value: vehicle.Decimal{Coefficient: rapid.Int64Range(-900, 900).Draw(t, "value"), Scale: 3}, Unit: "mm"}
		b := a
		first := Hold(l, a)
		if first.Verdict == Within {
			return
		}
		further := rapid.Int64Range(0, 500).Draw(t, "further")
		if first.Low {
			further = -further
		}
		b.Value.Coefficient += further
		if second := Hold(l, b); second.Verdict < first.Verdict || second.Off.Cmp(first.Off) < 0 {
			t.Fatalf("%s is %d and %s is %d", a, first.Verdict, b, second.Verdict)
		}
	})
}

// A value in micrometres says what it says in millimetres, and both limit and
// value in another unit say the same again.
func TestChangingTheUnitDoesNotChangeTheVerdict(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := anyLimit(t)
		n := rapid.Int64Range(-900, 900).Draw(t, "value")
		want := Hold(l, vehicle.Quantity{Value: vehicle.Decimal{Coefficient: n, Scale: 3}, Unit: "mm"})
		for _, q := range []vehicle.Quantity{
			{Value: vehicle.Decimal{Coefficient: n}, Unit: "µm"}, {Value: vehicle.Decimal{Coefficient: n, Scale: 4}, Unit: "cm"},
			{Value: vehicle.Decimal{Coefficient: n, Scale: 6}, Unit: "m"},
		} {
			if got := Hold(l, q); got.Verdict != want.Verdict || got.Off.Cmp(want.Off) != 0 || got.Low != want.Low || got.Close != want.Close {
				t.Fatalf("%s: %+v, want %+v", q, got, want)
			}
		}
		inches := *l
		inches.Unit = "in" // the same numbers of another length
		if got := Hold(&inches, vehicle.Quantity{Value: vehicle.Decimal{Coefficient: n, Scale: 3}, Unit: "in"}); got.Verdict != want.Verdict {
			t.Fatalf("in inches throughout: %d, want %d", got.Verdict, want.Verdict)
		}
	})
}

func TestLimitsThatAskTheSame(t *testing.T) {
	a, b := limit("mm 0.05 0.15 0.20"), limit("mm 0.05 0.150 0.2")
	b.Method = "otherwise"
	if !SameLimit(a, b) {
		t.Error("the same numbers")
	}
	for _, other := range []string{"mm 0.05 0.15 0.22", "mm 0.05 0.15", "mm - 0.15 0.20", "thou 0.05 0.15 0.20"} {
		if SameLimit(a, limit(other)) {
			t.Errorf("the same as %s", other)
		}
	}
}
