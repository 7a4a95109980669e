package warrantyrpc_test

import (
	"context"
	"log/slog"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/build/buildrpc"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantyrpc"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// london is the works' zone.
var london = zone("Europe/London")

func zone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

// stub is what the schedule and the owner service say.
type stub struct {
	mu       sync.Mutex
	readings []*schedulev1.Reading
	entries  []*schedulev1.ServiceEntry
	covered  []*schedulev1.ComponentDistance
	pace     *schedulev1.Pace // nil: the vehicle has no programme
	ties     []*ownerv1.Tie
	zones    map[string]string // by person
	asker    access.Caller     // of the last question about readings
}

func (s *stub) ListReadings(ctx context.Context, _ *schedulev1.ListReadingsRequest, _ ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.asker = access.CallerFrom(ctx)
	return &schedulev1.ListReadingsResponse{Readings: s.readings}, nil
}

func (s *stub) ListServiceEntries(context.Context, *schedulev1.ListServiceEntriesRequest, ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error) {
	return &schedulev1.ListServiceEntriesResponse{ServiceEntries: s.entries}, nil
}

func (s *stub) ListComponentDistances(context.Context, *schedulev1.ListComponentDistancesRequest, ...grpc.CallOption) (*schedulev1.ListComponentDistancesResponse, error) {
	return &schedulev1.ListComponentDistancesResponse{ComponentDistances: s.covered}, nil
}

func (s *stub) GetSchedule(context.Context, *schedulev1.GetScheduleRequest, ...grpc.CallOption) (*schedulev1.Schedule, error) {
	if s.pace == nil {
		return nil, status.Error(codes.FailedPrecondition, "no programme")
	}
	return &schedulev1.Schedule{Pace: s.pace}, nil
}

func (s *stub) GetPerson(_ context.Context, r *ownerv1.GetPersonRequest, _ ...grpc.CallOption) (*ownerv1.Person, error) {
	return &ownerv1.Person{Name: r.GetName(), TimeZone: s.zones[r.GetName()]}, nil
}

// tieStream tells the ties once and stays open.
type tieStream struct {
	grpc.ClientStream
	ctx  context.Context
	ties []*ownerv1.Tie
	told bool
}

func (s *tieStream) Recv() (*ownerv1.WatchTiesResponse, error) {
	if !s.told {
		s.told = true
		return &ownerv1.WatchTiesResponse{Revision: 1, Synced: true, Ties: s.ties}, nil
	}
	<-s.ctx.Done()
	return nil, s.ctx.Err()
}

func (s *stub) WatchTies(ctx context.Context, _ *ownerv1.WatchTiesRequest, _ ...grpc.CallOption) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error) {
	return &tieStream{ctx: ctx, ties: s.ties}, nil
}

