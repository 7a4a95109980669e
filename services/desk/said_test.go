package desk

import (
	"testing"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
)

func TestADialsFiguresAreWrittenAsPeopleReadThem(t *testing.T) {
	for _, c := range []struct{ value, unit, want string }{
		{"12", "mi", "12 miles"}, {"1", "mi", "1 mile"}, {"7221", "mi", "7,221 miles"}, {"66350.5", "km", "66,350.5 km"},
		{"1234567", "km", "1,234,567 km"}, {"999", "km", "999 km"}, {"", "", ""},
	} {
		if got := entered(&vehiclev1.Distance{EnteredValue: c.value, EnteredUnit: c.unit}); got != c.want {
			t.Errorf("%q %q: got %q, want %q", c.value, c.unit, got, c.want)
		}
	}
}
