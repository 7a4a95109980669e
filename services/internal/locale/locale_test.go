package locale

import (
	"testing"

	"halfshaft/services/vehicle"
)

func TestHabitsOfReaders(t *testing.T) {
	for _, f := range []string{"en-GB", "en-US", "de-DE", "de-CH", "de-AT", "de-LI", "fr", "gsw", "x-y", ""} {
		l := For(f, "", vehicle.Miles)
		t.Logf("%s %s %q %q %q %q", f, l.Tag(), l.Date(vehicle.MustDate(2026, 12, 12)), l.Distance(14230*vehicle.Mile), l.Decimal("-1234.050"), l.Distance(vehicle.Mile))
	}
}
