package schedulerpc_test

import (
	"context"
	"fmt"
	"log/slog"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/build/buildrpc"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/schedule/schedulerpc"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// works is the schedule service beside the real build service, behind a real
// server over a real etcd.
type works struct {
	schedulev1.ScheduleServiceClient
	t       testing.TB
	builds  buildv1.BuildServiceClient
	server  *grpcserver.Server
	service *schedulerpc.Service
	store   *kv.Store
	now     atomic.Int64 // Unix seconds
	caller  atomic.Pointer[access.Caller]
	close   func()
}

// gate lets everybody in as the caller of the moment.
type gate struct{ w *works }

func (g gate) Unary() grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, _ *grpc.UnaryServerInfo, h grpc.UnaryHandler) (any, error) {
		return h(access.NewContext(ctx, *g.w.caller.Load()), req)
	}
}

func (g gate) Stream() grpc.StreamServerInterceptor {
	return func(srv any, ss grpc.ServerStream, _ *grpc.StreamServerInfo, h grpc.StreamHandler) error {
		return h(srv, ss)
	}
}

// open starts both services over a store.
func open(t testing.TB, store *kv.Store) *works {
	t.Helper()
	w := &works{t: t, store: store}
	w.today("2026-11-25")
	w.caller.Store(&access.Caller{Role: access.Support, Bearer: "front desk"})
	w.server = grpcserver.New(grpcserver.Config{
		Gate: gate{w}, Logger: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn})),
	})
	conn := w.server.InProcess()
	w.builds, w.ScheduleServiceClient = buildv1.NewBuildServiceClient(conn), schedulev1.NewScheduleServiceClient(conn)
	group := &projection.Group{}
	clock := func() time.Time { return time.Unix(w.now.Load(), 0) }
	builds, err := buildrpc.New(t.Context(), buildrpc.Config{Store: store, Group: group, Clock: clock})
	if err != nil {
		t.Fatal(err)
	}
	schedules, err := schedulerpc.New(t.Context(), schedulerpc.Config{Store: store, Group: group, Clock: clock, Builds: w.builds})
	if err != nil {
		t.Fatal(err)
	}
	w.service = schedules
	builds.RegisterService(w.server)
	schedules.RegisterService(w.server)
	served := make(chan error, 1)
	go func() { served <- w.server.Serve(context.Background()) }()
	closed := false
	w.close = func() {
		if closed {
			return
		}
		closed = true
		for _, end := range []func() error{schedules.Close, w.server.Close, builds.Close} {
			if err := end(); err != nil {
				t.Error(err)
			}
		}
		if err := <-served; err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(w.close)
	if err := schedules.Ready(t.Context()); err != nil {
		t.Fatal(err)
	}
	return w
}

// today sets the clock to the morning of a day.
func (w *works) today(text string) { w.now.Store(day(text).Start(time.UTC).Unix() + 10*3600) }

// start has one release, whose odometer shows the true distance, a programme of
// the items, and a vehicle delivered on a day.
func start(t testing.TB, delivered string, items ...*schedulev1.Item) *works {
	t.Helper()
	w := open(t, kv.NewStore(etcdtest.Client(t)))
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: release()}))(t)
	must(w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: programme(1, "2000-01-01", items...)}))(t)
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM0147P", delivered)}))(t)
	return w
}

// release turns the cable 651 x 4.00 x 10/20 = 1,302 times in a mile, which is
// what its dial counts one mile for (651 turns of this tyre: checks.md O-13).
func release() *buildv1.Release {
	return &buildv1.Release{
		Name: "releases/R1", Title: "First release", Programme: "programmes/packhorse", EffectiveDate: calendar("1990-01-01"),
		Fitments: []*buildv1.Fitment{
			{Position: "engine", Part: "AP-1000", Traits: []string{"adjustable-tappets"}},
			{Position: "transfer-case", Part: "AP-1200", Traits: []string{"shimmed-output-bearing"}},
			{Position: "output-shaft-bearing", Part: "AP-1210", Within: "transfer-case", Traits: []string{"shimmed"}},
		},
		Options: []*buildv1.Option{{OptionId: "winch", Title: "winch", Fitments: []*buildv1.Fitment{
			{Position: "winch", Part: "AP-3100", Traits: []string{"electric", "wire"}}}}},
		Driveline: &buildv1.Driveline{
			Gears: []string{"2.996", "1.000"}, TransferHigh: "1.148", TransferLow: "2.888", AxleRatio: "4.00",
			Tyre:             &vehiclev1.Tyre{Size: "265/75R16", Pattern: "mud-terrain"},
			SpeedometerDrive: &vehiclev1.SpeedometerDrive{DriverTeeth: 10, DrivenTeeth: 20},
			Dial:             &vehiclev1.Dial{Digits: 5, Unit: "mi", TurnsPerUnit: 1302, Tenths: true},
		},
	}
}

