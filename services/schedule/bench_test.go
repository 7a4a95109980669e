package schedule_test

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// aFleet makes vehicles as the sample programme finds them: all that can be
// fitted, 20 readings and 10 entries each, half of them laid up in winter. Each
// is drawn by itself, so no two are alike.
func aFleet(b *testing.B, n int) (*schedule.Plan, []schedule.Vehicle) {
	plan := compiled(b, sample(b, 2))
	applicable, err := plan.Applicable(everything())
	if err != nil {
		b.Fatal(err)
	}
	fleet := make([]schedule.Vehicle, n)
	onAllProcessors(func(first, step int) {
		for i := first; i < n; i += step {
			fleet[i] = aVehicle(plan, applicable, rand.New(rand.NewPCG(1, uint64(i))), i)
		}
	})
	return plan, fleet
}

// onAllProcessors shares work out: to each processor the numbers from first on,
// step by step.
func onAllProcessors(work func(first, step int)) {
	processors := runtime.GOMAXPROCS(0)
	var all sync.WaitGroup
	for first := range processors {
		all.Go(func() { work(first, processors) })
	}
	all.Wait()
}

// names are shared, as the service shares them.
var names = func() (out [20]string) {
	for i := range out {
		out[i] = fmt.Sprintf("records/%02d", i)
	}
	return out
}()

func aVehicle(plan *schedule.Plan, applicable []uint16, random *rand.Rand, i int) schedule.Vehicle {
	v := schedule.Vehicle{Delivered: on("2014-01-01").AddDays(random.IntN(2000))}
	v.Segments = []schedule.Segment{{From: v.Delivered, Dial: mileDial, FactorPPM: 974_501, Start: miles(0)}}
	v.Fits = plan.Fits(applicable, []schedule.Component{
		{Position: "engine", Fitted: v.Delivered}, {Position: "transfer-case", Fitted: v.Delivered},
		{Position: "output-shaft-bearing", Fitted: v.Delivered}, {Position: "battery", Fitted: v.Delivered.AddDays(1500)},
	})
	d, mi := v.Delivered, int64(0)
	v.Marks = make([]schedule.Mark, 0, 20)
	for k := range 20 {
		d, mi = d.AddDays(60+random.IntN(240)), mi+random.Int64N(500)
		v.Marks = append(v.Marks, schedule.Mark{Date: d, Value: miles(mi), Source: schedule.ByOwner, Record: names[k]})
	}
	v.Entries = make([]schedule.Entry, 0, 10)
	for k := range 10 {
		e := schedule.Entry{Date: v.Delivered.AddDays(365 * (k + 1)), Mark: -1, Record: names[k], Items: make([]string, 0, 8)}
		for range 8 {
			e.Items = append(e.Items, plan.Item(int(applicable[random.IntN(len(applicable))])).ID)
		}
		v.Entries = append(v.Entries, e)
	}
	if i%2 == 0 {
		v.Uses = make([]schedule.UseFact, 0, 12)
		for y := range 12 {
			from := vehicle.MustDate(v.Delivered.Year+y, 11, 1)
			v.Uses = append(v.Uses, schedule.UseFact{Kind: schedule.LaidUp, Start: from, End: from.AddDays(150)})
		}
	}
	return v
}

// BenchmarkRecomputeFleet computes the state and the due dates of every item of
// 100,000 different vehicles from the facts (ledger, pace, rounds) on all
// processors. The facts take about a gigabyte, so most of them come from memory
// and not from a cache, as they do in the service.
func BenchmarkRecomputeFleet(b *testing.B) {
	const vehicles = 100_000
	plan, fleet := aFleet(b, vehicles)
	var items atomic.Int64
	for b.Loop() {
		items.Store(0)
		onAllProcessors(func(first, step int) {
			var s schedule.Schedule
			found := 0
			for i := first; i < vehicles; i += step {
				s.Evaluate(plan, &fleet[i], on("2026-11-25"))
				found += len(s.Statuses)
			}
			items.Add(int64(found))
		})
	}
	b.ReportMetric(float64(items.Load())*float64(b.N)/b.Elapsed().Seconds(), "items/s")
	b.ReportMetric(float64(items.Load())/vehicles, "items/vehicle")
}

// BenchmarkForecasts computes due dates with their ranges for 100,000 vehicles
// of 25 items and 20 readings, and for one of them after one more reading,
// which is all that a reading asks for: no other vehicle depends on it.
func BenchmarkForecasts(b *testing.B) {
	const vehicles, few = 100_000, 25
	plan, fleet := aFleet(b, vehicles)
	for i := range fleet {
		fleet[i].Fits = withDistance(plan, fleet[i].Fits, few)
	}
	today := on("2026-11-25")
	b.Run("from scratch", func(b *testing.B) {
		for b.Loop() {
			onAllProcessors(func(first, step int) {
				var s schedule.Schedule
				for i := first; i < vehicles; i += step {
					evaluateWithRanges(&s, plan, &fleet[i], today)
				}
			})
		}
		b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/vehicles, "µs/vehicle")
		b.ReportMetric(few*vehicles*float64(b.N)/b.Elapsed().Seconds(), "forecasts/s")
	})
	b.Run("after one new reading", func(b *testing.B) {
		var s schedule.Schedule
		n := 0
		for b.Loop() {
			v := fleet[n%vehicles]
			last := v.Marks[len(v.Marks)-1]
			v.Marks = append(v.Marks[:len(v.Marks):len(v.Marks)], schedule.Mark{
				Date: last.Date.AddDays(90), Value: miles(last.Value.Value.Coefficient + 200), Source: schedule.ByOwner, Record: "records/20",
			})
			evaluateWithRanges(&s, plan, &v, today)
			n++
		}
	})
}

// withDistance takes the first items that have a distance limb.
func withDistance(plan *schedule.Plan, fits []schedule.Fit, n int) []schedule.Fit {
	var some []schedule.Fit
	for _, f := range fits {
		if !plan.Item(int(f.Item)).Every.Distance.IsZero() && len(some) < n {
			some = append(some, f)
		}
	}
	return some
}

// evaluateWithRanges evaluates a vehicle and asks how sure each date is.
func evaluateWithRanges(s *schedule.Schedule, plan *schedule.Plan, v *schedule.Vehicle, on vehicle.Date) {
	s.Evaluate(plan, v, on)
	for i := range s.Statuses {
		s.DistanceRange(&s.Statuses[i])
	}
}

// BenchmarkOneVehicle is one vehicle on one processor, and what it allocates.
func BenchmarkOneVehicle(b *testing.B) {
	plan, fleet := aFleet(b, 2)
	for i, name := range []string{"laid up in winter", "all year"} {
		b.Run(name, func(b *testing.B) {
			var s schedule.Schedule
			b.ReportAllocs()
			for b.Loop() {
				s.Evaluate(plan, &fleet[i], on("2026-11-25"))
			}
			b.ReportMetric(float64(len(s.Statuses))*float64(b.N)/b.Elapsed().Seconds(), "items/s")
		})
	}
}
