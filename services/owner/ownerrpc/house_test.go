package ownerrpc_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/access/accessrpc"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/owner/ownerrpc"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// today is when these tests begin; some move on.
var today = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

// house is a process with the owner and the access service behind the real
// gate, over a real store.
type house struct {
	server *grpcserver.Server
	now    time.Time
	close  func()
}

// open starts a house. Tests that open one again over the same store give the
// same path of the master key.
func open(t testing.TB, client *clientv3.Client, masterKey string) *house {
	t.Helper()
	h := &house{now: today}
	group := &projection.Group{}
	store := kv.NewStore(client)
	gate, err := accessgate.New(accessgate.Config{Clock: h.clock})
	if err != nil {
		t.Fatal(err)
	}
	keys, err := accessrpc.New(t.Context(), accessrpc.Config{Store: store, Group: group, Clock: h.clock})
	if err != nil {
		t.Fatal(err)
	}
	people, err := ownerrpc.New(t.Context(), ownerrpc.Config{
		Store: store, MasterKeyPath: masterKey, Documents: filepath.Join(filepath.Dir(masterKey), "documents"), Group: group, Clock: h.clock,
	})
	if err != nil {
		keys.Close()
		t.Fatal(err)
	}
	h.server = grpcserver.New(grpcserver.Config{
		Gate:      gate,
		Deadlines: map[string]time.Duration{ownerv1.OwnerService_CommitImport_FullMethodName: 30 * time.Minute}, // as in the works
	})
	keys.RegisterService(h.server)
	people.RegisterService(h.server)
	buildv1.RegisterBuildServiceServer(h.server, buildv1.UnimplementedBuildServiceServer{}) // through the gate: UNIMPLEMENTED
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- h.server.Serve(ctx) }()
	self := accessgate.Forward(h.server.InProcess(), "")
	gate.Follow(ctx, accessv1.NewAccessServiceClient(self), ownerv1.NewOwnerServiceClient(self), group)
	closed := false
	h.close = func() {
		if closed {
			return
		}
		closed = true
		cancel()
		if err := errors.Join(<-served, gate.Close(), h.server.Close(), people.Close(), keys.Close()); err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(h.close)
	if err := gate.Ready(t.Context()); err != nil {
		t.Fatal(err)
	}
	return h
}

func keyFile(t testing.TB) string {
	t.Helper()
	return filepath.Join(t.TempDir(), "master.key")
}

// as gives a context and a client that call for somebody.
func (h *house) as(c access.Caller) (context.Context, ownerv1.OwnerServiceClient) {
	return access.NewContext(context.Background(), c), ownerv1.NewOwnerServiceClient(accessgate.Forward(h.server.InProcess(), ""))
}

func (h *house) desk() (context.Context, ownerv1.OwnerServiceClient) {
	return h.as(access.Caller{Role: access.Support, Bearer: "front desk"})
}

func (h *house) works() (context.Context, ownerv1.OwnerServiceClient) {
	return h.as(access.Caller{Role: access.Administrator, Bearer: "works"})
}

func (h *house) owner(person string) (context.Context, ownerv1.OwnerServiceClient) {
	return h.as(access.Caller{Role: access.Owner, Bearer: "owner", Person: person})
}

func (h *house) service() ownerv1.OwnerServiceClient {
	return ownerv1.NewOwnerServiceClient(accessgate.Forward(h.server.InProcess(), ""))
}

func uuid(n int) string { return fmt.Sprintf("0190c5a2-7f3e-7b1d-9a44-%012d", n) }

func day(y, m, d int32) *date.Date { return &date.Date{Year: y, Month: m, Day: d} }

func serial(t testing.TB, body string) string {
	t.Helper()
	s, err := vehicle.NewSerial(body)
	if err != nil {
		t.Fatal(err)
	}
	return string(s)
}

// person gives an invented person who is all right.
func person(id string) *ownerv1.Person {
	return &ownerv1.Person{
		Name: "people/" + id, FullName: "Ada Nettlefold", Email: "ada@nettlefold.example", Phone: "+441632960983",
		PostalLines: []string{"The Old Forge", "Nether Aldermoor"}, Language: "en-GB", DistanceUnit: "mi", TimeZone: "Europe/London",
		ContactFromHour: 8, ContactUntilHour: 20,
	}
}

// create makes a person from the desk.
func (h *house) create(t testing.TB, id string) *ownerv1.Person {
	t.Helper()
	ctx, desk := h.desk()
	p, err := desk.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: person(id)})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// tie makes a tie from the desk.
func (h *house) tie(t testing.TB, serial, id string, role ownerv1.Role, start *date.Date) *ownerv1.Tie {
	t.Helper()
	ctx, desk := h.desk()
	tie, err := desk.CreateTie(ctx, &ownerv1.CreateTieRequest{
		Parent: "vehicles/" + serial, Tie: &ownerv1.Tie{Person: "people/" + id, Role: role, Notices: true, StartDate: start},
	})
	if err != nil {
		t.Fatal(err)
	}
	return tie
}

// wantReason fails unless err carries the code and the reason.
func wantReason(t testing.TB, err error, code codes.Code, reason string) {
	t.Helper()
	got := ""
	if f := rpcerr.FromStatus(err); f != nil {
		got = f.Reason
	}
	if status.Code(err) != code || got != reason {
		t.Errorf("got %v (%s), want %v, %s", err, got, code, reason)
	}
}

// clock tells the house's time.
func (h *house) clock() time.Time { return h.now }
