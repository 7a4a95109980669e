package forecast

import "math"

// What a season needs to be learned. Yearly readings carry none.
const (
	learnIntervals = 3   // intervals that are shorter than
	learnShort     = 160 // days, so that they tell one part of the year from another,
	learnDays      = 300 // over so many days in all
	learnLatest    = 24  // intervals looked at
	learnSure      = 0.2 // chance left to there being no season at all
)

// interval is a way and the days of each month in which it was driven.
type interval struct {
	way   float64
	days  [12]float64
	total float64
}

// intervals gives the last intervals between points, in the memory of into,
// without those that a lay-up fills.
func intervals(points []Point, layUps []Span, into []interval) []interval {
	points = points[max(0, len(points)-cap(into)-1):]
	for i := 1; i < len(points); i++ {
		v := interval{way: float64(points[i].Distance - points[i-1].Distance)}
		v.take(points[i-1].Day, points[i].Day, 1)
		for _, s := range layUps {
			if s.From >= points[i].Day {
				break
			}
			v.take(max(s.From, points[i-1].Day), min(s.To, points[i].Day-1)+1, -1)
		}
		if v.total > 0 && v.way >= 0 {
			into = append(into, v)
		}
	}
	return into
}

// take adds the days from one day to before another.
func (v *interval) take(from, to int32, sign float64) {
	if from >= to {
		return
	}
	v.total += sign * float64(to-from)
	year, month, of := civil(from)
	for from < to {
		n := min(length(year, month)-of, to-from)
		v.days[month] += sign * float64(n)
		from, of = from+n, 0
		if month++; month == 12 {
			year, month = year+1, 0
		}
	}
}

// LearnSeason finds the season of a vehicle in its own readings. It compares
// "driven alike all the year" with "driven from one month to another, and
// outside them little or hardly at all" for every run of two to eight months,
// and gives the mean of the months' weights over all of them, each as likely as
// the readings make it. It reports false when the readings are too few or too
// far apart to tell, or tell that there is no season.
func LearnSeason(points []Point, layUps []Span) (Season, bool) {
	var few [learnLatest]interval
	all := intervals(points, layUps, few[:0])
	short, days, way := 0, 0.0, 0.0
	for i := range all {
		days += all[i].total
		way += all[i].way
		if all[i].total <= learnShort {
			short++
		}
	}
	if short < learnIntervals || days < learnDays || way <= 0 {
		return Season{}, false
	}
	// The scale on which ways are counted: what is driven at one go.
	unit := math.Max(seasonLump, way/days*seasonDays)
	f := fitting{scale: 1 / (unit * way / days)}
	f.take(all)
	return f.weigh()
}

const (
	seasonLump = 60 * mile // a week-end
	seasonDays = 25.0      // or what is driven in so many days
	runsFrom   = 2         // months that a season lasts at least
	runsTo     = 8         // and at most
	runs       = 12 * (runsTo - runsFrom + 1)
)

// outside is the weight of a day outside the season; within it is 1.
var outside = [2]float64{0.03, 0.25}

// fitting holds seasons against intervals by weighted least squares: the ways
// are taken to vary as the days that they took.
type fitting struct {
	scale  float64
	n      int
	around [learnLatest][12 + runsTo + 1]float64 // days in the months before, on into the next year
	days   [learnLatest]float64
	ways   [learnLatest]float64
}

func (f *fitting) take(all []interval) {
	f.n = len(all)
	for i := range all {
		for m := range 12 + runsTo {
			f.around[i][m+1] = f.around[i][m] + all[i].days[m%12]
		}
		f.days[i], f.ways[i] = all[i].total, all[i].way
	}
}

