package schedule_test

import (
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

func TestADistanceAheadHasARangeAndOneBehindADay(t *testing.T) {
	v := &schedule.Vehicle{Delivered: vehicle.MustDate(2020, 1, 1), Segments: []schedule.Segment{{
		From: vehicle.MustDate(2020, 1, 1), Dial: vehicle.Dial{Digits: 5, Unit: vehicle.Miles, TurnsPerUnit: 1000}, FactorPPM: schedule.Unity,
		Start: vehicle.Entered{Unit: vehicle.Miles}}}}
	for i, on := range []vehicle.Date{vehicle.MustDate(2021, 1, 1), vehicle.MustDate(2022, 1, 1), vehicle.MustDate(2023, 1, 1), vehicle.MustDate(2024, 1, 1)} {
		v.Marks = append(v.Marks, schedule.Mark{Record: on.String(), Date: on, Value: vehicle.Entered{Value: vehicle.Decimal{Coefficient: int64(1000 * (i + 1))}, Unit: vehicle.Miles}})
	}
	var s schedule.Schedule
	s.Evaluate(&schedule.Plan{}, v, vehicle.MustDate(2024, 6, 1))
	early, likely, late := s.Reach(6000 * vehicle.Mile)
	// A thousand miles a year: two thousand more are driven about the turn of 2026.
	if off := vehicle.MustDate(2026, 1, 1).DaysUntil(likely); off < -60 || off > 60 || !early.Before(likely) || !late.After(likely) {
		t.Errorf("%s, %s, %s", early, likely, late)
	}
	early, likely, late = s.Reach(2500 * vehicle.Mile)
	if early != likely || likely != late || likely.Year != 2022 {
		t.Errorf("behind: %s, %s, %s", early, likely, late)
	}
	if _, _, late = s.Reach(1e9 * vehicle.Mile); !late.IsZero() {
		t.Errorf("out of sight: %s", late)
	}
}
