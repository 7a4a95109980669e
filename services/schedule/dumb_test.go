package schedule_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/schedule"
	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// walker is a second, deliberately dumb way to a due date: it walks from day to
// day and asks each whether the item is due on it. It shares with the real one
// the ledger's points and the pace, and nothing else.
type walker struct {
	w    *world
	dist map[int]float64 // by day: true distance at its beginning
}

// years is how far the walk goes.
const years = 40

func walk(w *world, s *schedule.Schedule) *walker {
	k := &walker{w, map[int]float64{}}
	points := s.Ledger.Points
	if len(points) == 0 {
		k.dist[w.Delivered.Ordinal()] = 0
	}
	last := w.Delivered.Ordinal()
	for i, p := range points {
		d := p.Date().Ordinal()
		k.dist[d], last = float64(p.Distance), d
		if i == 0 {
			continue
		}
		from := points[i-1].Date().Ordinal()
		driven := 0
		for x := from; x < d; x++ {
			if !k.laidUp(x) {
				driven++
			}
		}
		for x := from; x < d; x++ {
			step := 0.0
			switch {
			case driven == 0:
				step = float64(p.Distance-points[i-1].Distance) / float64(d-from)
			case !k.laidUp(x):
				step = float64(p.Distance-points[i-1].Distance) / float64(driven)
			}
			if x+1 < d {
				k.dist[x+1] = k.dist[x] + step
			}
		}
	}
	for x := last; x < last+366*years; x++ {
		k.dist[x+1] = k.dist[x]
		if !k.laidUp(x) {
			k.dist[x+1] += s.Pace.PerDay * weight(s, x)
		}
	}
	if len(points) > 0 {
		for x := points[0].Date().Ordinal(); x > w.Delivered.Ordinal(); x-- {
			k.dist[x-1] = k.dist[x]
			if !k.laidUp(x - 1) {
				k.dist[x-1] -= float64(1200*vehicle.Mile) / 365.25
			}
		}
	}
	return k
}

// weight is what a day of its month counts for in the season that was learned.
func weight(s *schedule.Schedule, day int) float64 {
	if s.Pace.Season.Source == forecast.Uniform {
		return 1
	}
	return s.Pace.Season.Weights[vehicle.DateFromOrdinal(day).Month-1]
}

func (k *walker) uses(kind schedule.UseKind, day int) bool {
	for _, f := range k.w.Uses {
		if f.Kind == kind && day >= f.Start.Ordinal() && (f.End.IsZero() || day <= f.End.Ordinal()) {
			return true
		}
	}
	return false
}

func (k *walker) laidUp(day int) bool { return k.uses(schedule.LaidUp, day) }

func (k *walker) hard(it *schedule.Item, day int) bool {
	kinds := 0
	for u := schedule.SaltCoast; u < schedule.LaidUp; u++ {
		if k.uses(u, day) {
			kinds++
			if slices.Contains(it.Severe.When, u) {
				return true
			}
		}
	}
	return len(it.Severe.When) == 0 && kinds >= 2
}

// monthsLater counts month by month with the calendar of package time, and
// then looks whether the day exists.
func monthsLater(day, months int) int {
	d := time.Unix(int64(day)*86400, 0).UTC()
	y, m := d.Year(), d.Month()
	for range months {
		if m++; m > 12 {
			y, m = y+1, 1
		}
	}
	for last := d.Day(); ; last-- {
		if t := time.Date(y, m, last, 0, 0, 0, 0, time.UTC); t.Month() == m {
			return int(t.Unix() / 86400)
		}
	}
}

// dueDay walks from the anchor on. 0 is never, within sight.
func (k *walker) dueDay(it *schedule.Item, l schedule.Limit, anchor int, short bool) (byTime, byDistance int) {
	way := math.Inf(1)
	if !l.Distance.IsZero() {
		mm, _ := l.Distance.Distance()
		way = float64(mm)
	}
	shortWay, shortMonths := way, l.Months
	if short && it.Severe.DistanceFactor != (vehicle.Decimal{}) {
		shortWay *= it.Severe.DistanceFactor.Float64()
	}
	if short && it.Severe.TimeFactor != (vehicle.Decimal{}) {
		shortMonths = max(1, int(math.Floor(float64(l.Months)*it.Severe.TimeFactor.Float64()+1e-9)))
	}
	at := math.Round(k.dist[max(anchor, k.w.Delivered.Ordinal())])
	for d := anchor; d < anchor+366*30; d++ {
		hard := short && k.hard(it, d)
		if byTime == 0 && l.Months > 0 && (d >= monthsLater(anchor, l.Months) || hard && d >= monthsLater(anchor, shortMonths)) {
			byTime = d
		}
		if next, ok := k.dist[d+1]; ok && byDistance == 0 && (next > at+way || hard && next > at+shortWay) {
			byDistance = d
		}
	}
	return byTime, byDistance
}

