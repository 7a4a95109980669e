package vehicle_test

import (
	"testing"

	"halfshaft/services/vehicle"
)

func TestHowLongWorkTook(t *testing.T) {
	for text, want := range map[string]int{
		"300 minutes": 300, "1 minute": 1, "2.5 hours": 150, "0.25 hours": 15, "1 hour": 60, "1.005 hours": -1, "0.5 minutes": -1,
		"-5 minutes": -1, "5": -1, "5 days": -1, "": -1, "hours": -1, "99999999999 minutes": -1, "2147483647 hours": -1,
	} {
		n, ok := vehicle.ParseMinutes(text)
		if ok != (want >= 0) || ok && n != want {
			t.Errorf("%q: got %d, %v; want %d", text, n, ok, want)
		}
	}
}
