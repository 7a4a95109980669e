package works_test

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// BenchmarkDossier asks for the page for the telephone turn by turn with an empty
// call, over TCP as support staff do and within the process, on the demo fleet
// and on one of 150 vehicles with twenty years behind each. It prints median and
// 95th percentile of
//
//   - first: a vehicle that nobody has asked about since the start,
//   - fresh: one of which nothing is kept of the day, asked about by another day,
//   - again: one that was asked about before,
//
// and how many times as long as the empty call that is; what a turn took of the
// processor, which other work on the machine changes less; and the load.
func BenchmarkDossier(b *testing.B) {
	for _, fleet := range []struct {
		name string
		more int
	}{{"demo", 0}, {"twenty-years", 150}} {
		b.Run(fleet.name, func(b *testing.B) {
			d := openPages(b, fleet.more)
			b.Run("within", func(b *testing.B) { d.measure(b, works.Operator(b.Context()), d.inside) })
			b.Run("tcp", func(b *testing.B) { d.measure(b, b.Context(), d.outside) })
		})
	}
}

// deskBench is a works with a fleet to ask about.
type deskBench struct {
	serials         []string
	inside, outside dossierAsker
	from            vehicle.Date // each fresh question is about another day
}

// dossierAsker is a way to the works.
type dossierAsker struct {
	page  enquiryv1.EnquiryServiceClient
	empty healthv1.HealthClient
}

// openPages starts the demo works, with more vehicles if asked for; these are then
// all that is asked about.
func openPages(b *testing.B, more int) *deskBench {
	p, err := works.Start(b.Context(), works.Config{Data: b.TempDir(), Passes: works.Never, Clock: atDemo().Now, Listen: "127.0.0.1:0", CallLimits: unlimited})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { p.Close() })
	ctx := works.Operator(b.Context())
	dir := filepath.Join(b.TempDir(), "files")
	if err := os.CopyFS(dir, aldermoor.Files); err != nil {
		b.Fatal(err)
	}
	if faultless, err := works.Import(ctx, p.Clients(), aldermoor.Today, []string{dir}, false, io.Discard, io.Discard); err != nil || !faultless {
		b.Fatal(faultless, err)
	}
	if err := works.LoadEnquiries(ctx, p.Clients().Enquiries); err != nil {
		b.Fatal(err)
	}
	d := &deskBench{from: aldermoor.Today}
	if more > 0 {
		d.serials = oldVehicles(b, ctx, p.Clients(), more)
	} else {
		builds, err := p.Clients().Builds.ListBuilds(ctx, &buildv1.ListBuildsRequest{PageSize: 500})
		if err != nil {
			b.Fatal(err)
		}
		for _, m := range builds.GetBuilds() {
			d.serials = append(d.serials, strings.TrimPrefix(m.GetName(), "builds/"))
		}
	}
	d.inside = dossierAsker{p.Clients().Enquiries, healthv1.NewHealthClient(p.Within())}
	conn, err := works.Dial(p.Address().String(), nil)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { conn.Close() })
	keyed := accessgate.Present(conn, p.FirstSecret())
	d.outside = dossierAsker{works.NewClients(func(string) grpc.ClientConnInterface { return keyed }).Enquiries, healthv1.NewHealthClient(conn)}
	return d
}

// measure asks about each vehicle in turn.
func (d *deskBench) measure(b *testing.B, ctx context.Context, to dossierAsker) {
	var empty []time.Duration
	asked := map[string][]time.Duration{}
	slowest, slow := "", time.Duration(0)
	ask := func(kind, serial string, on vehicle.Date) {
		begin := time.Now()
		if _, err := to.empty.Check(ctx, &healthv1.HealthCheckRequest{}); err != nil {
			b.Fatal(err)
		}
		between := time.Now()
		m, err := to.page.GetDossier(ctx, &enquiryv1.GetDossierRequest{Name: "vehicles/" + serial + "/dossier", OnDate: vehiclewire.DateProto(on)})
		if err != nil {
			b.Fatal(err)
		}
		took := time.Since(between)
		if len(m.GetGaps()) > 0 {
			b.Fatal(m.GetGaps())
		}
		empty, asked[kind] = append(empty, between.Sub(begin)), append(asked[kind], took)
		if kind == "fresh" && took > slow {
			slowest, slow = serial, took
		}
	}
	for _, serial := range d.serials {
		ask("first", serial, aldermoor.Today)
	}
	before, turns := processor(b), 0
	for b.Loop() {
		serial := d.serials[turns%len(d.serials)]
		if turns%len(d.serials) == 0 {
			d.from = d.from.AddDays(1)
			if d.from.Year != aldermoor.Today.Year { // the habits of the fleet are by years, and learnt once for each
				d.from = vehicle.MustDate(aldermoor.Today.Year, 1, 1)
			}
		}
		ask("fresh", serial, d.from)
		ask("again", serial, d.from)
		turns++
	}
	b.ReportMetric(float64((processor(b)-before).Microseconds())/2000/float64(turns), "cpu-ms/page")
	for kind, took := range asked {
		slices.Sort(took)
		b.ReportMetric(milliseconds(quantile(took, 50)), kind+"-p50-ms")
		b.ReportMetric(milliseconds(quantile(took, 95)), kind+"-p95-ms")
	}
	slices.Sort(empty)
	b.ReportMetric(milliseconds(quantile(empty, 50)), "empty-p50-ms")
	b.ReportMetric(float64(quantile(asked["fresh"], 50))/float64(quantile(empty, 50)), "x-empty-call")
	b.ReportMetric(load(), "load")
	b.ReportMetric(0, "ns/op")
	b.Logf("the slowest of a fresh day is %s: %v", slowest, slow)
}

