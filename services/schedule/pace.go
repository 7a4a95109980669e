package schedule

import (
	"cmp"
	"slices"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// Habits is what a vehicle's forecast falls back on where its own readings do
// not say: how fast and in which months the vehicles of the fleet are used. The
// zero value knows nothing of the fleet, and what is assumed of any such
// vehicle holds.
type Habits struct {
	Prior  forecast.Prior
	Season forecast.Season
}

// prior is that of the fleet, or what is assumed of any vehicle.
func (h Habits) prior() forecast.Prior {
	if h.Prior.PerYear <= 0 {
		return forecast.Assumed()
	}
	return h.Prior
}

// Pace is how fast a vehicle is used, and how sure that is.
type Pace struct {
	PerDay  float64          // millimetres on a day of middling season outside a lay-up
	PerYear vehicle.Distance // in a year as it was lived, lay-ups included
	Season  forecast.Season
}

// Evidence says in words what the pace rests on, in the unit of the dial.
func (s *Schedule) Evidence(unit vehicle.Unit) vehicle.Reason { return s.travel.usage.Evidence(unit) }

// Season finds the months in which a vehicle is used: by its own readings, else
// by what its owner declared for the day, else as the fleet.
func (v *Vehicle) season(points []forecast.Point, cal *forecast.Calendar, on day) forecast.Season {
	if learned, ok := forecast.LearnSeason(points, cal.LayUps); ok {
		return learned
	}
	declared := UseFact{}
	for _, f := range v.Uses {
		in := f.Kind == Seasonal && dayOf(f.Start) <= on && (f.End.IsZero() || dayOf(f.End) >= on)
		if in && cmp.Or(f.Start.Compare(declared.Start), cmp.Compare(f.FirstMonth, declared.FirstMonth),
			cmp.Compare(f.LastMonth, declared.LastMonth)) > 0 { // the latest word, in whatever order they came
			declared = f
		}
	}
	if declared.Kind == Seasonal {
		return forecast.InMonths(declared.FirstMonth, declared.LastMonth)
	}
	return v.Habits.Season
}

// DistanceRange says how sure the day is on which an item's distance limb
// falls: it falls before early with a chance of one in ten, and before late
// with one of nine in ten; zero where it is not in sight. first is the chance
// in per cent that it falls before the time limb, 100 without one.
func (s *Schedule) DistanceRange(st *Status) (early, late vehicle.Date, first int) {
	if st.limit == 0 {
		return vehicle.Date{}, vehicle.Date{}, 0
	}
	t := &s.travel
	last := t.points[len(t.points)-1]
	way := float64(st.dueAt - last.Distance)
	if way <= 0 { // it is behind us: the readings tell
		early, late = st.distDue.date(), st.distDue.date()
		if st.timeDue == noDay || st.distDue < st.timeDue {
			first = 100
		}
		return early, late, first
	}
	p10, _, p90 := t.usage.Reach(way)
	early = max(st.anchor, day(t.cal.After(int32(last.day), p10))).date()
	late = max(st.anchor, day(t.cal.After(int32(last.day), p90))).date()
	if st.timeDue == noDay {
		return early, late, 100
	}
	return early, late, int(100*t.usage.Probability(way, t.cal.Active(int32(st.timeDue))-t.active) + 0.5)
}

// pace sums a forecast up.
func (t *Travel) pace() Pace {
	return Pace{PerDay: t.usage.PerDay(), PerYear: t.usage.PerYear(), Season: t.cal.Season}
}

// YearRange gives the distances between which a year's driving lies with a
// chance of four in five.
func (s *Schedule) YearRange() (low, high vehicle.Distance) {
	year := float64(s.Pace.PerYear) / s.Pace.PerDay // active time
	// The chance to drive a way within a year falls as the way grows.
	at := func(chance float64) vehicle.Distance {
		below, above := 0.0, 100*float64(s.Pace.PerYear)+float64(vehicle.Mile)
		for above-below > float64(vehicle.Mile)/10 {
			if way := (below + above) / 2; s.travel.usage.Probability(way, year) > chance {
				below = way
			} else {
				above = way
			}
		}
		return vehicle.Distance(below)
	}
	return at(0.9), at(0.1)
}

// Past is what one vehicle tells of its fleet.
type Past struct {
	forecast.History
	PerYear float64 // millimetres in a year as lived; 0 where it is the prior's more than its own
}

// PastUntil gives what a vehicle's readings before a day tell of its fleet,
// whatever the fleet was thought to be, and whatever was declared for later.
func (v *Vehicle) PastUntil(end vehicle.Date) Past {
	on := end.AddDays(-1)
	var ledger Ledger
	ledger.make(v.Segments, v.Marks, on)
	lay := until(spansOf(nil, v.Uses, setOf(LaidUp)), dayOf(on))
	alone := *v
	alone.Habits = Habits{}
	start := dayOf(v.Delivered)
	if start == noDay || len(ledger.Points) == 0 {
		return Past{}
	}
	t := newTravel(Travel{}, &alone, &ledger, lay, start, dayOf(on))
	p := Past{History: forecast.History{LayUps: t.cal.LayUps}}
	for _, point := range t.points {
		p.Points = append(p.Points, forecast.Point{Day: int32(point.day), Distance: point.Distance})
	}
	if !t.usage.Assumed() {
		p.PerYear = float64(t.usage.PerYear())
	}
	return p
}

// until leaves out of spans what is later than a day.
func until(spans []span, last day) []span {
	spans = slices.DeleteFunc(spans, func(s span) bool { return s.from > last })
	for i := range spans {
		spans[i].to = min(spans[i].to, last)
	}
	return spans
}

// fleetEnough is how many vehicles with a pace of their own say something of a
// fleet.
const fleetEnough = 5

// HabitsOf gives the habits of a fleet, from what each of its vehicles tells.
// The order matters to the last bits: give them in order of serials.
func HabitsOf(fleet []Past) Habits {
	var h Habits
	var paces []float64
	histories := make([]forecast.History, 0, len(fleet))
	for _, p := range fleet {
		if p.PerYear > 0 {
			paces = append(paces, p.PerYear)
		}
		histories = append(histories, p.History)
	}
	if len(paces) >= fleetEnough {
		h.Prior = forecast.FleetPrior(paces)
	}
	h.Season, _ = forecast.FleetSeason(histories...)
	return h
}
