package buildrpc_test

import (
	"runtime"
	"testing"
	"time"

	healthv1 "google.golang.org/grpc/health/grpc_health_v1"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
)

// BenchmarkGetBuild measures GetBuild against an empty call to the same server
// in the same run, each in turn, and reports the ratio.
func BenchmarkGetBuild(b *testing.B) {
	w := startWithFleet(b)
	empty := healthv1.NewHealthClient(w.server.InProcess())
	request := &buildv1.GetBuildRequest{Name: "builds/AM0147P"}
	nothing := &healthv1.HealthCheckRequest{}
	var reading, idling time.Duration
	for b.Loop() {
		begin := time.Now()
		if _, err := empty.Check(b.Context(), nothing); err != nil {
			b.Fatal(err)
		}
		middle := time.Now()
		if _, err := w.GetBuild(b.Context(), request); err != nil {
			b.Fatal(err)
		}
		idling += middle.Sub(begin)
		reading += time.Since(middle)
	}
	b.ReportMetric(float64(reading.Nanoseconds())/float64(b.N), "ns/read")
	b.ReportMetric(float64(idling.Nanoseconds())/float64(b.N), "ns/empty")
	b.ReportMetric(float64(reading)/float64(idling), "x-empty")
}

// BenchmarkFleetInMemory measures what a vehicle with five changes takes of
// memory, and how long it takes to find one by a fragment of its frame number.
func BenchmarkFleetInMemory(b *testing.B) {
	const vehicles = 2000
	w := start(b)
	bringAll(b, w, many(b, vehicles))
	again := open(b, w.store)
	_ = must(again.FindBuilds(b.Context(), &buildv1.FindBuildsRequest{Query: "FN 00001"}))(b)
	before := live()
	third := open(b, w.store)
	_ = must(third.FindBuilds(b.Context(), &buildv1.FindBuildsRequest{Query: "FN 00001"}))(b)
	size := float64(live()-before) / vehicles
	for b.Loop() {
		if _, err := third.FindBuilds(b.Context(), &buildv1.FindBuildsRequest{Query: "FN 01234"}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(size, "B/vehicle") // after the loop, which forgets what was reported before
}

// live is the memory in use after a collection.
func live() int64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}