func milliseconds(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// quantile gives that hundredth of durations in order.
func quantile(sorted []time.Duration, hundredth int) time.Duration {
	return sorted[min(len(sorted)*hundredth/100, len(sorted)-1)]
}

// load is how many tasks of the whole machine wanted a processor in the last
// minute; 0 where the system does not say.
func load() float64 {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return 0
	}
	var of float64
	if _, err := fmt.Sscan(string(text), &of); err != nil {
		return 0
	}
	return of
}

// oldVehicles makes vehicles like the oldest of the demo, each with twenty years
// behind it: two services a year with all that the demo's fullest measured, and
// two readings between them.
func oldVehicles(b *testing.B, ctx context.Context, c works.Clients, n int) (serials []string) {
	like, err := c.Builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/AM0101G"})
	if err != nil {
		b.Fatal(err)
	}
	entries, err := c.Schedules.ListServiceEntries(ctx, &schedulev1.ListServiceEntriesRequest{Parent: "vehicles/AM0101G", PageSize: 500})
	if err != nil {
		b.Fatal(err)
	}
	fullest := slices.MaxFunc(entries.GetServiceEntries(), func(a, b *schedulev1.ServiceEntry) int { return proto.Size(a) - proto.Size(b) })
	var builds []*buildv1.BuildRow
	var rows []*schedulev1.HistoryRow
	for number := 0; len(serials) < n; number++ {
		serial, err := vehicle.NewSerial(fmt.Sprintf("AM%04d", 2000+number))
		if err != nil {
			continue // not issued
		}
		serials = append(serials, string(serial))
		m := proto.CloneOf(like)
		m.Name, m.Etag, m.FrameNumber, m.Plate = "builds/"+string(serial), "", fmt.Sprintf("24999-%05d", number), ""
		m.BuildDate, m.DeliveryDate = vehiclewire.DateProto(vehicle.MustDate(2006, 3, 27)), vehiclewire.DateProto(vehicle.MustDate(2006, 4, 24))
		m.Measurements, m.RoadTest = nil, nil
		for _, component := range m.GetComponents() {
			component.Serial = ""
		}
		builds = append(builds, &buildv1.BuildRow{Row: &buildv1.BuildRow_Build{Build: m}})
		rows = append(rows, twentyYears(string(serial), fullest)...)
	}
	importRows(b, builds, 50, func(some []*buildv1.BuildRow, n int32) error {
		_, err := c.Builds.StageImport(ctx, &buildv1.StageImportRequest{ImportId: "old", Sequence: n, Rows: some})
		return err
	}, func(chunks int32) error {
		_, err := c.Builds.CommitImport(ctx, &buildv1.CommitImportRequest{ImportId: "old", Chunks: chunks})
		return err
	})
	importRows(b, rows, 100, func(some []*schedulev1.HistoryRow, n int32) error {
		_, err := c.Schedules.StageImport(ctx, &schedulev1.StageImportRequest{ImportId: "old", Sequence: n, Rows: some})
		return err
	}, func(chunks int32) error {
		_, err := c.Schedules.CommitImport(ctx, &schedulev1.CommitImportRequest{ImportId: "old", Chunks: chunks})
		return err
	})
	return serials
}

// importRows takes rows in by chunks.
func importRows[T any](b *testing.B, rows []T, size int, stage func([]T, int32) error, commit func(chunks int32) error) {
	b.Helper()
	chunks := int32(0)
	for some := range slices.Chunk(rows, size) {
		if err := stage(some, chunks); err != nil {
			b.Fatal(err)
		}
		chunks++
	}
	if err := commit(chunks); err != nil {
		b.Fatal(err)
	}
}

// twentyYears is what happened to a vehicle.
func twentyYears(serial string, like *schedulev1.ServiceEntry) (rows []*schedulev1.HistoryRow) {
	gone := 0
	for i := range 40 {
		year, month := 2006+(i+1)/2, time.October
		if (i+1)/2 > i/2 { // in turn with the spring of the next year
			month = time.March
		}
		day := vehicle.MustDate(year, month, 10)
		if day.After(aldermoor.Today) {
			break
		}
		gone += 700
		rows = append(rows, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_Reading{Reading: &schedulev1.Reading{
			Name: fmt.Sprintf("vehicles/%s/readings/r%02d", serial, i), ReadingDate: vehiclewire.DateProto(day), Value: miles(fmt.Sprint(gone))}}})
		m := proto.CloneOf(like)
		gone += 700
		m.Name, m.Etag, m.VoidReason = fmt.Sprintf("vehicles/%s/serviceEntries/s%02d", serial, i), "", ""
		m.ServiceDate, m.Reading = vehiclewire.DateProto(day.AddMonths(2)), miles(fmt.Sprint(gone))
		rows = append(rows, &schedulev1.HistoryRow{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: m}})
	}
	return rows
}

// processor gives what this process has had of the processor.
func processor(b *testing.B) time.Duration {
	b.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		b.Fatal(err)
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}