// weigh averages the seasons by how well they explain the intervals, at the
// pace that fits each best.
func (f *fitting) weigh() (Season, bool) {
	var sums struct{ way, days float64 } // of ways; of days, which is of their squares by their variances too
	for i := range f.n {
		sums.way += f.ways[i]
		sums.days += f.days[i]
	}
	fit := func(wayTime, timeTime float64) float64 { return f.scale / 2 * wayTime * wayTime / timeTime }
	none := fit(sums.way, sums.days) + math.Log(float64(runs*len(outside)))
	best := none
	var logs [runs][len(outside)]float64
	for r := range logs {
		first, n := monthsOf(r)
		var inWay, inIn, in float64
		for i := range f.n {
			e := f.around[i][first+n] - f.around[i][first]
			inWay += e / f.days[i] * f.ways[i]
			inIn += e / f.days[i] * e
			in += e
		}
		for k, rest := range outside {
			less := 1 - rest
			logs[r][k] = fit(rest*sums.way+less*inWay, rest*rest*sums.days+2*rest*less*in+less*less*inIn)
			best = math.Max(best, logs[r][k])
		}
	}
	likely := math.Exp(none - best)
	sum, s := likely, Season{Source: Learned}
	for m := range s.Weights {
		s.Weights[m] = likely
	}
	for r := range logs {
		for k := range outside {
			if l := logs[r][k] - best; l > -7 {
				l = math.Exp(l)
				sum += l
				for m, w := range shapes[r][k].Weights {
					s.Weights[m] += l * w
				}
			}
		}
	}
	if likely/sum > learnSure {
		return Season{}, false
	}
	s.normalise()
	return s, true
}

// shapes are the weights of the seasons that are held against the intervals: by
// run of months and by the weight outside it.
var shapes = func() (all [runs][len(outside)]Season) {
	for r := range all {
		first, n := monthsOf(r)
		for k := range all[r] {
			s := &all[r][k]
			for m := range s.Weights {
				s.Weights[m] = outside[k]
			}
			for i := range n {
				s.Weights[(first+i)%12] = 1
			}
			s.normalise()
		}
	}
	return all
}()

// monthsOf gives the first month and the length of a run.
func monthsOf(run int) (first, n int) { return run % 12, runsFrom + run/12 }

// History is the points and the lay-ups of one vehicle.
type History struct {
	Points []Point
	LayUps []Span
}

// What the season of a fleet needs, and how much it is drawn to no season.
const (
	fleetVehicles = 5
	fleetDays     = 10 * 365
	fleetRounds   = 40
	fleetDraw     = 60.0 // days a month
)

// FleetSeason is the season that a fleet has in common, each vehicle counting
// by its days and not by its miles. It spreads each interval over the months as
// the weights found so far say, and finds the weights anew, until they stay. It
// reports false when there are too few vehicles or days.
func FleetSeason(fleet ...History) (Season, bool) {
	type one struct {
		intervals []interval
		way, days float64
	}
	var vehicles []one
	days := 0.0
	for _, h := range fleet {
		v := one{intervals: intervals(h.Points, h.LayUps, make([]interval, 0, len(h.Points)))}
		for i := range v.intervals {
			v.way += v.intervals[i].way
			v.days += v.intervals[i].total
		}
		if v.way > 0 {
			vehicles = append(vehicles, v)
			days += v.days
		}
	}
	if len(vehicles) < fleetVehicles || days < fleetDays {
		return Season{}, false
	}
	s := Season{Source: Fleet}
	for m := range s.Weights {
		s.Weights[m] = 1
	}
	for range fleetRounds {
		var used, had [12]float64
		for _, v := range vehicles {
			active := 0.0
			for i := range v.intervals {
				active += s.active(&v.intervals[i])
			}
			for i := range v.intervals {
				t := &v.intervals[i]
				share := t.way / v.way * active / math.Max(s.active(t), 1e-6)
				for m, n := range t.days {
					used[m] += n * s.Weights[m] * share
					had[m] += n
				}
			}
		}
		for m := range s.Weights {
			s.Weights[m] = (used[m] + fleetDraw) / (had[m] + fleetDraw)
		}
		s.normalise()
	}
	return s, true
}

// active is the active time in an interval.
func (s *Season) active(v *interval) float64 {
	t := 0.0
	for m, n := range v.days {
		t += n * s.Weights[m]
	}
	return t
}
