package schedulerpc_test

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	clientv3 "go.etcd.io/etcd/client/v3"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/exchange"
	"halfshaft/services/exchange/exchangefile"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// sample reads a version of the demo's programme.
func sample(t testing.TB, version int) *schedulev1.Programme {
	t.Helper()
	c := exchange.NewCollection()
	if err := exchangefile.Read(fmt.Sprintf("../../../testdata/aldermoor/programmes/packhorse.v%d.yaml", version), c); err != nil {
		t.Fatal(err)
	}
	c.Join()
	for _, s := range exchange.Services() {
		for _, d := range c.Pending(s) {
			if p, ok := c.Message(d).(*schedulev1.Programme); ok && c.Faults.Len() == 0 {
				return p
			}
		}
	}
	t.Fatalf("the sample programme cannot be read: %v", c.Faults.Sorted())
	return nil
}

// fitted has all that the sample programme looks after.
func fitted() *buildv1.Release {
	r := release()
	r.Fitments = nil
	for _, f := range strings.Fields("engine:adjustable-tappets oil-filter:spin-on air-cleaner:oil-bath cylinder-head:retorque-gasket " +
		"distributor:contact-breaker spark-plugs fan-belt cooling-system:coolant-inorganic coolant-hoses carburettor:damper " +
		"fuel-system:sediment-bowl fuel-hoses:rubber exhaust clutch:hydraulic gearbox:synchro-3-4 transfer-case:shimmed-output-bearing " +
		"output-shaft-bearing:shimmed parking-brake propshaft-front:greaseable propshaft-rear:greaseable front-axle-differential:open " +
		"rear-axle-differential:open axle-breathers:ball swivel-housing-left:oil-filled swivel-housing-right:oil-filled " +
		"swivel-pin-left:shimmed swivel-pin-right:shimmed hub-front-left hub-front-right hub-rear-left hub-rear-right free-wheel-hubs:manual " +
		"brakes-front:drum brakes-rear:drum brake-hydraulics:glycol-dot4 brake-servo steering-box:oil-filled steering-linkage:greaseable " +
		"steering-damper shock-absorbers springs:rubber-bushes chassis body wheels tyres battery:agm alternator lamps speedometer") {
		position, trait, _ := strings.Cut(f, ":")
		fitment := &buildv1.Fitment{Position: position, Part: "AP-1"}
		if trait != "" {
			fitment.Traits = []string{trait}
		}
		r.Fitments = append(r.Fitments, fitment)
	}
	return r
}

// withSample has vehicles with the sample programme, 20 readings and 10 entries
// each.
func withSample(t testing.TB, vehicles int) *works {
	w := open(t, kv.NewStore(etcdtest.Client(t)))
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: fitted()}))(t)
	must(w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: sample(t, 1)}))(t)
	must(w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: sample(t, 2)}))(t)
	var builds []*buildv1.BuildRow
	var rows []*schedulev1.HistoryRow
	for n := 0; len(builds) < vehicles; n++ {
		serial, err := vehicle.NewSerial(fmt.Sprintf("AM%05d", n))
		if err != nil {
			continue // not issued
		}
		b := built(string(serial), "2016-01-01")
		builds = append(builds, &buildv1.BuildRow{Row: &buildv1.BuildRow_Build{Build: b}})
		rows = append(rows, lived(serial)...)
	}
	sequence := int32(0)
	for at := 0; at < len(builds); at += 100 {
		must(w.builds.StageImport(t.Context(), &buildv1.StageImportRequest{ImportId: "b", Sequence: sequence, Rows: builds[at:min(at+100, len(builds))]}))(t)
		sequence++
	}
	must(w.builds.CommitImport(t.Context(), &buildv1.CommitImportRequest{ImportId: "b", Chunks: sequence}))(t)
	sequence = 0
	for at := 0; at < len(rows); at += 100 {
		must(w.StageImport(t.Context(), &schedulev1.StageImportRequest{ImportId: "s", Sequence: sequence, Rows: rows[at:min(at+100, len(rows))]}))(t)
		sequence++
	}
	must(w.CommitImport(t.Context(), &schedulev1.CommitImportRequest{ImportId: "s", Chunks: sequence}))(t)
	return w
}

// lived is ten years of a vehicle: a reading each summer and one with each
// service.
func lived(serial vehicle.Serial) (rows []*schedulev1.HistoryRow) {
	parent := "vehicles/" + string(serial)
	for y := range 10 {
		year := 2016 + y
		rows = append(rows, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_Reading{Reading: &schedulev1.Reading{
			Name: fmt.Sprintf("%s/readings/r%d", parent, y), ReadingDate: calendar(fmt.Sprintf("%d-07-01", year)), Value: miles(fmt.Sprint(600*y + 300))}}})
		e := &schedulev1.ServiceEntry{
			Name: fmt.Sprintf("%s/serviceEntries/s%d", parent, y), ServiceDate: calendar(fmt.Sprintf("%d-10-15", year)),
			Reading: miles(fmt.Sprint(600*y + 450)), DoneBy: "Harbour Garage",
		}
		for _, id := range []string{"E01", "E04", "B02F", "B02R", "R01", "W01", "G01L", "T01L"} {
			e.Items = append(e.Items, &schedulev1.ItemDone{ItemId: id})
		}
		rows = append(rows, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: e}})
	}
	return rows
}

