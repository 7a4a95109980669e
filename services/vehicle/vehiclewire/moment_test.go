package vehiclewire_test

import (
	"testing"
	"time"

	"halfshaft/services/vehicle/vehiclewire"
)

func TestAMomentSurvivesAndNoneIsLeftOut(t *testing.T) {
	at := time.Date(2026, time.March, 3, 12, 30, 0, 1000, time.UTC)
	if got := vehiclewire.Moment(vehiclewire.MomentProto(at)); !got.Equal(at) || got.Location() != time.UTC {
		t.Errorf("got %v", got)
	}
	if p := vehiclewire.MomentProto(time.Time{}); p != nil {
		t.Errorf("the zero time is %v", p)
	}
	if got := vehiclewire.Moment(nil); !got.IsZero() {
		t.Errorf("none is %v", got)
	}
}
