package vehicle_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestAMileIsTheInternationalMile(t *testing.T) {
	// NIST SP 811 Appendix B: 1 mi = 1.609344 km exactly, O-18. The US survey
	// mile, 1.609347219 km, would be 1_609_347 mm.
	if vehicle.Mile != 1_609_344 || vehicle.Kilometre != 1000*vehicle.Metre {
		t.Errorf("a mile is %d mm, a kilometre %d m", vehicle.Mile, vehicle.Kilometre/vehicle.Metre)
	}
	// O-18: 20 000 km = 12 427.423845 mi.
	if got := (20000 * vehicle.Kilometre).In(vehicle.Miles); math.Abs(got-12427.423845) > 1e-6 {
		t.Errorf("20,000 km are %f mi", got)
	}
}

func TestDistancesAreWrittenInWholeUnits(t *testing.T) {
	half := vehicle.Mile / 2
	for _, c := range []struct {
		distance vehicle.Distance
		unit     vehicle.Unit
		want     string
	}{
		{1230 * vehicle.Mile, vehicle.Miles, "1,230 miles"},
		{640 * vehicle.Kilometre, vehicle.Kilometres, "640 km"},
		{0, vehicle.Miles, "0 miles"},
		{vehicle.Mile, vehicle.Miles, "1 mile"},
		{-vehicle.Mile, vehicle.Miles, "-1 mile"},
		{half, vehicle.Miles, "1 mile"},
		{half - 1, vehicle.Miles, "0 miles"},
		{-half, vehicle.Miles, "-1 mile"},
		{1 - half, vehicle.Miles, "0 miles"},
		{999 * vehicle.Mile, vehicle.Miles, "999 miles"},
		{1234567 * vehicle.Mile, vehicle.Miles, "1,234,567 miles"},
		{-123456 * vehicle.Kilometre, vehicle.Kilometres, "-123,456 km"},
		{vehicle.Mile, vehicle.Kilometres, "2 km"},
		{1500 * vehicle.Metre, "", "1,500 m"},
		{math.MinInt64, vehicle.Kilometres, "-9,223,372,036,855 km"},
	} {
		if got := c.distance.Text(c.unit); got != c.want {
			t.Errorf("%d mm in %q: %q, want %q", c.distance, c.unit, got, c.want)
		}
	}
}

func TestAWholeNumberOfUnitsIsWithinHalfAUnit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := vehicle.Distance(rapid.Int64().Draw(t, "distance"))
		u := rapid.SampledFrom([]vehicle.Unit{vehicle.Miles, vehicle.Kilometres}).Draw(t, "unit")
		n := d.Whole(u)
		// The difference is taken in two steps, so that it fits.
		off := d%u.Distance() - vehicle.Distance(n-int64(d/u.Distance()))*u.Distance()
		if 2*off > u.Distance() || -2*off > u.Distance() {
			t.Fatalf("%d mm are %d %s, off by %d mm", d, n, u, off)
		}
	})
}

func TestUnitsAreReadByTheirUsualNames(t *testing.T) {
	for text, want := range map[string]vehicle.Unit{
		"mi": "mi", "Miles": "mi", " mile ": "mi", "km": "km", "KM": "km", "kms": "km",
		"kilometres": "km", "kilometer": "km",
	} {
		if got, err := vehicle.ParseUnit(text); err != nil || got != want || !got.Valid() {
			t.Errorf("ParseUnit(%q) = %q, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "m", "mm", "k", "furlong"} {
		if got, err := vehicle.ParseUnit(text); !fault.Is(err, fault.Invalid) || got != "" {
			t.Errorf("ParseUnit(%q) = %q, %v; want an Invalid fault", text, got, err)
		}
	}
}

func TestNoUnitHasNoLength(t *testing.T) {
	if vehicle.Unit("").Distance() != 0 || !math.IsNaN(vehicle.Mile.In("")) || vehicle.Mile.Whole("ft") != 0 {
		t.Error("something was measured with no unit")
	}
}
