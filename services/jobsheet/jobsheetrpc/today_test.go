package jobsheetrpc

import (
	"testing"
	"time"

	"halfshaft/services/vehicle"
)

// A sheet without a day is for today at the works, where it may be tomorrow
// already by the clocks of Greenwich.
func TestTodayIsTheDayAtTheWorks(t *testing.T) {
	s := &Service{Config: Config{Clock: func() time.Time { return time.Date(2026, 5, 18, 20, 0, 0, 0, time.UTC) }, Zone: time.FixedZone("NZST", 12*60*60)}}
	if got, want := s.today(), vehicle.MustDate(2026, 5, 19); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
