package bulletinrpc_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/access"
	"halfshaft/services/build/buildrpc"
	"halfshaft/services/bulletin/bulletinjob"
	"halfshaft/services/bulletin/bulletinrpc"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/owner/ownerrpc"
	"halfshaft/services/schedule/schedulerpc"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// works is the bulletin service beside the real services that it asks, behind a
// real server over a real etcd.
type works struct {
	bulletinv1.BulletinServiceClient
	builds    buildv1.BuildServiceClient
	owners    ownerv1.OwnerServiceClient
	schedules schedulev1.ScheduleServiceClient
	health    healthgrpc.HealthClient
	kept      *bulletinstore.Store
	job       *bulletinjob.Job
	group     *projection.Group
	service   *bulletinrpc.Service
	day       atomic.Int64                   // days after that of the clock
	caller    *atomic.Pointer[access.Caller] // whom the door takes everybody for
	mute      atomic.Bool                    // the schedules do not tell how vehicles are used
}

// halfMute are schedules that do not tell how vehicles are used while mute.
type halfMute struct {
	schedulev1.ScheduleServiceClient
	mute *atomic.Bool
}

func (s halfMute) ListUseFacts(ctx context.Context, r *schedulev1.ListUseFactsRequest, o ...grpc.CallOption) (*schedulev1.ListUseFactsResponse, error) {
	if s.mute.Load() {
		return nil, errors.New("use facts are not told")
	}
	return s.ScheduleServiceClient.ListUseFacts(ctx, r, o...)
}

// gate lets everybody in as the caller of the test.
type gate struct {
	caller *atomic.Pointer[access.Caller]
}

func (g gate) Unary() grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, _ *grpc.UnaryServerInfo, h grpc.UnaryHandler) (any, error) {
		return h(access.NewContext(ctx, *g.caller.Load()), req)
	}
}

func (g gate) Stream() grpc.StreamServerInterceptor {
	return func(srv any, ss grpc.ServerStream, _ *grpc.StreamServerInfo, h grpc.StreamHandler) error {
		return h(srv, ss)
	}
}

var (
	engineer = access.Caller{Role: access.Engineer, Bearer: "drawing office"}
	dealer   = access.Caller{Role: access.Dealer, Bearer: "workshop", Organisation: "organisations/ferncombe"}
	anOwner  = access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p0001"}
)

func clock() time.Time { return time.Date(2026, 11, 25, 10, 0, 0, 0, time.UTC) }

func start(t testing.TB) *works { return open(t, kv.NewStore(etcdtest.Client(t)), t.TempDir()) }

