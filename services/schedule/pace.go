package schedule

import (
	"slices"
	"strconv"

	"halfshaft/services/vehicle"
)

// TheilSen gives the median of all slopes between two points with different x
// (Theil 1950, Sen 1968). It reports false when there are none. Up to 29 % of
// the points may be wild without spoiling it.
func TheilSen(x, y []float64) (slope float64, ok bool) {
	var few [paceMostPoints * (paceMostPoints - 1) / 2]float64 // enough for a vehicle
	slopes := few[:0]
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	if len(slopes) == 0 {
		return 0, false
	}
	return median(slopes), true
}

// median orders the values and gives the middle one, or the mean of the two.
func median(values []float64) float64 {
	slices.Sort(values)
	n := len(values)
	if n%2 == 1 {
		return values[n/2]
	}
	return (values[n/2-1] + values[n/2]) / 2
}

// Pace is how fast a vehicle is used.
type Pace struct {
	PerDay   float64          // millimetres on a day on which it is not laid up
	PerYear  vehicle.Distance // in a year as it was lived, lay-ups included
	Readings int              // how many points it rests on
	From, To vehicle.Date     // their days
	Assumed  bool             // too few readings: the pace of any such vehicle is assumed
}

// What a pace needs: fewer days say more about one trip than about a habit.
const (
	paceNeedsDays  = 60
	paceMostPoints = 12 // the latest ones: habits change
)

// paceOf estimates the pace from the points that count.
func paceOf(points []Point, lay layUps) Pace {
	p := Pace{PerDay: priorPerDay, PerYear: priorPerYear, Readings: len(points), Assumed: true}
	if len(points) > paceMostPoints {
		points = points[len(points)-paceMostPoints:]
	}
	if len(points) == 0 {
		return p
	}
	first, last := points[0].day, points[len(points)-1].day
	p.From, p.To = first.date(), last.date()
	driven := lay.driven(last) - lay.driven(first)
	if driven < paceNeedsDays {
		return p
	}
	var xs, ys [paceMostPoints]float64
	for i, pt := range points {
		xs[i], ys[i] = lay.driven(pt.day), float64(pt.Distance)
	}
	slope, ok := TheilSen(xs[:len(points)], ys[:len(points)])
	if !ok {
		return p
	}
	p.PerDay, p.Assumed, p.Readings = max(0, slope), false, len(points)
	p.PerYear = vehicle.Distance(p.PerDay * daysPerYear * driven / float64(last-first))
	return p
}

// Evidence says in words what the pace rests on, in the unit of the dial.
func (p Pace) Evidence(unit vehicle.Unit) vehicle.Reason {
	year := "about " + p.PerYear.Text(unit)
	if p.Assumed {
		have := "There is no reading"
		switch {
		case p.Readings == 1:
			have = "There is one reading only"
		case p.Readings > 1:
			have = "There are readings of less than two months only"
		}
		return vehicle.Reason{
			Rule:     "PACE_ASSUMED",
			Facts:    []vehicle.Fact{{Name: "readings", Value: strconv.Itoa(p.Readings)}, {Name: "per_year", Value: p.PerYear.Text(unit)}},
			Sentence: have + ", so " + year + " a year are assumed, as for any such vehicle.",
		}
	}
	return vehicle.Reason{
		Rule: "PACE_FROM_READINGS",
		Facts: []vehicle.Fact{
			{Name: "readings", Value: strconv.Itoa(p.Readings)}, {Name: "from", Value: p.From.String()},
			{Name: "to", Value: p.To.String()}, {Name: "per_year", Value: p.PerYear.Text(unit)},
		},
		Sentence: strconv.Itoa(p.Readings) + " readings from " + p.From.Long() + " to " + p.To.Long() + " give " + year + " a year.",
	}
}
