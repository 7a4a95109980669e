package bulletin_test

import (
	"testing"

	"halfshaft/services/bulletin"
)

// BenchmarkPreview judges 10,000 vehicles with their reasons; BenchmarkMembers
// without, also 100,000.
func BenchmarkPreview(b *testing.B) {
	ready, f := prepare(b, benchSet()), newWorld(10_000, 1).fleet(b)
	for b.Loop() {
		if p := ready.Preview(f); len(p.Matches) != f.Len() {
			b.Fatal("a vehicle is missing")
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*f.Len()), "ns/vehicle")
}

func BenchmarkMembers(b *testing.B) {
	ready := prepare(b, benchSet())
	one := newWorld(10_000, 1)
	for _, times := range []int{1, 10} {
		w := *one
		w.records = nil
		for range times {
			w.records = append(w.records, one.records...) // serials come again: nobody minds
		}
		f := w.fleet(b)
		b.Run(map[int]string{1: "10000", 10: "100000"}[times], func(b *testing.B) {
			for b.Loop() {
				ready.Members(f)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*f.Len()), "ns/vehicle")
		})
	}
}

func benchSet() bulletin.Bulletin {
	return bulletinFor(bulletin.Set{When: &bulletin.Condition{All: []bulletin.Condition{
		{Release: &bulletin.ReleaseCondition{Releases: []string{"R2", "R3"}}},
		{Built: &bulletin.DateRange{Start: day(2014, 1, 1), End: day(2020, 1, 1)}},
		{Any: []bulletin.Condition{
			{Fitted: &bulletin.FittedUnit{Position: "gearbox", Parts: []string{"AP-2050"}, Lots: []string{"L07"}, Ever: true}},
			{Fitted: &bulletin.FittedUnit{Position: "steering-relay", Lots: []string{"L09"}}},
		}},
	}}})
}
