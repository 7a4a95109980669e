package schedule_test

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"sync"
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// aFleet makes vehicles as the sample programme finds them: all that can be
// fitted, 20 readings and 10 entries each, half of them laid up in winter.
func aFleet(b *testing.B, n int) (*schedule.Plan, []schedule.Vehicle) {
	plan := compiled(b, sample(b, 2))
	applicable, err := plan.Applicable(everything())
	if err != nil {
		b.Fatal(err)
	}
	random := rand.New(rand.NewPCG(1, 2))
	fleet := make([]schedule.Vehicle, n)
	for i := range fleet {
		fleet[i] = aVehicle(plan, applicable, random, i)
	}
	return plan, fleet
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
	for k := range 20 {
		d, mi = d.AddDays(60+random.IntN(240)), mi+random.Int64N(500)
		v.Marks = append(v.Marks, schedule.Mark{Date: d, Value: miles(mi), Source: schedule.ByOwner, Record: names[k]})
	}
	for k := range 10 {
		e := schedule.Entry{Date: v.Delivered.AddDays(365 * (k + 1)), Mark: -1, Record: names[k]}
		for range 8 {
			e.Items = append(e.Items, plan.Item(int(applicable[random.IntN(len(applicable))])).ID)
		}
		v.Entries = append(v.Entries, e)
	}
	if i%2 == 0 {
		for y := range 12 {
			from := vehicle.MustDate(v.Delivered.Year+y, 11, 1)
			v.Uses = append(v.Uses, schedule.UseFact{Kind: schedule.LaidUp, Start: from, End: from.AddDays(150)})
		}
	}
	return v
}

// BenchmarkRecomputeFleet computes the state and the due dates of every item of
// 100,000 vehicles from the facts (ledger, pace, rounds) on all processors.
func BenchmarkRecomputeFleet(b *testing.B) {
	const vehicles, distinct = 100_000, 5_000
	plan, fleet := aFleet(b, distinct) // each computed twenty times: memory for 100,000 is the service's matter
	workers := runtime.GOMAXPROCS(0)
	items := 0
	for b.Loop() {
		items = 0
		counts := make([]int, workers)
		var all sync.WaitGroup
		for w := range workers {
			all.Go(func() {
				var s schedule.Schedule
				for i := w; i < vehicles; i += workers {
					s.Evaluate(plan, &fleet[i%distinct], on("2026-11-25"))
					counts[w] += len(s.Statuses)
				}
			})
		}
		all.Wait()
		for _, n := range counts {
			items += n
		}
	}
	b.ReportMetric(float64(items)*float64(b.N)/b.Elapsed().Seconds(), "items/s")
	b.ReportMetric(float64(items)/vehicles, "items/vehicle")
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