// open starts the services over a store; the test's end stops them.
func open(t testing.TB, store *kv.Store, data string) *works {
	t.Helper()
	w := &works{group: &projection.Group{}, caller: &atomic.Pointer[access.Caller]{}}
	w.as(engineer)
	clock := func() time.Time { return clock().AddDate(0, 0, int(w.day.Load())) }
	logger := slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn}))
	server := grpcserver.New(grpcserver.Config{Gate: gate{w.caller}, Logger: logger})
	conn := server.InProcess()
	w.builds, w.owners, w.schedules = buildv1.NewBuildServiceClient(conn), ownerv1.NewOwnerServiceClient(conn), schedulev1.NewScheduleServiceClient(conn)
	builds := must(buildrpc.New(t.Context(), buildrpc.Config{Store: store, Group: w.group, Clock: clock}))(t)
	owners := must(ownerrpc.New(t.Context(), ownerrpc.Config{Store: store, Group: w.group, Clock: clock, MasterKeyPath: filepath.Join(data, "master.key")}))(t)
	schedules := must(schedulerpc.New(t.Context(), schedulerpc.Config{Store: store, Group: w.group, Clock: clock, Builds: w.builds, Logger: logger}))(t)
	w.kept = must(bulletinstore.Open(t.Context(), store, time.UTC, logger))(t)
	w.job = must(bulletinjob.New(t.Context(), bulletinjob.Config{
		Store: w.kept, Group: w.group, Builds: w.builds, Owners: w.owners, Schedules: halfMute{w.schedules, &w.mute}, Clock: clock, Logger: logger}))(t)
	w.service = must(bulletinrpc.New(t.Context(), bulletinrpc.Config{Store: w.kept, Job: w.job, Group: w.group, Schedules: w.schedules, Clock: clock, Logger: logger}))(t)
	parts := []interface {
		RegisterService(grpc.ServiceRegistrar)
		Ready(context.Context) error
		Close() error
	}{builds, owners, schedules, w.service}
	for _, p := range parts {
		p.RegisterService(server)
	}
	served := make(chan error, 1)
	go func() { served <- server.Serve(context.Background()) }()
	t.Cleanup(func() {
		server.Close()
		if err := <-served; err != nil {
			t.Error(err)
		}
		for i := range parts {
			if err := parts[len(parts)-1-i].Close(); err != nil {
				t.Error(err)
			}
		}
	})
	for _, p := range parts {
		if err := p.Ready(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	w.health, w.BulletinServiceClient = healthgrpc.NewHealthClient(conn), bulletinv1.NewBulletinServiceClient(conn)
	return w
}

// as lets the calls that follow be somebody's.
func (w *works) as(c access.Caller) { w.caller.Store(&c) }

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

// fleet makes a release and so many vehicles of it, each with a gearbox of its
// own; those of the lot L7 first.
func (w *works) fleet(t testing.TB, n, ofLot int) []string {
	t.Helper()
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: &buildv1.Release{
		Name: "releases/R1", Title: "First", EffectiveDate: on(2010, 1, 1),
		Fitments: []*buildv1.Fitment{{Position: "gearbox", Part: "AP-2000", Quantity: 1}, {Position: "fan-belt", Part: "AP-7000", Quantity: 1}},
		Driveline: &buildv1.Driveline{
			Gears: []string{"2.996"}, TransferHigh: "1.148", TransferLow: "2.888", AxleRatio: "4.70",
			Tyre: &vehiclev1.Tyre{Size: "7.50-16"}, SpeedometerDrive: &vehiclev1.SpeedometerDrive{DriverTeeth: 5, DrivenTeeth: 15},
			Dial: &vehiclev1.Dial{Digits: 5, Unit: "mi", TurnsPerUnit: 1000},
		},
	}}))(t)
	var out []string
	for number := 1; len(out) < n; number++ {
		issued, err := vehicle.NewSerial(fmt.Sprintf("AM%04d", number))
		if err != nil {
			continue // a number that gives no serial
		}
		s, lot := string(issued), "L8"
		if len(out) < ofLot {
			lot = "L7"
		}
		must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: &buildv1.Build{
			Name: "builds/" + s, Release: "releases/R1", FrameNumber: "F" + s, BuildDate: on(2012, 6, 1), DeliveryDate: on(2012, 6, 10),
			Components: []*buildv1.Component{{Position: "gearbox", Part: "AP-2000", Serial: "G" + s, Lot: lot}},
		}}))(t)
		out = append(out, s)
	}
	return out
}

// ofLot is a campaign for the gearboxes of the lot L7, wherever they stand.
func ofLot(id string) *bulletinv1.Bulletin {
	return &bulletinv1.Bulletin{
		Name: "bulletins/" + id + "/versions/1", Kind: bulletinv1.BulletinKind_BULLETIN_KIND_CAMPAIGN, Title: "Gearboxes of lot L7",
		Fault: "The layshaft of the lot may be soft.", Consequence: "The gearbox can lock.", Meanwhile: "Do not tow.",
		Caution: "Chock the wheels before the gearbox comes out.", Sample: true,
		Set: &bulletinv1.BulletinSet{Condition: &bulletinv1.SetCondition{Condition: &bulletinv1.SetCondition_Fitted{
			Fitted: &bulletinv1.FittedUnit{Position: "gearbox", Lots: []string{"L7"}}}}},
		Remedy: []*bulletinv1.RemedyItem{{ItemId: "C1", Title: "Replace the layshaft", Minutes: 300, Reinspection: &bulletinv1.Reinspection{Days: 90}}},
	}
}

// issued has a bulletin drafted and issued.
func (w *works) issued(t testing.TB, b *bulletinv1.Bulletin) *bulletinv1.Bulletin {
	t.Helper()
	b = must(w.CreateBulletin(t.Context(), &bulletinv1.CreateBulletinRequest{Bulletin: b}))(t)
	return must(w.IssueBulletin(t.Context(), &bulletinv1.IssueBulletinRequest{Name: b.GetName(), Etag: b.GetEtag()}))(t)
}

// listed gives the whole list of a campaign, page by page.
func (w *works) listed(t testing.TB, id string) []*bulletinv1.FollowUp {
	t.Helper()
	var out []*bulletinv1.FollowUp
	r := &bulletinv1.ListFollowUpsRequest{Parent: "vehicles/-", Bulletin: "bulletins/" + id, PageSize: 100}
	for {
		p := must(w.ListFollowUps(t.Context(), r))(t)
		out = append(out, p.GetFollowUps()...)
		if r.PageToken = p.GetNextPageToken(); r.PageToken == "" {
			return out
		}
	}
}
