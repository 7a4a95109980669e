package schedule

import (
	"math"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// layUps are the days on which a vehicle is not driven, in order.
type layUps []span

// driven counts the days before d that are no lay-up, from some fixed day on:
// only differences mean something.
func (l layUps) driven(d day) float64 {
	n := int64(d)
	for _, s := range l {
		if s.from >= d {
			break
		}
		n -= int64(min(s.to+1, d) - s.from)
	}
	return float64(n)
}

// Travel is the distance of a vehicle as a function of the day: between two
// readings shared out over the days driven, after the last as its use is
// forecast. Only the forecast knows of seasons, for they are learned, and what
// is learned later must not move what lies between two readings.
type Travel struct {
	points []Point
	xs     []float64 // days driven, at each point
	lay    layUps
	start  day // delivery: nothing is driven before it

	usage  forecast.Usage
	cal    forecast.Calendar
	active float64 // active time at the last point
}

// newTravel makes the travel of a ledger up to a day, in the memory of an old
// one.
func newTravel(old Travel, v *Vehicle, l *Ledger, lay layUps, delivered, on day) Travel {
	points := l.Points
	for len(points) > 0 && points[len(points)-1].day > on {
		points = points[:len(points)-1]
	}
	t := Travel{points: points, lay: lay, start: delivered, xs: old.xs[:0], cal: old.cal}
	t.cal.Season, t.cal.LayUps = forecast.Season{}, t.cal.LayUps[:0]
	for _, s := range lay {
		t.cal.LayUps = append(t.cal.LayUps, forecast.Span{From: int32(s.from), To: int32(s.to)})
	}
	t.cal.LayUps = forecast.WithHabit(t.cal.LayUps, int32(on)) // for dates only; no notice is moved by what is but expected
	var few [64]forecast.Point
	known := few[:0]
	for _, p := range points {
		known = append(known, forecast.Point{Day: int32(p.day), Distance: p.Distance})
	}
	t.cal.Season = v.season(known, &t.cal, on)
	t.cal.Index()
	forecast.Estimate(&t.usage, known, &t.cal, v.Habits.prior(), int32(on))
	if len(points) == 0 {
		t.points = []Point{{delivered, 0}}
	}
	for _, p := range t.points {
		t.xs = append(t.xs, lay.driven(p.day))
	}
	t.active = t.cal.Active(int32(t.points[len(t.points)-1].day))
	return t
}

// at is the true distance at the beginning of a day, in millimetres.
func (t *Travel) at(d day) float64 {
	d = max(d, t.start)
	last := len(t.points) - 1
	if d >= t.points[last].day {
		return float64(t.points[last].Distance) + t.usage.PerDay()*(t.cal.Active(int32(d))-t.active)
	}
	if d < t.points[0].day {
		// Before the first reading the pace of any vehicle is taken, so that
		// later readings do not change it.
		return float64(t.points[0].Distance) - priorPerDay*(t.xs[0]-t.lay.driven(d))
	}
	i := last
	for t.points[i-1].day > d { // most questions are about the last few readings
		i--
	}
	a, b := t.points[i-1], t.points[i]
	way, days, x := float64(b.Distance-a.Distance), t.xs[i]-t.xs[i-1], t.lay.driven(d)-t.xs[i-1]
	if days == 0 { // driven while it was said to be laid up
		days, x = float64(b.day-a.day), float64(d-a.day)
	}
	return float64(a.Distance) + way*x/days
}

// horizon is how far ahead a distance limit is looked for.
const horizon = 100 * 366

// when gives the day in whose course the distance is reached, endDay when that
// is not in sight.
func (t *Travel) when(target float64) day {
	last := len(t.points) - 1
	if target >= float64(t.points[last].Distance) {
		return day(t.cal.After(int32(t.points[last].day), (target-float64(t.points[last].Distance))/t.usage.PerDay()))
	}
	if first := t.points[0]; target < float64(first.Distance) {
		return t.before(first, target)
	}
	i := len(t.points) - 1
	for float64(t.points[i-1].Distance) > target {
		i--
	}
	a, b := t.points[i-1], t.points[i]
	way, driven := float64(b.Distance-a.Distance), t.xs[i]-t.xs[i-1]
	if driven == 0 {
		return a.day + day((target-float64(a.Distance))*float64(b.day-a.day)/way)
	}
	return min(t.ahead(a.day, target-float64(a.Distance), way/driven), b.day-1)
}

// before finds a distance before the first reading, day by day from the start:
// it is short, and seldom asked for.
func (t *Travel) before(first Point, target float64) day {
	d := t.start
	for d+1 < first.day && t.at(d+1) <= target {
		d++
	}
	return d
}

// ahead walks from a day at a pace, over the lay-ups.
func (t *Travel) ahead(from day, way, perDay float64) day {
	if perDay <= 0 || way/perDay > horizon {
		return endDay
	}
	left := math.Floor(way/perDay + 1e-9) // whole days driven before the day of the crossing
	d := from
	for _, s := range t.lay {
		if s.to < d {
			continue
		}
		free := float64(max(0, s.from-d))
		if left < free {
			break
		}
		if s.to >= endDay-1 {
			return endDay
		}
		left -= free
		d = s.to + 1
	}
	return d + day(left)
}

// distance is at, as a Distance.
func (t *Travel) distance(d day) vehicle.Distance { return vehicle.Distance(math.Round(t.at(d))) }
