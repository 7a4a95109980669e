package partsrpc_test

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"testing"
	"time"

	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
)

// BenchmarkListUses asks among 10,000 vehicles of 50 positions, with 100,000
// lines of service entries of which few are of the parts asked for, beside the
// emptiest call there is over the same connection, in the same run.
func BenchmarkListUses(b *testing.B) {
	w := startUses(b, nil)
	const vehicles, positions = 10_000, 50
	var fitments []*buildv1.Fitment
	for i := range positions {
		fitments = append(fitments, &buildv1.Fitment{Position: fmt.Sprintf("place-%02d", i), Part: fmt.Sprintf("AP-%d", 3000+i)})
	}
	w.addVehicle(b, "AM0101", fitments...)
	random := rand.New(rand.NewPCG(1, 2))
	var builds []*buildv1.BuildRow
	var history []*schedulev1.HistoryRow
	for n := 0; len(builds) < vehicles; n++ {
		s, err := vehicle.NewSerial(fmt.Sprintf("BM%05d", n))
		if err != nil {
			continue // not issued
		}
		builds = append(builds, &buildv1.BuildRow{Row: &buildv1.BuildRow_Build{Build: &buildv1.Build{
			Name: "builds/" + string(s), FrameNumber: "F-" + string(s), Release: "releases/R1", BuildDate: on(2012, 6, 1), DeliveryDate: on(2012, 7, 1),
			Components: []*buildv1.Component{
				{Position: "gearbox", Serial: fmt.Sprintf("G%05d", n), Lot: fmt.Sprintf("L%d", n/100)},
				{Position: "place-00", Lot: fmt.Sprintf("S%d", n/1000)},
			},
		}}})
		for y := range 10 {
			history = append(history, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: &schedulev1.ServiceEntry{
				Name: fmt.Sprintf("vehicles/%s/serviceEntries/s%d", s, y), ServiceDate: on(2013+int32(y), 10, 15),
				Parts: []*schedulev1.PartUsed{{Part: fmt.Sprintf("AP-%d", 3001+random.IntN(500)), Quantity: 1}, {Part: "AP-7000", Quantity: 1}},
			}}})
		}
	}
	must(w.load(b, "catalogue", gearboxRows()...))(b)
	w.importAll(b, builds, history)
	first := time.Now()
	must(w.ListUses(b.Context(), &partsv1.ListUsesRequest{Part: "parts/AP-2000"}))(b)
	b.Logf("the first answer took %v", time.Since(first))
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	b.Logf("%d MB in use", m.HeapInuse>>20)
	b.Run("empty call", func(b *testing.B) {
		for b.Loop() {
			must(w.health.Check(b.Context(), &healthgrpc.HealthCheckRequest{}))(b)
		}
	})
	for _, q := range []struct {
		what string
		req  *partsv1.ListUsesRequest
	}{
		{"a component", &partsv1.ListUsesRequest{ComponentSerial: "G07777"}},
		{"a lot of 100", &partsv1.ListUsesRequest{Part: "parts/AP-2000", Lot: "L77"}},
		{"a lot of 1,000 of a part that services use", &partsv1.ListUsesRequest{Part: "parts/AP-3000", Lot: "S7"}},
		{"a part of all vehicles", &partsv1.ListUsesRequest{Part: "parts/AP-2000"}},
		{"a part of all vehicles, 500 a page", &partsv1.ListUsesRequest{Part: "parts/AP-2000", PageSize: 500}},
		{"a small part of all vehicles, each judged by its day of build", &partsv1.ListUsesRequest{Part: "parts/AP-2110"}},
		{"a part that each of 100,000 services used", &partsv1.ListUsesRequest{Part: "parts/AP-7000"}},
	} {
		b.Run(q.what, func(b *testing.B) {
			for b.Loop() {
				must(w.ListUses(b.Context(), q.req))(b)
			}
		})
	}
}

// importAll takes in a fleet and what was done on it, some hundred vehicles at a
// time, so that a slow machine keeps the deadline of a call.
func (w *usesWorks) importAll(t testing.TB, builds []*buildv1.BuildRow, history []*schedulev1.HistoryRow) {
	t.Helper()
	for from := 0; from < len(builds); from += 100 {
		id, chunks := fmt.Sprint("b", from), int32(0)
		for at := from; at < min(from+100, len(builds)); at += 100 {
			must(w.builds.StageImport(t.Context(), &buildv1.StageImportRequest{ImportId: id, Sequence: chunks, Rows: builds[at:min(at+100, len(builds))]}))(t)
			chunks++
		}
		must(w.builds.CommitImport(t.Context(), &buildv1.CommitImportRequest{ImportId: id, Chunks: chunks}))(t)
	}
	for from := 0; from < len(history); from += 1000 {
		id, chunks := fmt.Sprint("s", from), int32(0)
		for at := from; at < min(from+1000, len(history)); at += 100 {
			must(w.schedules.StageImport(t.Context(), &schedulev1.StageImportRequest{ImportId: id, Sequence: chunks, Rows: history[at:min(at+100, len(history))]}))(t)
			chunks++
		}
		must(w.schedules.CommitImport(t.Context(), &schedulev1.CommitImportRequest{ImportId: id, Chunks: chunks}))(t)
	}
}