// anyWorld draws a vehicle with a history.
func anyWorld(t *rapid.T, tb testing.TB) *world {
	factor := func(name string) vehicle.Decimal {
		return rapid.SampledFrom([]vehicle.Decimal{{}, {Coefficient: 5, Scale: 1}, {Coefficient: 67, Scale: 2}}).Draw(t, name)
	}
	every := schedule.Limit{Months: rapid.SampledFrom([]int{0, 1, 6, 12, 24}).Draw(t, "months")}
	if mi := rapid.SampledFrom([]int64{0, 500, 3000, 12000}).Draw(t, "miles"); mi > 0 || every.Months == 0 {
		every.Distance = miles(max(mi, 500))
	}
	it := schedule.Item{ID: "A1", Every: every, Severe: schedule.Severe{DistanceFactor: factor("distance factor"), TimeFactor: factor("time factor")},
		LayUp: rapid.SampledFrom([]schedule.LayUpRule{schedule.BeforeLayUp, schedule.AtRecommission, schedule.StaysInLayUp}).Draw(t, "lay-up")}
	if some := it.Severe.DistanceFactor.Scale+it.Severe.TimeFactor.Scale > 0; some && rapid.Bool().Draw(t, "named kinds") {
		it.Severe.When = []schedule.UseKind{schedule.Dust, schedule.WadingUse}
	}
	if rapid.Bool().Draw(t, "bedding-in") {
		it.First = limit(rapid.Int64Range(100, 1000).Draw(t, "first"), rapid.IntRange(0, 6).Draw(t, "first months"))
	}
	w := delivered(tb, "2012-02-29", it)
	day, dial := 0, int64(0)
	for range rapid.IntRange(0, 12).Draw(t, "readings") {
		day += rapid.IntRange(1, 500).Draw(t, "days")
		dial += rapid.Int64Range(0, 900).Draw(t, "driven")
		w.read(w.Delivered.AddDays(day).String(), miles(dial))
	}
	for range rapid.IntRange(0, 4).Draw(t, "entries") {
		w.done(w.Delivered.AddDays(rapid.IntRange(0, 5000).Draw(t, "done")).String(), "A1")
	}
	for range rapid.IntRange(0, 4).Draw(t, "uses") {
		start := w.Delivered.AddDays(rapid.IntRange(0, 5000).Draw(t, "use from"))
		end := start.AddDays(rapid.IntRange(0, 900).Draw(t, "use days")).String()
		w.use(schedule.UseKind(rapid.IntRange(int(schedule.SaltCoast), int(schedule.LaidUp)).Draw(t, "use")), start.String(), end)
	}
	return w
}

func TestDueAgreesWithWalkingFromDayToDay(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		w := anyWorld(r, t)
		today := w.Delivered.AddDays(rapid.IntRange(0, 5500).Draw(r, "today"))
		s, st := w.status(today.String(), "A1")
		it := w.plan.Item(0)
		anchor, l, short := w.Delivered, it.First, false
		for _, e := range w.Entries {
			if !e.Date.After(today) && e.Date.After(anchor) {
				anchor, l, short = e.Date, it.Every, true
			}
		}
		if it.First.IsZero() {
			l, short = it.Every, true
		}
		byTime, byDistance := walk(w, s).dueDay(it, l, anchor.Ordinal(), short)
		if got := st.TimeDueDate(); byTime != 0 && got.Ordinal() != byTime || byTime == 0 && !got.IsZero() && l.Months == 0 {
			r.Fatalf("by time due %v, walking gives %v", got, vehicle.DateFromOrdinal(byTime))
		}
		// A day of rounding between adding day by day and multiplying.
		if got := st.DistanceDueDate(); byDistance != 0 && (got.Ordinal() < byDistance-1 || got.Ordinal() > byDistance+1) {
			r.Fatalf("by distance due %v, walking gives %v", got, vehicle.DateFromOrdinal(byDistance))
		}
		if c := st.Cycle("A1"); c != "A1."+anchor.String() {
			r.Fatalf("cycle %s, counted from %v", c, anchor)
		}
	})
}