// works is the warranty service beside the real build service, behind a real
// server over a real etcd; what the schedule and the owners say is given.
type works struct {
	warrantyv1.WarrantyServiceClient
	*stub
	t      testing.TB
	builds buildv1.BuildServiceClient
	server *grpcserver.Server
	store  *kv.Store
	now    atomic.Int64 // Unix seconds
	caller atomic.Pointer[access.Caller]
	close  func()
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
func open(t testing.TB, store *kv.Store, said *stub) *works {
	t.Helper()
	w := &works{t: t, store: store, stub: said}
	w.at("2026-11-25T10:00:00Z")
	w.as(access.Caller{Role: access.Support, Bearer: "front desk"})
	w.server = grpcserver.New(grpcserver.Config{
		Gate: gate{w}, Logger: slog.New(slog.NewTextHandler(t.Output(), &slog.HandlerOptions{Level: slog.LevelWarn})),
	})
	conn := w.server.InProcess()
	w.builds, w.WarrantyServiceClient = buildv1.NewBuildServiceClient(conn), warrantyv1.NewWarrantyServiceClient(conn)
	group := &projection.Group{}
	clock := func() time.Time { return time.Unix(w.now.Load(), 0) }
	builds, err := buildrpc.New(t.Context(), buildrpc.Config{Store: store, Group: group, Clock: clock})
	if err != nil {
		t.Fatal(err)
	}
	service, err := warrantyrpc.New(t.Context(), warrantyrpc.Config{
		Store: store, Group: group, Clock: clock, Builds: w.builds, Owners: said, Schedules: said, Zone: london,
		Contact: warranty.Contact{Name: "Aldermoor Works", Telephone: "+44 1632 960100", Email: "care@aldermoor.example"},
	})
	if err != nil {
		t.Fatal(err)
	}
	builds.RegisterService(w.server)
	service.RegisterService(w.server)
	served := make(chan error, 1)
	go func() { served <- w.server.Serve(context.Background()) }()
	closed := false
	w.close = func() {
		if closed {
			return
		}
		closed = true
		for _, end := range []func() error{service.Close, w.server.Close, builds.Close} {
			if err := end(); err != nil {
				t.Error(err)
			}
		}
		if err := <-served; err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(w.close)
	if err := service.Ready(t.Context()); err != nil {
		t.Fatal(err)
	}
	return w
}

// at sets the clock.
func (w *works) at(text string) {
	moment, err := time.Parse(time.RFC3339, text)
	if err != nil {
		w.t.Fatal(err)
	}
	w.now.Store(moment.Unix())
}

// as makes somebody the caller.
func (w *works) as(c access.Caller) { w.caller.Store(&c) }

var (
	engineer = access.Caller{Role: access.Engineer, Bearer: "workshop", Account: "accounts/ada"}
	another  = access.Caller{Role: access.Administrator, Bearer: "office", Account: "accounts/ida"}
	desk     = access.Caller{Role: access.Support, Bearer: "front desk"}
	ferry    = access.Caller{Role: access.Dealer, Bearer: "ferry bench", Organisation: "organisations/ferry"}
	quay     = access.Caller{Role: access.Dealer, Bearer: "quay bench", Organisation: "organisations/quay"}
	keeper   = access.Caller{Role: access.Owner, Bearer: "owner", Person: "people/p0031"}
)

const theVehicle = "vehicles/AM0147P"

// start has one release with two positions, a vehicle delivered on a day, and
// the works' promise of a year and 12,000 miles.
func start(t testing.TB, delivered string, said *stub) *works {
	t.Helper()
	w := open(t, kv.NewStore(etcdtest.Client(t)), said)
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: release()}))(t)
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM0147P", delivered)}))(t)
	w.as(engineer)
	must(w.CreateWarrantyTerm(t.Context(), &warrantyv1.CreateWarrantyTermRequest{WarrantyTerm: theTerm()}))(t)
	w.as(desk)
	return w
}

func theTerm() *warrantyv1.WarrantyTerm {
	return &warrantyv1.WarrantyTerm{
		Name: "warrantyTerms/WORKS-12/versions/1", Title: "One year, parts and labour", Giver: warrantyv1.WarrantyGiver_WARRANTY_GIVER_WORKS,
		Start: warrantyv1.WarrantyStart_WARRANTY_START_DELIVERY, Months: 12, Distance: miles("12000"), CoversParts: true, CoversLabour: true,
		Exclusions: []*warrantyv1.WarrantyExclusion{{ExclusionId: "wear", Text: "Wear in ordinary use."}}, Transferable: true, ExtendedByDaysOut: true,
		Repair: &warrantyv1.RepairTerm{Months: 3}, EffectiveDate: calendar("2000-01-01"), Sample: true,
	}
}

func release() *buildv1.Release {
	return &buildv1.Release{
		Name: "releases/R1", Title: "First release", Programme: "programmes/packhorse", EffectiveDate: calendar("1990-01-01"),
		Fitments: []*buildv1.Fitment{{Position: "gearbox", Part: "AP-1100"}, {Position: "transfer-case", Part: "AP-1200"}},
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

// counted is a reading that the ledger counts.
func counted(on, mi string) *schedulev1.Reading {
	return &schedulev1.Reading{ReadingDate: calendar(on), State: schedulev1.ReadingState_READING_STATE_COUNTED, LifeDistance: trueMiles(mi)}
}

func trueMiles(n string) *vehiclev1.Distance {
	d, err := vehicle.ParseDecimal(n)
	if err != nil {
		panic(err)
	}
	return &vehiclev1.Distance{Millimetres: int64(d.Float64() * float64(vehicle.Mile))}
}

// cover asks for a position on a day; "" is this moment.
func (w *works) cover(position, on string) *warrantyv1.Cover {
	w.t.Helper()
	r := &warrantyv1.GetCoverRequest{Name: theVehicle + "/covers/" + position}
	if on != "" {
		r.OnDate = calendar(on)
	}
	return must(w.GetCover(w.t.Context(), r))(w.t)
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

func calendar(text string) *date.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return &date.Date{Year: int32(d.Year), Month: int32(d.Month), Day: int32(d.Day)}
}

func miles(n string) *vehiclev1.Distance {
	return &vehiclev1.Distance{EnteredValue: n, EnteredUnit: "mi"}
}
