package partsrpc_test

import (
	"context"
	"log/slog"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/build/buildrpc"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/parts/partsrpc"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// works is the parts service beside the real build service, behind a real
// server over a real etcd.
type works struct {
	partsv1.PartsServiceClient
	builds buildv1.BuildServiceClient
	health healthgrpc.HealthClient
	store  *kv.Store
	close  func()
}

// gate lets everybody in as an engineer.
type gate struct{}

func (gate) Unary() grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, _ *grpc.UnaryServerInfo, h grpc.UnaryHandler) (any, error) {
		return h(access.NewContext(ctx, access.Caller{Role: access.Engineer, Bearer: "drawing office"}), req)
	}
}

func (gate) Stream() grpc.StreamServerInterceptor {
	return func(srv any, ss grpc.ServerStream, _ *grpc.StreamServerInfo, h grpc.StreamHandler) error {
		return h(srv, ss)
	}
}

func clock() time.Time { return time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC) }

func start(t testing.TB) *works { return open(t, kv.NewStore(etcdtest.Client(t))) }

// open starts both services over a store; the test's end, or close, stops them.
func open(t testing.TB, store *kv.Store) *works {
	t.Helper()
	group := &projection.Group{}
	logger := slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	server := grpcserver.New(grpcserver.Config{Gate: gate{}, Logger: logger})
	builds, err := buildrpc.New(t.Context(), buildrpc.Config{Store: store, Group: group, Clock: clock})
	if err != nil {
		t.Fatal(err)
	}
	builds.RegisterService(server)
	w := &works{store: store, builds: buildv1.NewBuildServiceClient(server.InProcess())}
	service, err := partsrpc.New(t.Context(), partsrpc.Config{Store: store, Group: group, Builds: w.builds, Clock: clock, Logger: logger})
	if err != nil {
		t.Fatal(err)
	}
	service.RegisterService(server)
	served := make(chan error, 1)
	go func() { served <- server.Serve(context.Background()) }()
	closed := false
	w.close = func() {
		if closed {
			return
		}
		closed = true
		if err := service.Close(); err != nil {
			t.Error(err)
		}
		server.Close()
		if err := <-served; err != nil {
			t.Error(err)
		}
		if err := builds.Close(); err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(w.close)
	if err := service.Ready(t.Context()); err != nil {
		t.Fatal(err)
	}
	w.health = healthgrpc.NewHealthClient(server.InProcess())
	w.PartsServiceClient = partsv1.NewPartsServiceClient(server.InProcess())
	return w
}

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

func on(y, m, d int32) *date.Date { return &date.Date{Year: y, Month: m, Day: d} }

func serial(t testing.TB, body string) string {
	t.Helper()
	return string(must(vehicle.NewSerial(body))(t))
}

// addVehicle makes a release with a gearbox, a fan belt and what else is
// given, and a vehicle of it.
func (w *works) addVehicle(t testing.TB, body string, more ...*buildv1.Fitment) (name string) {
	t.Helper()
	_, err := w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: &buildv1.Release{
		Name: "releases/R1", Title: "First", EffectiveDate: on(2010, 1, 1),
		Fitments: append([]*buildv1.Fitment{
			{Position: "gearbox", Part: "AP-2000", Quantity: 1}, {Position: "fan-belt", Part: "AP-7000", Quantity: 1},
		}, more...),
		Driveline: &buildv1.Driveline{
			Gears: []string{"2.996"}, TransferHigh: "1.148", TransferLow: "2.888", AxleRatio: "4.70",
			Tyre: &vehiclev1.Tyre{Size: "7.50-16"}, SpeedometerDrive: &vehiclev1.SpeedometerDrive{DriverTeeth: 5, DrivenTeeth: 15},
			Dial: &vehiclev1.Dial{Digits: 5, Unit: "mi", TurnsPerUnit: 1000},
		},
	}})
	if err != nil && rpcerr.FromStatus(err).Kind != fault.AlreadyExists {
		t.Fatal(err)
	}
	name = "builds/" + serial(t, body)
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: &buildv1.Build{
		Name: name, FrameNumber: "F-" + body, Release: "releases/R1", BuildDate: on(2012, 6, 1), DeliveryDate: on(2012, 7, 1),
	}}))(t)
	return name
}

func partRow(p *partsv1.Part) *partsv1.PartRow {
	return &partsv1.PartRow{Row: &partsv1.PartRow_Part{Part: p}}
}

func supersessionRow(s *partsv1.Supersession) *partsv1.PartRow {
	return &partsv1.PartRow{Row: &partsv1.PartRow_Supersession{Supersession: s}}
}

func aPart(number, title string) *partsv1.Part {
	return &partsv1.Part{Name: "parts/" + number, Title: title, Unit: "each", Status: partsv1.PartStatus_PART_STATUS_ORDERABLE}
}

func replaces(id, old, new string) *partsv1.Supersession {
	return &partsv1.Supersession{
		Name: "supersessions/" + id, OldPart: "parts/" + old, NewParts: []*partsv1.KitLine{{Part: "parts/" + new, Quantity: 1}},
		EffectiveDate: on(2018, 3, 1),
	}
}

// load imports rows, each chunk of up to 100.
func (w *works) load(t testing.TB, id string, rows ...*partsv1.PartRow) (*partsv1.CommitImportResponse, error) {
	t.Helper()
	chunks := int32(0)
	for len(rows) > 0 {
		n := min(100, len(rows))
		if _, err := w.StageImport(t.Context(), &partsv1.StageImportRequest{ImportId: id, Sequence: chunks, Rows: rows[:n]}); err != nil {
			return nil, err
		}
		rows, chunks = rows[n:], chunks+1
	}
	return w.CommitImport(t.Context(), &partsv1.CommitImportRequest{ImportId: id, Chunks: chunks})
}