func built(serial, delivered string) *buildv1.Build {
	return &buildv1.Build{
		Name: "builds/" + serial, Release: "releases/R1", FrameNumber: "FN " + serial, Wheelbase: "short", Market: "GB",
		BuildDate: calendar(delivered), DeliveryDate: calendar(delivered), DeliveryReading: miles("0"),
	}
}

func programme(version int, effective string, items ...*schedulev1.Item) *schedulev1.Programme {
	for _, it := range items {
		it.Group, it.SourceMark = "test", "b"
		if it.Title == "" {
			it.Title = "Item " + it.ItemId
		}
	}
	return &schedulev1.Programme{
		Name: fmt.Sprintf("programmes/packhorse/versions/%d", version), Title: "sample", EffectiveDate: calendar(effective),
		Sample: true, Items: items,
	}
}

// every is an item with an interval.
func every(id string, mi string, months int32) *schedulev1.Item {
	it := &schedulev1.Item{ItemId: id, Every: &schedulev1.Limit{Months: months}}
	if mi != "" {
		it.Every.Distance = miles(mi)
	}
	return it
}

const theVehicle = "vehicles/AM0147P"

// read records a reading of the vehicle.
func (w *works) read(on, mi string) *schedulev1.Reading {
	w.t.Helper()
	return must(w.RecordReading(w.t.Context(), &schedulev1.RecordReadingRequest{Parent: theVehicle, Reading: &schedulev1.Reading{
		ReadingDate: calendar(on), Value: miles(mi), Source: schedulev1.ReadingSource_READING_SOURCE_OWNER}}))(w.t)
}

// done records work done on the vehicle.
func (w *works) done(on string, items ...string) *schedulev1.ServiceEntry {
	w.t.Helper()
	e := &schedulev1.ServiceEntry{ServiceDate: calendar(on)}
	for _, id := range items {
		e.Items = append(e.Items, &schedulev1.ItemDone{ItemId: id})
	}
	return must(w.RecordService(w.t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: e}))(w.t)
}

// schedule gives the vehicle's schedule on a day.
func (w *works) schedule(on string) *schedulev1.Schedule {
	w.t.Helper()
	return must(w.GetSchedule(w.t.Context(), &schedulev1.GetScheduleRequest{Name: theVehicle + "/schedule", OnDate: calendar(on)}))(w.t)
}

// item gives one item of it.
func (w *works) item(on, id string) *schedulev1.ItemStatus {
	w.t.Helper()
	for _, it := range w.schedule(on).GetItems() {
		if it.GetItemId() == id {
			return it
		}
	}
	w.t.Fatalf("no item %s", id)
	return nil
}

// must gives the answer of a call that has to work.
func must[M any](m M, err error) func(testing.TB) M {
	return func(t testing.TB) M {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
}

// refused wants an error of a kind and reason, and gives it.
func refused(t testing.TB, err error, kind fault.Kind, reason string) *fault.Error {
	t.Helper()
	f := rpcerr.FromStatus(err)
	if f == nil || f.Kind != kind || f.Reason != reason {
		t.Fatalf("got %v, want kind %d, %s", err, kind, reason)
	}
	return f
}

func day(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func calendar(text string) *date.Date {
	d := day(text)
	return &date.Date{Year: int32(d.Year), Month: int32(d.Month), Day: int32(d.Day)}
}

// iso is a date of an answer as text; empty for none.
func iso(d *date.Date) string {
	if d == nil {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.GetYear(), d.GetMonth(), d.GetDay())
}

func miles(n string) *vehiclev1.Distance {
	return &vehiclev1.Distance{EnteredValue: n, EnteredUnit: "mi"}
}
