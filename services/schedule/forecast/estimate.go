package forecast

import "math"

// The constants of the model. They were chosen on one set of simulated owners
// and judged on another: see CALIBRATION.md.
const (
	window    = 12              // points whose slopes are compared
	year      = yearDays        // active days
	mile      = 1_609_344.0     // millimetres
	lumpsFew  = 135 * mile      // driving in lumps, before the readings tell
	lumpsWait = 4.0             // how many intervals that counts for
	drift     = 0.065 / year    // variance that the logarithm of the pace gathers in a day
	fades     = 3 * year        // by this age of its earlier point a slope weighs 1/e
	believed  = 0.8             // normal score up to which an interval agrees in full
	widening  = 0.1             // how much variance an interval adds for each score beyond the tenth
	rateMost  = 1.2             // the most that such widening comes to
	off       = 1.0             // departure beyond which two intervals running show a change of habit
	loose     = 0.15            // variance of an interval's pace about the vehicle's own, however long
	uneven    = 0.15 * year     // and what is added to it for a day, less over more days
	lumpsJump = 9.0             // how many times its expectation a squared deviation counts at most
	oldCounts = 0.15            // weight left to readings from before a change of habit
	priorYear = 0.4 * year      // the prior counts as that much driving at its pace
	ample     = 2 * year        // by then the prior counts nothing
	leastYear = 60.0            // active days to which the prior's year is squeezed at most
	slowest   = 1 * mile / year // a vehicle that stands still is still driven so much
)

// Estimate makes the forecast of a vehicle out of its points, in order of days,
// one to a day; those after today are left out. It allocates nothing and keeps
// nothing of the points.
//
// It takes the points one after the other. Each interval is first held against
// the forecast made without it: what agrees narrows the range, what the
// forecast gave less than one chance in five never does. The pace is then the
// weighted median of the slopes between any two of the points, long and late
// ones weighing more, mixed with the prior while there is little evidence. When
// two intervals running were off the same way, the habit has changed and what
// was before counts little.
func Estimate(dst *Usage, points []Point, cal *Calendar, prior Prior, today int32) {
	for len(points) > 0 && points[len(points)-1].Day > today {
		points = points[:len(points)-1]
	}
	first, last := today, today
	if n := len(points); n > 0 {
		first, last = points[0].Day, points[n-1].Day
	}
	// Who lays a vehicle up drives as far in the year as others do, in less time.
	var f folding
	f.begin(float64(prior.PerYear) / max(yearAsLived(cal, first, first), leastYear))
	*dst = Usage{
		pace: max(f.base, slowest), yearly: yearAsLived(cal, first, last), rate: prior.Sigma * prior.Sigma, lumps: lumpsFew,
		readings: int32(len(points)), season: cal.Season.Source, prior: prior, assumed: true,
		first: first, last: last,
	}
	dst.change = drift / 3 / dst.pace
	if from, to, ok := cal.Season.months(); ok {
		dst.from, dst.to = int8(from), int8(to)
	}
	for i := range points {
		f.add(dst, cal.Active(points[i].Day), float64(points[i].Distance))
	}
}

// yearAsLived is the active time in a year: over up to three whole years before
// the last point, or else over the one that follows the first.
func yearAsLived(cal *Calendar, first, last int32) float64 {
	years := min((last-first)/365, 3)
	if years < 1 {
		last, years = first+365, 1
	}
	days := int32(math.Round(float64(years) * yearDays))
	return (cal.Active(last) - cal.Active(last-days)) * yearDays / float64(days)
}

// folding is the state of an estimate.
type folding struct {
	base     float64 // the prior's pace
	begun    float64 // active time at the first point
	n        int     // points in the window
	at       [window]spot
	pairs    [pairs]slope
	order    [pairs]uint8 // places in pairs: those in use in order of their pace, then the free ones
	count    int          // pairs in use
	steps    float64      // intervals so far
	own      float64      // pace by the slopes alone
	departed float64      // how far the last interval was off it
}

// pairs is how many slopes there are between the points of a window.
const pairs = window * (window - 1) / 2

// spot is a point in the window.
type spot struct {
	time, way float64
	weight    float64 // what it counts for as the beginning of a slope
	id        int32
}

// slope is the pace between two points of the window.
type slope struct {
	pace, weight float64
	from, to     int32
}

// begin begins an estimate at the prior's pace, without points.
func (f *folding) begin(base float64) {
	f.base = base
	for i := range f.order {
		f.order[i] = uint8(i)
	}
}

// add takes the next point.
func (f *folding) add(u *Usage, time, way float64) {
	if f.n == 0 {
		f.begun = time
		f.push(time, way)
		return
	}
	last := f.at[f.n-1]
	t, d := time-last.time, way-last.way
	if t <= 0 {
		// Driven in a lay-up or out of season: the way is known and the time
		// is not, so it counts as driven before.
		before := u.change
		f.n--
		f.forget(last.id)
		f.push(last.time, way)
		f.centre(u, last.time-f.begun, 0)
		u.change = max(u.change, before)
		return
	}
	z, before := u.surprise(t, d), *u
	u.learn(t, d, z, f.steps)
	departed := f.departs(t, d)
	f.push(time, way)
	f.steps++
	f.centre(u, time-f.begun, departed)
	if math.Abs(z) > outer { // the lumps have grown by themselves then
		u.rate = max(u.rate, before.rate)
		u.change = max(u.change, before.change)
	}
}

