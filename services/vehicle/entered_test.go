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
