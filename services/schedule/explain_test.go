package schedule_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// driver is an owner who drives in trips. The ranking under test knows nothing
// of trips, bursts or seasons: it sees readings only.
type driver struct {
	*rand.Rand
	trips  float64 // a week, in season
	length float64 // median length of a trip, in units of the dial
	season [13]bool
	turn   int     // the day on which the habit changes
	factor float64 // and by what
}

func newDriver(r *rand.Rand) *driver {
	d := &driver{Rand: r, trips: 0.3 + 2*r.Float64(), length: 8 + 14*r.Float64(), turn: 400 + r.IntN(6000), factor: 1}
	if r.IntN(3) == 0 {
		d.factor = 0.4 + 2*r.Float64()
	}
	for m := range d.season {
		d.season[m] = true
	}
	if r.IntN(5) < 2 { // two in five drive in summer only, as in the demo works
		for m := range d.season {
			d.season[m] = m >= 5 && m <= 9
		}
	}
	return d
}

// day drives one day.
func (d *driver) day(n int, date vehicle.Date) float64 {
	trips := d.trips / 7
	if n > d.turn {
		trips *= d.factor
	}
	if !d.season[date.Month] || d.Float64() > trips {
		return 0
	}
	way := d.length * math.Exp(0.9*d.NormFloat64())
	if d.IntN(60) == 0 {
		way += 100 + 300*d.Float64() // an outing
	}
	return way
}

// life is a vehicle's life as it was, and as it is told.
type life struct {
	*world
	dial  vehicle.Dial
	dates []vehicle.Date
	shown []float64 // what the dial showed at each reading, in its unit
}

// live drives a vehicle from delivery on. turnOver makes its dial go round
// between two readings, tour adds a long journey there, and another a new dial.
func live(t testing.TB, r *rand.Rand, readings int, event string, at int) *life {
	l := &life{world: delivered(t, "2014-03-01"), dial: mileDial}
	if r.IntN(5) == 0 {
		l.dial = vehicle.Dial{Digits: 5, Unit: vehicle.Kilometres, TurnsPerUnit: 620, Tenths: true}
	}
	who := newDriver(r)
	days := make([]int, readings)
	for i := range days {
		gap := 30 + r.IntN(330)
		if days[i] = gap; i > 0 {
			days[i] += days[i-1]
		}
	}
	way := make([]float64, days[readings-1]+1) // at the end of each day
	for n := 1; n < len(way); n++ {
		way[n] = way[n-1] + who.day(n, l.Delivered.AddDays(n))
	}
	start := 0.0
	if r.IntN(3) == 0 {
		start = float64(r.IntN(60_000)) // the donor's own dial
	}
	from := days[max(0, at-1)]
	between := from + 1 + r.IntN(max(1, days[at]-from-1))
	switch event {
	case "rollover":
		start = 100_000 - way[from] - 1 - r.Float64()*max(0, way[days[at]]-way[from]-2)
	case "tour":
		for n, more := between, 2500+4000*r.Float64(); n < len(way); n++ {
			way[n] += more
		}
	}
	shownOn := func(n int) float64 { return math.Mod(start+way[n]+100_000, 100_000) }
	if event == "replaced" {
		fresh := 0.0
		if r.IntN(4) == 0 {
			fresh = float64(r.IntN(90_000))
		}
		old := shownOn
		shownOn = func(n int) float64 {
			if n < between {
				return old(n)
			}
			return fresh + way[n] - way[between]
		}
	}
	l.Segments = []schedule.Segment{{From: l.Delivered, Dial: l.dial, FactorPPM: schedule.Unity, Start: l.entered(math.Floor(start))}}
	for _, n := range days {
		l.dates, l.shown = append(l.dates, l.Delivered.AddDays(n)), append(l.shown, shownOn(n))
	}
	return l
}

func (l *life) entered(value float64) vehicle.Entered {
	return vehicle.Entered{Value: vehicle.Decimal{Coefficient: int64(value)}, Unit: l.dial.Unit}
}

// tell records the readings, the one with a fault as it was told.
func (l *life) tell(fault int, told func(date vehicle.Date, shown float64) (vehicle.Date, vehicle.Entered)) {
	for i, d := range l.dates {
		date, value := d, l.entered(l.shown[i])
		if i == fault && told != nil {
			date, value = told(d, l.shown[i])
		}
		l.read(date.String(), value)
		l.Marks[i].Recorded = d.AddDays(1)
	}
}