// departs is how far an interval's pace departs from the vehicle's own before
// it: a score like that of surprise, but of proportions alone, so that it is
// the same for a vehicle that does the same at twice the pace. It is nought
// for the first interval.
func (f *folding) departs(t, d float64) float64 {
	switch {
	case f.steps == 0:
		return 0
	case f.own <= 0:
		return d
	}
	y := max(d/(f.own*t), 1e-9)
	return (math.Sqrt(y) - 1/math.Sqrt(y)) / math.Sqrt(loose+uneven/(t*y))
}

// surprise is the normal score of an interval under the forecast made without
// it: above nought when more was driven than expected.
func (u *Usage) surprise(t, d float64) float64 {
	return -u.score(max(d, 1), t)
}

// learn takes an interval into the variances.
func (u *Usage) learn(t, d, z, steps float64) {
	off := math.Abs(z)
	noise := u.lumps / (u.pace * t)
	narrowed := u.rate * noise / (u.rate + noise)
	agrees := min(max((outer-off)/(outer-believed), 0), 1)
	u.rate += (narrowed-u.rate)*agrees + drift*t
	if off > outer {
		u.rate = max(u.rate, min(u.rate+widening*(off-outer), rateMost))
	}
	expected := u.pace * t
	square := (d - expected) * (d - expected) / expected
	u.lumps += (min(square, lumpsJump*u.lumps) - u.lumps) / (lumpsWait + steps + 1)
}

// push adds a point to the window, which gives up another when it is full.
func (f *folding) push(time, way float64) {
	if f.n == window {
		f.thin(time)
	}
	s := spot{time: time, way: way, weight: math.Exp((time - f.begun) / fades)}
	if f.n > 0 {
		s.id = f.at[f.n-1].id + 1
	}
	for i := range f.n {
		p := &f.at[i]
		if span := time - p.time; span > 0 {
			f.insert(slope{max(0, way-p.way) / span, span * p.weight, p.id, s.id})
		}
	}
	f.at[f.n] = s
	f.n++
}

// insert keeps the slopes in order.
func (f *folding) insert(s slope) {
	lo, hi := 0, f.count
	for lo < hi {
		if mid := (lo + hi) / 2; f.pairs[f.order[mid]].pace < s.pace {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	free := f.order[f.count]
	copy(f.order[lo+1:f.count+1], f.order[lo:f.count])
	f.order[lo], f.pairs[free] = free, s
	f.count++
}

// forget takes the slopes of a point out.
func (f *folding) forget(id int32) {
	var free [window]uint8
	kept, n := 0, 0
	for _, p := range f.order[:f.count] {
		if s := &f.pairs[p]; s.from == id || s.to == id {
			free[n] = p
			n++
		} else {
			f.order[kept] = p
			kept++
		}
	}
	copy(f.order[kept:], free[:n])
	f.count = kept
}

// thin takes out the point that tells least: near its neighbours, and old. The
// last two stay.
func (f *folding) thin(now float64) {
	least, which := math.Inf(1), 0
	for i := range f.n - 2 {
		if gap := (f.at[i+1].time - f.at[max(i-1, 0)].time) / (now - f.at[i].time); gap < least {
			least, which = gap, i
		}
	}
	f.forget(f.at[which].id)
	copy(f.at[which:], f.at[which+1:f.n])
	f.n--
}

// centre sets the pace: that of the slopes, mixed with the prior, which counts
// as some time driven at its pace until there is ample evidence of the
// vehicle's own. departed is how far the last interval departed from it.
func (f *folding) centre(u *Usage, lived, departed float64) {
	if f.count == 0 {
		return
	}
	f.own = f.middle(0)
	if math.Abs(departed) > off && math.Abs(f.departed) > off && (departed > 0) == (f.departed > 0) && f.n > 3 {
		kept := f.at[f.n-3].id
		if other := f.middle(kept); (other > f.own) == (departed > 0) {
			f.discount(kept)
			f.own, u.changed = other, true
		}
	}
	f.departed = departed
	pace := f.own
	if prior := priorYear * max(0, 1-lived/ample*min(1, f.steps/2)); prior > 0 {
		pace = (f.base*prior + pace*lived) / (prior + lived)
		u.assumed = prior > lived
	} else {
		u.assumed = false
	}
	u.pace = max(pace, slowest)
	u.change = drift / 3 / u.pace
}

// middle is the weighted median of the slopes, those that begin before a point
// counting little.
func (f *folding) middle(kept int32) float64 {
	var sums [pairs]float64 // of the weights up to each slope
	all := 0.0
	for i, p := range f.order[:f.count] {
		all += f.pairs[p].counts(kept)
		sums[i] = all
	}
	i := 0
	for sums[i] < all/2 {
		i++
	}
	return f.pairs[f.order[i]].pace
}

func (s *slope) counts(kept int32) float64 {
	if s.from < kept {
		return s.weight * oldCounts
	}
	return s.weight
}

// discount lets the points before one, and their slopes, count little from now
// on.
func (f *folding) discount(kept int32) {
	for i := range f.n {
		if f.at[i].id < kept {
			f.at[i].weight *= oldCounts
		}
	}
	for _, p := range f.order[:f.count] {
		f.pairs[p].weight = f.pairs[p].counts(kept)
	}
}
