package buildrpc_test

import (
	"context"
	"log/slog"
	"os"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/encoding/prototext"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/build/buildrpc"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// works is the build service behind a real server over a real etcd.
type works struct {
	buildv1.BuildServiceClient
	server  *grpcserver.Server
	service *buildrpc.Service
	store   *kv.Store
	now     atomic.Int64 // Unix seconds
	caller  atomic.Pointer[access.Caller]
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

// open starts the service over a store.
func open(t testing.TB, store *kv.Store) *works { return openWith(t, store, nil) }

// openWith starts the service beside bulletins that it asks.
func openWith(t testing.TB, store *kv.Store, bulletins buildrpc.Bulletins) *works {
	t.Helper()
	w := &works{store: store}
	w.now.Store(time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC).Unix())
	w.caller.Store(&access.Caller{Role: access.Engineer, Bearer: "drawing office"})
	service, err := buildrpc.New(t.Context(), buildrpc.Config{
		Store: store, Group: &projection.Group{}, Clock: func() time.Time { return time.Unix(w.now.Load(), 0) }, Bulletins: bulletins,
	})
	if err != nil {
		t.Fatal(err)
	}
	w.service = service
	w.server = grpcserver.New(grpcserver.Config{
		Gate: gate{w}, Logger: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn})),
	})
	service.RegisterService(w.server)
	served := make(chan error, 1)
	go func() { served <- w.server.Serve(context.Background()) }()
	t.Cleanup(func() {
		w.server.Close()
		if err := <-served; err != nil {
			t.Error(err)
		}
		if err := service.Close(); err != nil {
			t.Error(err)
		}
	})
	w.BuildServiceClient = buildv1.NewBuildServiceClient(w.server.InProcess())
	return w
}

// start opens the service over an etcd of its own.
func start(t testing.TB) *works {
	t.Helper()
	return open(t, kv.NewStore(etcdtest.Client(t)))
}

// startWithFleet has the releases and vehicles of testdata/fleet.textproto.
func startWithFleet(t testing.TB) *works {
	t.Helper()
	w := start(t)
	for _, row := range fleet(t).GetRows() {
		if r := row.GetRelease(); r != nil {
			must(w.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: r}))(t)
		} else {
			must(w.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: row.GetBuild()}))(t)
		}
	}
	return w
}

func fleet(t testing.TB) *buildv1.StageImportRequest {
	t.Helper()
	text, err := os.ReadFile("../testdata/fleet.textproto")
	if err != nil {
		t.Fatal(err)
	}
	rows := &buildv1.StageImportRequest{}
	if err := prototext.Unmarshal(text, rows); err != nil {
		t.Fatal(err)
	}
	return rows
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

func on(y, m, d int32) *date.Date { return &date.Date{Year: y, Month: m, Day: d} }