// slip is one kind of fault and what the best explanation of it says.
type slip struct {
	name  string
	rule  schedule.Rule
	event string
	// tell gives what is told, and what the explanation has to read; false when
	// this reading cannot have the fault.
	tell func(r *rand.Rand, l *life, d vehicle.Date, shown float64) (vehicle.Date, vehicle.Entered, vehicle.Entered, bool)
	// Least shares, in per cent, of the doubtful ones whose first explanation,
	// or one of the first two, is right.
	first, two float64
}

// digits changes what was shown as a typist does.
func digits(change func(r *rand.Rand, typed []byte) []byte) func(*rand.Rand, *life, vehicle.Date, float64) (vehicle.Date, vehicle.Entered, vehicle.Entered, bool) {
	return func(r *rand.Rand, l *life, d vehicle.Date, shown float64) (vehicle.Date, vehicle.Entered, vehicle.Entered, bool) {
		right := strconv.FormatInt(int64(shown), 10)
		typed := string(change(r, []byte(right)))
		n, err := strconv.ParseInt(typed, 10, 64)
		return d, l.entered(float64(n)), l.entered(shown), err == nil && typed != right
	}
}

func value(change func(l *life, shown float64) (told, want vehicle.Entered)) func(*rand.Rand, *life, vehicle.Date, float64) (vehicle.Date, vehicle.Entered, vehicle.Entered, bool) {
	return func(_ *rand.Rand, l *life, d vehicle.Date, shown float64) (vehicle.Date, vehicle.Entered, vehicle.Entered, bool) {
		told, want := change(l, shown)
		return d, told, want, true
	}
}

func date(change func(r *rand.Rand, d vehicle.Date) vehicle.Date) func(*rand.Rand, *life, vehicle.Date, float64) (vehicle.Date, vehicle.Entered, vehicle.Entered, bool) {
	return func(r *rand.Rand, l *life, d vehicle.Date, shown float64) (vehicle.Date, vehicle.Entered, vehicle.Entered, bool) {
		told := change(r, d)
		return told, l.entered(shown), l.entered(shown), told != d && told.Valid() && told.After(l.Delivered)
	}
}

func asShown(l *life, shown float64) (told, want vehicle.Entered) {
	return l.entered(shown), l.entered(shown)
}

// The shares are what was measured, less some room; they say what the ranking
// is worth and come from no source.
var slipsMade = []slip{
	{name: "tenths typed as units", rule: schedule.RuleTenths, first: 85, two: 95, tell: value(func(l *life, shown float64) (told, want vehicle.Entered) {
		tenths := vehicle.Decimal{Coefficient: int64(shown * 10), Scale: 1}
		return l.entered(math.Floor(shown * 10)), vehicle.Entered{Value: tenths, Unit: l.dial.Unit}
	})},
	{name: "converted into the other unit, and given as the dial's", rule: schedule.RuleOtherUnit, first: 85, two: 92, tell: value(func(l *life, shown float64) (told, want vehicle.Entered) {
		factor := 1.609344
		if l.dial.Unit == vehicle.Kilometres {
			factor = 1 / factor
		}
		return l.entered(math.Round(shown * factor)), l.entered(shown)
	})},
	{name: "the wrong unit ticked", rule: schedule.RuleOtherUnit, first: 95, two: 98, tell: value(func(l *life, shown float64) (told, want vehicle.Entered) {
		told = l.entered(shown)
		if told.Unit = vehicle.Miles; l.dial.Unit == vehicle.Miles {
			told.Unit = vehicle.Kilometres
		}
		return told, l.entered(shown)
	})},
	{name: "two digits swapped", rule: schedule.RuleSwapped, first: 55, two: 75, tell: digits(func(r *rand.Rand, typed []byte) []byte {
		if len(typed) > 1 {
			i := r.IntN(len(typed) - 1)
			typed[i], typed[i+1] = typed[i+1], typed[i]
		}
		return typed
	})},
	{name: "one digit misread", rule: schedule.RuleDigit, first: 25, two: 50, tell: digits(func(r *rand.Rand, typed []byte) []byte {
		typed[r.IntN(len(typed))] = '0' + byte(r.IntN(10))
		return typed
	})},
	{name: "one digit left out", rule: schedule.RuleMissing, first: 75, two: 90, tell: digits(func(r *rand.Rand, typed []byte) []byte {
		i := r.IntN(len(typed))
		return slices.Delete(typed, i, i+1)
	})},
	{name: "one digit typed twice", rule: schedule.RuleTwice, first: 20, two: 85, tell: digits(func(r *rand.Rand, typed []byte) []byte {
		i := r.IntN(len(typed))
		return slices.Insert(typed, i, typed[i])
	})},
	{name: "the year before", rule: schedule.RuleDate, first: 65, two: 90, tell: date(func(_ *rand.Rand, d vehicle.Date) vehicle.Date { return d.AddMonths(-12) })},
	{name: "a date to come", rule: schedule.RuleDate, first: 95, two: 98, tell: date(func(_ *rand.Rand, d vehicle.Date) vehicle.Date { return d.AddMonths(12) })},
	{name: "day and month exchanged", rule: schedule.RuleDate, first: 65, two: 90, tell: date(func(_ *rand.Rand, d vehicle.Date) vehicle.Date {
		return vehicle.Date{Year: d.Year, Month: time.Month(d.Day), Day: int(d.Month)}
	})},
	{name: "the dial went round", rule: schedule.RuleRollover, event: "rollover", first: 95, two: 98, tell: value(asShown)},
	{name: "another dial", rule: schedule.RuleReplaced, event: "replaced", first: 75, two: 88, tell: value(asShown)},
	{name: "a long journey, and no fault", rule: schedule.RuleLeap, event: "tour", first: 55, two: 90, tell: value(asShown)},
}

