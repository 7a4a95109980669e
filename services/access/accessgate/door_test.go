package accessgate_test

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"log/slog"
	"net"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// today is when all tests here take place.
var today = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

// The vehicles of these tests: one is the owner's, one is somebody else's,
// and the third was never built.
var (
	ownSerial, otherSerial, missingSerial = serial("AM0147"), serial("AM0148"), serial("AM0999")
)

const (
	ownPerson, otherPerson, missingPerson = "people/p0001", "people/p0002", "people/p0009"
)

func serial(body string) vehicle.Serial {
	s, err := vehicle.NewSerial(body)
	if err != nil {
		panic(err)
	}
	return s
}

// keyBook is an access service that knows some keys and has no store.
type keyBook struct {
	accessv1.UnimplementedAccessServiceServer
	mu      sync.Mutex
	keys    []access.Key
	changed chan struct{} // closed at a change
}

func (b *keyBook) WatchKeys(_ *accessv1.WatchKeysRequest, s grpc.ServerStreamingServer[accessv1.WatchKeysResponse]) error {
	for revision := int64(1); ; revision++ {
		b.mu.Lock()
		out, changed := &accessv1.WatchKeysResponse{Revision: int64(len(b.keys)), Synced: true}, b.changed
		for _, k := range b.keys {
			out.Keys = append(out.Keys, accesswire.KeyWithDigest(k))
		}
		b.mu.Unlock()
		if err := s.Send(out); err != nil {
			return err
		}
		select {
		case <-changed:
		case <-s.Context().Done():
			return s.Context().Err()
		}
	}
}

func (b *keyBook) WhoAmI(ctx context.Context, _ *accessv1.WhoAmIRequest) (*accessv1.WhoAmIResponse, error) {
	c := access.CallerFrom(ctx)
	return &accessv1.WhoAmIResponse{Role: accesswire.RoleProto(c.Role), Bearer: c.Bearer, Person: c.Person}, nil
}

// add makes a key and tells its secret.
func (b *keyBook) add(k access.Key) string {
	id, secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		panic(err)
	}
	k.ID, k.Digest = id, access.DigestOf(secret)
	b.mu.Lock()
	defer b.mu.Unlock()
	b.keys = append(b.keys, k)
	close(b.changed)
	b.changed = make(chan struct{})
	return secret
}

// tieBook is an owner service that knows some ties.
type tieBook struct {
	ownerv1.UnimplementedOwnerServiceServer
	ties []*ownerv1.Tie
}

func (b *tieBook) WatchTies(_ *ownerv1.WatchTiesRequest, s grpc.ServerStreamingServer[ownerv1.WatchTiesResponse]) error {
	if err := s.Send(&ownerv1.WatchTiesResponse{Revision: 1, Synced: true, Ties: b.ties}); err != nil {
		return err
	}
	<-s.Context().Done()
	return s.Context().Err()
}

func tie(s vehicle.Serial, id, person string, role ownerv1.Role, start, end string) *ownerv1.Tie {
	first, _ := vehicle.ParseDate(start)
	last, _ := vehicle.ParseDate(end)
	return &ownerv1.Tie{
		Name: "vehicles/" + string(s) + "/ties/" + id, Person: person, Role: role,
		StartDate: vehiclewire.DateProto(first), EndDate: vehiclewire.DateProto(last),
	}
}

// logBook is a log that may be read while it is written.
type logBook struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *logBook) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *logBook) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// door is a server of all services behind the real gate. Each method that the
// gate lets through answers UNIMPLEMENTED, but the few above.
type door struct {
	server    *grpcserver.Server
	gate      *accessgate.Gate
	keys      *keyBook
	log       *logBook
	tcp, sock *grpc.ClientConn
	secrets   map[access.Role]string
}

// newDoor opens a door with one key for each role. An owner owns ownSerial.
// before is done to it while it is still shut, so that
// what is added then is known as soon as it is open.
func newDoor(t testing.TB, before ...func(*door)) *door {
	t.Helper()
	return newDoorOf(t, accessgate.Config{}, before...)
}

// newDoorOf is newDoor for a gate with other settings; the clock and the log
// are the test's.
func newDoorOf(t testing.TB, config accessgate.Config, before ...func(*door)) *door {
	t.Helper()
	d := &door{keys: &keyBook{changed: make(chan struct{})}, log: &logBook{}, secrets: map[access.Role]string{}}
	logger := slog.New(slog.NewTextHandler(d.log, &slog.HandlerOptions{Level: slog.LevelInfo}))
	config.Clock, config.Logger = func() time.Time { return today }, logger
	var err error
	if d.gate, err = accessgate.New(config); err != nil {
		t.Fatal(err)
	}
	d.server = grpcserver.New(grpcserver.Config{Gate: d.gate, Reflection: true, Logger: logger})
	accessv1.RegisterAccessServiceServer(d.server, d.keys)
	buildv1.RegisterBuildServiceServer(d.server, buildv1.UnimplementedBuildServiceServer{})
	ownerv1.RegisterOwnerServiceServer(d.server, &tieBook{ties: []*ownerv1.Tie{
		tie(ownSerial, "1", ownPerson, ownerv1.Role_ROLE_OWNER, "2020-01-01", ""),
		tie(otherSerial, "2", otherPerson, ownerv1.Role_ROLE_OWNER, "2020-01-01", ""),
	}})
	partsv1.RegisterPartsServiceServer(d.server, partsv1.UnimplementedPartsServiceServer{})
	reminderv1.RegisterReminderServiceServer(d.server, reminderv1.UnimplementedReminderServiceServer{})
	schedulev1.RegisterScheduleServiceServer(d.server, schedulev1.UnimplementedScheduleServiceServer{})
	for _, role := range access.AllRoles() {
		k := access.Key{Title: "test", Role: role, Bearer: role.String() + " of the test"}
		if role == access.Owner {
			k.Person, k.Bearer = ownPerson, "owner"
		}
		d.secrets[role] = d.keys.add(k)
	}
	for _, f := range before {
		f(d)
	}
	d.open(t)
	return d
}

// open serves on all three kinds of connection until the test ends.
func (d *door) open(t testing.TB) {
	t.Helper()
	socket := filepath.Join(t.TempDir(), "s")
	address, err := d.server.Listen("tcp", "127.0.0.1:0")
	if err == nil {
		_, err = d.server.Listen("unix", socket)
	}
	if err != nil {
		t.Fatal(err)
	}
	d.tcp, d.sock = dial(t, address.String()), dial(t, "unix:"+socket)
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- d.server.Serve(ctx) }()
	self := accessgate.Forward(d.server.InProcess(), "")
	d.gate.Follow(ctx, accessv1.NewAccessServiceClient(self), ownerv1.NewOwnerServiceClient(self), &projection.Group{})
	t.Cleanup(func() {
		cancel()
		if err := errors.Join(<-served, d.gate.Close(), d.server.Close()); err != nil && !errors.Is(err, net.ErrClosed) {
			t.Error(err)
		}
	})
	ready, stop := context.WithTimeout(ctx, 10*time.Second)
	defer stop()
	if err := d.gate.Ready(ready); err != nil {
		t.Fatal(err)
	}
}

func dial(t testing.TB, target string) *grpc.ClientConn {
	t.Helper()
	c, err := grpc.NewClient(target, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// as gives a connection over TCP with the key of a role; without a key for
// Nobody.
func (d *door) as(role access.Role) grpc.ClientConnInterface {
	return accessgate.Present(d.tcp, d.secrets[role])
}
