package warranty_test

import (
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

func TestHowFarAVehicleHadGone(t *testing.T) {
	marks := []Mark{{day("2026-05-01"), miles(310)}, {day("2026-03-03"), miles(10)}, {day("2026-07-30"), miles(1210)}}
	pace := Pace{Likely: miles(3650), High: miles(7300)} // 10 and 20 miles a day
	for name, c := range map[string]struct {
		pace              Pace
		on                string
		low, likely, high int
		known, read       bool
	}{
		"before the first mark":   {pace, "2026-03-02", 0, 0, 0, false, false},
		"on the day of a mark":    {pace, "2026-05-01", 310, 310, 310, true, true},
		"between two marks":       {pace, "2026-05-11", 310, 410, 1210, true, false}, // 900 miles in 90 days
		"on the day of the last":  {pace, "2026-07-30", 1210, 1210, 1210, true, true},
		"after the last":          {pace, "2026-08-09", 1210, 1310, 1410, true, false},
		"after the last, no pace": {Pace{}, "2026-08-09", 0, 0, 0, false, false},
		"between marks, no pace":  {Pace{}, "2026-05-11", 310, 410, 1210, true, false},
	} {
		got := ReachOn(marks, c.pace, day(c.on))
		whole := func(d vehicle.Distance) int { return int(d.Whole(vehicle.Miles)) }
		if whole(got.Low) != c.low || whole(got.Likely) != c.likely || whole(got.High) != c.high || got.Known != c.known || got.Read != c.read {
			t.Errorf("%s: %d to %d, likely %d, %+v", name, whole(got.Low), whole(got.High), whole(got.Likely), got)
		}
	}
}

func TestADistanceThatWasWorkedOutDecidesOnlyWhereItCannotMatter(t *testing.T) {
	seen := map[State]int{}
	rapid.Check(t, func(t *rapid.T) {
		q := world(t)
		low := miles(rapid.IntRange(40, 80).Draw(t, "low")) // no vehicle runs backwards, and at 40 all that a world has may have happened
		r := Reach{Low: low, High: low + miles(rapid.IntRange(1, 30).Draw(t, "wide")), Known: true}
		r.Likely = (r.Low + r.High) / 2
		got := DecideWithin(&q, r)
		seen[got.State]++
		for d := r.Low; d <= r.High && got.State != Unknown; d += vehicle.Mile / 2 {
			q.Distance = True(d)
			if at := Decide(&q); at.State != got.State {
				t.Fatalf("%d, and at %s it is %d: %s", got.State, d.Text(vehicle.Miles), at.State, at.Sentence)
			}
		}
	})
	if seen[Covered] == 0 || seen[NotCovered] == 0 || seen[Unknown] == 0 {
		t.Errorf("answers: %v", seen)
	}
	q := question()
	if c := DecideWithin(q, Reach{Low: miles(12000), Likely: miles(12005), High: miles(12011), Known: true}); c.State != Unknown || ruleOf(c, "DISTANCE_NOT_SURE").Rule == "" {
		t.Errorf("at the limit: %s", c.Sentence)
	}
	if c := DecideWithin(q, ReadAs(miles(12010))); c.State != Covered {
		t.Errorf("read at the limit: %s", c.Sentence)
	}
}