// BenchmarkGetSchedule measures GetSchedule, with all items, reasons and
// sentences of the sample programme, against an empty call to the same server
// in the same run, each in turn, and reports the ratio.
func BenchmarkGetSchedule(b *testing.B) {
	w := withSample(b, 1)
	empty := healthv1.NewHealthClient(w.server.InProcess())
	request := &schedulev1.GetScheduleRequest{Name: "vehicles/AM000004/schedule"}
	due := must(w.ListDue(b.Context(), &schedulev1.ListDueRequest{WithinDays: 3000}))(b)
	request.Name = due.GetSchedules()[0].GetName()
	nothing := &healthv1.HealthCheckRequest{}
	var reading, idling time.Duration
	var size, items int
	for b.Loop() {
		begin := time.Now()
		if _, err := empty.Check(b.Context(), nothing); err != nil {
			b.Fatal(err)
		}
		middle := time.Now()
		s, err := w.GetSchedule(b.Context(), request)
		if err != nil {
			b.Fatal(err)
		}
		idling += middle.Sub(begin)
		reading += time.Since(middle)
		items = len(s.GetItems())
		if size == 0 {
			size = proto.Size(s)
		}
	}
	b.ReportMetric(float64(reading.Nanoseconds())/float64(b.N), "ns/read")
	b.ReportMetric(float64(idling.Nanoseconds())/float64(b.N), "ns/empty")
	b.ReportMetric(float64(reading)/float64(idling), "x-empty")
	b.ReportMetric(float64(items), "items")
	b.ReportMetric(float64(size), "B/answer")
}

// BenchmarkRecordReading measures RecordReading against a bare etcd transaction
// with the same compares and puts, of the same sizes, in the same run.
func BenchmarkRecordReading(b *testing.B) {
	w := withSample(b, 200) // in turn, so that each keeps about the readings that vehicles have
	var parents []string
	for _, s := range must(w.ListDue(b.Context(), &schedulev1.ListDueRequest{WithinDays: 3000, PageSize: 20}))(b).GetSchedules() {
		parents = append(parents, strings.TrimSuffix(s.GetName(), "/schedule"))
	}
	client := w.store.Client()
	payload := strings.Repeat("x", 120)
	var recording, bare time.Duration
	n := 0
	for b.Loop() {
		n++
		r := &schedulev1.RecordReadingRequest{Parent: parents[n%len(parents)], RequestId: uuid.NewString(), Reading: &schedulev1.Reading{
			ReadingDate: calendar("2026-11-20"), Value: miles(fmt.Sprint(6000 + n%500))}}
		begin := time.Now()
		if _, err := client.Txn(b.Context()).
			If(clientv3.Compare(clientv3.CreateRevision(fmt.Sprint("/bench/a", n)), "=", 0), clientv3.Compare(clientv3.CreateRevision(fmt.Sprint("/bench/b", n)), "=", 0)).
			Then(clientv3.OpPut(fmt.Sprint("/bench/a", n), payload), clientv3.OpPut(fmt.Sprint("/bench/b", n), payload)).Commit(); err != nil {
			b.Fatal(err)
		}
		middle := time.Now()
		if _, err := w.RecordReading(b.Context(), r); err != nil {
			b.Fatal(err)
		}
		bare += middle.Sub(begin)
		recording += time.Since(middle)
	}
	b.ReportMetric(float64(recording.Nanoseconds())/float64(b.N), "ns/record")
	b.ReportMetric(float64(bare.Nanoseconds())/float64(b.N), "ns/bare")
	b.ReportMetric(float64(recording)/float64(bare), "x-bare")
}

// BenchmarkListDue measures the first question about a day, which evaluates the
// fleet, and those after it.
func BenchmarkListDue(b *testing.B) {
	const vehicles = 1000
	w := withSample(b, vehicles)
	var first, again time.Duration
	n := 0
	for b.Loop() {
		on := calendar(day("2026-11-25").AddDays(n % 300).String())
		n++
		for _, spent := range []*time.Duration{&first, &again} {
			begin := time.Now()
			if _, err := w.ListDue(b.Context(), &schedulev1.ListDueRequest{WithinDays: 30, OnDate: on, PageSize: 10}); err != nil {
				b.Fatal(err)
			}
			*spent += time.Since(begin)
		}
	}
	b.ReportMetric(float64(first.Nanoseconds())/float64(b.N)/vehicles, "ns/vehicle-first")
	b.ReportMetric(float64(again.Nanoseconds())/float64(b.N)/vehicles, "ns/vehicle-again")
}

// BenchmarkFleetInMemory measures what a vehicle with twenty readings and ten
// entries takes of memory in this service, once it has been evaluated.
func BenchmarkFleetInMemory(b *testing.B) {
	const vehicles = 1000
	w := withSample(b, vehicles)
	all := &schedulev1.ListDueRequest{WithinDays: 30, PageSize: 1}
	must(w.ListDue(b.Context(), all))(b)
	before := live()
	second := open(b, w.store) // with it a second build service, whose share is measured there
	must(second.ListDue(b.Context(), all))(b)
	size := float64(live()-before) / vehicles
	for b.Loop() {
		must(second.ListDue(b.Context(), all))(b)
	}
	b.ReportMetric(size, "B/vehicle-with-build")
}

// live is the memory in use after a collection.
func live() int64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}