// tally counts how well one kind of fault is explained.
type tally struct{ made, doubted, first, two int }

func (n tally) share(of int) float64 { return 100 * float64(of) / float64(max(1, n.doubted)) }

// explained makes a fault in random lives and looks what is said about it.
func explained(t testing.TB, s slip, seed uint64, times int) (n tally) {
	r := rand.New(rand.NewPCG(seed, 33))
	for n.made < times {
		readings := 3 + r.IntN(15)
		at := readings - 1 // mostly the latest one
		if s.event == "" && r.IntN(4) == 0 {
			at = 1 + r.IntN(readings-1)
		}
		l := live(t, r, readings, s.event, at)
		date, told, want, can := s.tell(r, l, l.dates[at], l.shown[at])
		if !can {
			continue
		}
		l.tell(at, func(vehicle.Date, float64) (vehicle.Date, vehicle.Entered) { return date, told })
		n.made++
		ledger := l.ledger()
		found := ledger.Explain(at)
		if len(found) == 0 {
			continue // nothing shows that it is wrong
		}
		n.doubted++
		for i, e := range found[:min(2, len(found))] {
			if e.Rule != s.rule || e.Rule != schedule.RuleMissing && !near(e.WouldRead, want) || e.Rule == schedule.RuleDate && e.Date != l.dates[at] {
				continue
			}
			n.two++
			if i == 0 {
				n.first++
			}
		}
	}
	return n
}

// near says whether two readings are within one unit: what a conversion loses.
func near(a, b vehicle.Entered) bool {
	x, err := a.Distance()
	y, err2 := b.Distance()
	return err == nil && err2 == nil && a.Unit == b.Unit && max(x-y, y-x) <= b.Unit.Distance()
}

func TestTheFirstExplanationOfAFaultIsMostlyTheRightOne(t *testing.T) {
	const times = 400
	var all tally
	var table strings.Builder
	for i, s := range slipsMade {
		n := explained(t, s, uint64(i), times)
		fmt.Fprintf(&table, "%-55s doubted %3.0f %%, first %3.0f %%, among the first two %3.0f %%\n",
			s.name, 100*float64(n.doubted)/float64(n.made), n.share(n.first), n.share(n.two))
		if n.share(n.first) < s.first || n.share(n.two) < s.two {
			t.Errorf("%s: of %d doubtful ones the right explanation is first for %.0f %% and among the first two for %.0f %%; want %.0f and %.0f",
				s.name, n.doubted, n.share(n.first), n.share(n.two), s.first, s.two)
		}
		all.doubted, all.first, all.two = all.doubted+n.doubted, all.first+n.first, all.two+n.two
	}
	t.Logf("%d of each:\n%sall: first %.0f %%, among the first two %.0f %%", times, table.String(), all.share(all.first), all.share(all.two))
}
