package vehicle_test

import (
	"math"
	"testing"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestWhatWasEnteredIsKeptBesideItsExactDistance(t *testing.T) {
	e := vehicle.Entered{Value: vehicle.Decimal{123456, 1}, Unit: vehicle.Miles}
	d, err := e.Distance()
	if err != nil || d != 19_868_317_286 { // NIST SP 811, O-18: 12 345.6 mi = 19 868.3172864 km
		t.Errorf("%s is %d mm, %v", e, d, err)
	}
	if e.String() != "12345.6 mi" || e.IsZero() {
		t.Errorf("written %q", e)
	}
}

func TestAnEntrySaysItselfToPeople(t *testing.T) {
	for _, one := range []struct{ digits, unit, want string }{
		{"12", "mi", "12 miles"}, {"1", "mi", "1 mile"}, {"7221", "mi", "7,221 miles"}, {"66350.5", "km", "66,350.5 km"}, {"1234567", "km", "1,234,567 km"},
	} {
		value, err := vehicle.ParseDecimal(one.digits)
		if err != nil {
			t.Fatal(err)
		}
		if got := (vehicle.Entered{Value: value, Unit: vehicle.Unit(one.unit)}).Text(); got != one.want {
			t.Errorf("%s %s: got %q, want %q", one.digits, one.unit, got, one.want)
		}
	}
	if got := (vehicle.Entered{}).Text(); got != "" {
		t.Errorf("nobody read it: got %q", got)
	}
}

func TestAnEntryThatIsNoDistanceIsRefused(t *testing.T) {
	if none := (vehicle.Entered{}); !none.IsZero() || none.String() != "" {
		t.Errorf("nothing is written %q", none)
	}
	for _, e := range []vehicle.Entered{
		{Value: vehicle.Decimal{5, 0}},
		{Value: vehicle.Decimal{5, 0}, Unit: "ft"},
		{Value: vehicle.Decimal{math.MaxInt64, 0}, Unit: vehicle.Miles},
	} {
		if d, err := e.Distance(); !fault.Is(err, fault.Invalid) || d != 0 {
			t.Errorf("%s is %d mm, %v; want an Invalid fault", e, d, err)
		}
	}
}
