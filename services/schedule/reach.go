package schedule

import "halfshaft/services/vehicle"

// Reach gives the days on which the vehicle has covered a true distance: early
// with a chance of one in ten, likely, and late with nine in ten. What is behind
// the last reading has one day; a day that is not in sight is zero.
func (s *Schedule) Reach(at vehicle.Distance) (early, likely, late vehicle.Date) {
	t := &s.travel
	last := t.points[len(t.points)-1]
	way := float64(at - last.Distance)
	if way <= 0 {
		d := t.when(float64(at)).date()
		return d, d, d
	}
	p10, middle, p90 := t.usage.Reach(way)
	on := func(active float64) vehicle.Date { return day(t.cal.After(int32(last.day), active)).date() }
	return on(p10), on(middle), on(p90)
}
