package forecast_test

import (
	"math"
	"math/rand/v2"
	"slices"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// This file invents owners. They share none of the forecast's suppositions:
// they drive whole trips of heavy-tailed length on single days, their seasons
// begin on any day and differ from year to year, they go on tours, change their
// habits at a stroke, sell, and misread their dials. All numbers are invented
// (common practice, no source), but for the yearly distances, which are those
// of trade.md: 300 to 1,500 miles for most.

// owner is one vehicle's life, from delivery on.
type owner struct {
	delivered int32
	driven    []float64 // true miles by the beginning of each day since delivery
	layUps    []forecast.Span
	declared  forecast.Season // Uniform when the owner said nothing
	seasonal  bool            // in truth, at the delivery
	style     style
	habits    []spell
	dice      *rand.Rand
}

// spell is a habit and the day from which it holds.
type spell struct {
	from  int32
	habit habit
}

// told is the day by which so many miles would be driven by somebody who knows
// the habit of a day exactly, but not what chance brings, nor what changes.
func (o *owner) told(day int32, miles float64) int32 {
	h := o.habits[0].habit
	for _, s := range o.habits {
		if s.from <= day {
			h = s.habit
		}
	}
	for at, sum := day, 0.0; at < day+lifeDays/2; at++ {
		date := vehicle.DateFromOrdinal(int(at))
		pace := h.perYear / 365 / h.share()
		if h.seasons != nil && !h.in(float64(at-int32(vehicle.MustDate(date.Year, 1, 1).Ordinal())), 0) {
			pace *= h.outside
		}
		if pace > 0 {
			pace += h.tours / 365 / h.share() * 11 * 70
		}
		if sum += pace; sum >= miles {
			return at
		}
	}
	return day + lifeDays/2
}

// style is how an owner reads the dial.
type style struct {
	round float64 // to so many miles
	wrong float64 // share of wrong readings that a ledger lets pass
	gap   float64 // days between readings, about
}

const lifeDays = 40 * 365

// habit is how somebody drives until it changes.
type habit struct {
	perYear  float64 // miles
	tripMean float64 // miles
	seasons  [][2]float64
	outside  float64 // pace outside the seasons, of that within
	tours    float64 // a year
}

// pick draws one of a few values by their shares.
func pick(dice *rand.Rand, shares ...float64) int {
	at := dice.Float64()
	for i, s := range shares {
		if at -= s; at < 0 {
			return i
		}
	}
	return len(shares) - 1
}

func between(dice *rand.Rand, low, high float64) float64 { return low + (high-low)*dice.Float64() }

// newHabit draws a habit.
func newHabit(dice *rand.Rand) habit {
	var h habit
	switch pick(dice, 0.08, 0.62, 0.22, 0.08) {
	case 0: // hardly driven
		h.perYear = between(dice, 60, 300)
	case 1: // at a second home
		h.perYear = between(dice, 300, 1_500)
	case 2: // at week-ends
		h.perYear = between(dice, 1_500, 4_000)
	case 3: // every day
		h.perYear = between(dice, 4_000, 10_000)
	}
	h.tripMean = between(dice, 8, 45)
	switch pick(dice, 0.3, 0.5, 0.2) {
	case 0:
		h.outside = 1
	case 1: // one season of two to seven months
		begin := between(dice, 85, 170)
		h.seasons = [][2]float64{{begin, begin + between(dice, 60, 200)}}
	case 2: // spring and autumn
		h.seasons = [][2]float64{{between(dice, 70, 100), between(dice, 130, 160)}, {between(dice, 230, 250), between(dice, 280, 320)}}
	}
	if h.seasons != nil && dice.Float64() < 0.6 {
		h.outside = between(dice, 0, 0.2)
	}
	if dice.Float64() < 0.4 {
		h.tours = between(dice, 0.1, 0.5)
	}
	return h
}

// in says whether a day of the year lies in a season of a year whose season is
// so many days late.
func (h *habit) in(dayOfYear, late float64) bool {
	for _, s := range h.seasons {
		if s[0]+late <= dayOfYear && dayOfYear < s[1]+late {
			return true
		}
	}
	return false
}

// share is the part of the year that the pace within the season counts for.
func (h *habit) share() float64 {
	in := 0.0
	for _, s := range h.seasons {
		in += (s[1] - s[0]) / 365
	}
	return in + h.outside*(1-in)
}

// trip draws the length of one trip: a Pareto law with its tail cut at 400 miles.
func trip(dice *rand.Rand, mean float64) float64 {
	const alpha = 1.7
	low := mean * (alpha - 1) / alpha
	return math.Min(low*math.Pow(1-dice.Float64(), -1/alpha), 400)
}

// newOwner draws an owner and lets them drive for forty years.
func newOwner(seed uint64) *owner {
	dice := rand.New(rand.NewPCG(seed, 0x5eed))
	o := &owner{delivered: int32(16_000 + dice.IntN(1_500)), dice: dice}
	h := newHabit(dice)
	o.seasonal = h.seasons != nil
	o.style = style{
		round: []float64{1, 10, 50, 100}[pick(dice, 0.6, 0.2, 0.1, 0.1)],
		wrong: []float64{0, 0.03, 0.1}[pick(dice, 0.5, 0.35, 0.15)],
		gap:   between(dice, 45, 240),
	}
	o.declare(&h)
	d := driver{habit: h, laidUp: o.seasonal && h.outside == 0 && dice.Float64() < 0.5}
	o.driven = make([]float64, 1, lifeDays+1)
	o.habits = []spell{{o.delivered, h}}
	for n := range int32(lifeDays) {
		day := o.delivered + n
		date := vehicle.DateFromOrdinal(int(day))
		dayOfYear := float64(day - int32(vehicle.MustDate(date.Year, 1, 1).Ordinal()))
		if n == 0 || dayOfYear == 0 {
			d.late, d.mood = 10*dice.NormFloat64(), math.Exp(0.25*dice.NormFloat64())
			o.rest(&d, date.Year)
		}
		if d.changes(dice) {
			o.habits = append(o.habits, spell{day, d.habit})
		}
		o.driven = append(o.driven, o.driven[n]+d.day(dice, date, dayOfYear))
	}
	return o
}

// driver is somebody driving.
type driver struct {
	habit
	laidUp            bool
	late, mood        float64 // this year's: days that the season is late; pace against other years
	tourLeft, tourDay float64 // days and miles a day
}

// changes lets the habit change now and then.
func (d *driver) changes(dice *rand.Rand) bool {
	changed := false
	if dice.Float64() < 0.10/365 { // another habit, at a stroke
		d.perYear *= math.Exp(0.7 * dice.NormFloat64())
		changed = true
	}
	if dice.Float64() < 0.05/365 { // sold: another owner altogether, of whom nobody told
		d.habit, d.laidUp = newHabit(dice), false
		changed = true
	}
	return changed
}

// day is the miles of one day.
func (d *driver) day(dice *rand.Rand, date vehicle.Date, dayOfYear float64) float64 {
	miles := 0.0
	pace := d.perYear / 365 / d.share() * d.mood
	if d.seasons != nil && !d.in(dayOfYear, d.late) {
		pace *= d.outside
	}
	if trips := pace / d.tripMean; trips > 0 {
		week := 0.6
		if w := date.Weekday(); w == 0 || w == 6 {
			week = 2
		}
		for range poisson(dice, trips*week) {
			miles += trip(dice, d.tripMean)
		}
	}
	if d.tours > 0 && pace > 0 && dice.Float64() < d.tours/365/d.share() {
		d.tourLeft = between(dice, 4, 18)
		d.tourDay = between(dice, 30, 110)
	}
	if d.tourLeft > 0 {
		miles, d.tourLeft = miles+d.tourDay, d.tourLeft-1
	}
	return miles
}

// poisson draws a count by Knuth's method; means here are small.
func poisson(dice *rand.Rand, mean float64) int {
	limit, n := math.Exp(-mean), 0
	for p := dice.Float64(); p > limit; p *= dice.Float64() {
		n++
	}
	return n
}

// declare lets some seasonal owners say their months, not always rightly.
func (o *owner) declare(h *habit) {
	if len(h.seasons) != 1 || o.dice.Float64() > 0.35 {
		return
	}
	first := int(h.seasons[0][0]/30.5) + 1 + o.dice.IntN(3) - 1
	last := int(h.seasons[0][1]/30.5) + 1 + o.dice.IntN(3) - 1
	o.declared = forecast.InMonths(min(max(first, 1), 12), min(max(last, 1), 12))
}

// rest records the lay-up of the winter that begins in a year.
func (o *owner) rest(d *driver, year int) {
	if !d.laidUp || len(d.seasons) != 1 {
		return
	}
	first := int32(vehicle.MustDate(year, 1, 1).Ordinal())
	s := forecast.Span{From: first + int32(d.seasons[0][1]+d.late) + 10, To: first + 365 + int32(d.seasons[0][0]) - 25}
	if n := len(o.layUps); s.From < s.To && (n == 0 || o.layUps[n-1].To < s.From) {
		o.layUps = append(o.layUps, s)
	}
}

// reached is the day in whose course so many true miles are driven.
func (o *owner) reached(miles float64) int32 {
	n, _ := slices.BinarySearch(o.driven, miles)
	return o.delivered + int32(max(0, n-1))
}

// on is the true miles at the beginning of a day.
func (o *owner) on(day int32) float64 {
	return o.driven[min(max(0, day-o.delivered), lifeDays)]
}

// read is what the owner reports of the dial on a day: rounded, and now and
// then wrong in a way that no ledger would stop.
func (o *owner) read(day int32) float64 {
	shown := math.Floor(o.on(day)/o.style.round+0.5) * o.style.round
	if o.dice.Float64() >= o.style.wrong {
		return shown
	}
	switch pick(o.dice, 0.35, 0.35, 0.3) {
	case 0: // a wrong digit
		return shown + float64(1+o.dice.IntN(4))*[]float64{10, 100}[o.dice.IntN(2)]*float64(1-2*o.dice.IntN(2))
	case 1: // the tens and hundreds changed places
		tens, hundreds := math.Mod(math.Floor(shown/10), 10), math.Mod(math.Floor(shown/100), 10)
		return shown + (tens-hundreds)*90
	}
	return o.on(max(o.delivered, day-int32(o.dice.IntN(45)))) // read some weeks before
}

// readings gives the points after so many reports, at uneven times. What falls
// is doubtful and does not count.
func (o *owner) readings(n int) []forecast.Point {
	points := []forecast.Point{{Day: o.delivered}}
	day := o.delivered
	for len(points) <= n && day < o.delivered+lifeDays/2 {
		day += max(3, int32(o.style.gap*math.Exp(0.7*o.dice.NormFloat64())))
		points = counted(points, day, o.read(day))
	}
	return points
}

// counted adds a reading in miles unless it falls.
func counted(points []forecast.Point, day int32, miles float64) []forecast.Point {
	last := points[len(points)-1]
	d := vehicle.Distance(miles * float64(vehicle.Mile))
	if day <= last.Day || d < last.Distance {
		return points
	}
	return append(points, forecast.Point{Day: day, Distance: d})
}
