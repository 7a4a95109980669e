package accessgate_test

import (
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/dynamicpb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	_ "halfshaft/proto/halfshaft/bulletin/v1"
	_ "halfshaft/proto/halfshaft/enquiry/v1"
	_ "halfshaft/proto/halfshaft/handbook/v1"
	_ "halfshaft/proto/halfshaft/jobsheet/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	_ "halfshaft/proto/halfshaft/parts/v1"
	_ "halfshaft/proto/halfshaft/reminder/v1"
	_ "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/throttle"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// today is when all tests here take place.
var today = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

// The vehicles of these tests: one is the owner's; one is assigned to the
// dealer; one is somebody else's, and assigned to another dealer; one was the
// owner's and assigned to the dealer, who had it by a booking, by the owner's
// consent and by the works; and the last was never built.
var (
	ownSerial, assignedSerial, otherSerial, formerSerial, missingSerial = serial("AM0147"), serial("AM0150"), serial("AM0148"), serial("AM0151"), serial("AM0999")
)

const (
	ownPerson, otherPerson, formerPerson, missingPerson = "people/p0001", "people/p0002", "people/p0003", "people/p0009"

	ferncombe, millbeck, oldBarn, nowhere = "organisations/ferncombe", "organisations/millbeck", "organisations/old-barn", "organisations/nowhere"
)

// doorBook is what the access service of these tests tells of the organisations:
// Ferncombe is the dealer's, Millbeck another's, the Old Barn is closed.
func doorBook() *accessv1.WatchDoorResponse {
	closed := today.AddDate(0, -1, 0)
	out := &accessv1.WatchDoorResponse{Revision: 1, Synced: true}
	for _, o := range []access.Organisation{{ID: "ferncombe"}, {ID: "millbeck"}, {ID: "old-barn", Closed: closed}} {
		out.Organisations = append(out.Organisations, accesswire.OrganisationProto(o))
	}
	for _, a := range []access.Account{
		{ID: "ida", Role: access.Support}, {ID: "gone", Role: access.Support, Closed: closed},
		{ID: "hal", Role: access.Dealer, Organisation: ferncombe}, {ID: "barney", Role: access.Dealer, Organisation: oldBarn},
	} {
		out.Accounts = append(out.Accounts, accesswire.AccountProto(a))
	}
	first, last := day("2026-11-01"), day("2026-12-01")
	for _, a := range []access.Assignment{
		{ID: "a1", Vehicle: assignedSerial, Organisation: ferncombe, Ground: access.Booking, Start: first, Last: last},
		{ID: "a2", Vehicle: otherSerial, Organisation: millbeck, Ground: access.Consent, ConsentedBy: otherPerson, Start: first, Last: last},
		{ID: "a3", Vehicle: formerSerial, Organisation: ferncombe, Ground: access.Booking, Start: first, Last: day("2026-11-24")},
		{ID: "a4", Vehicle: formerSerial, Organisation: ferncombe, Ground: access.Consent, ConsentedBy: ownPerson, Start: first, Last: last},
		{ID: "a5", Vehicle: formerSerial, Organisation: ferncombe, Ground: access.ByWorks, Start: first, Last: last, End: access.AssignmentEnd{Time: closed}},
		{ID: "a6", Vehicle: formerSerial, Organisation: oldBarn, Ground: access.ByWorks, Start: first, Last: last},
	} {
		out.Assignments = append(out.Assignments, accesswire.AssignmentProto(a))
	}
	return out
}

func day(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

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
	book    *accessv1.WatchDoorResponse
	uses    chan *accessv1.NoteKeyUsesRequest // nil: nobody listens
}

func (b *keyBook) WatchDoor(_ *accessv1.WatchDoorRequest, s grpc.ServerStreamingServer[accessv1.WatchDoorResponse]) error {
	if err := s.Send(b.book); err != nil {
		return err
	}
	<-s.Context().Done()
	return s.Context().Err()
}

func (b *keyBook) NoteKeyUses(ctx context.Context, r *accessv1.NoteKeyUsesRequest) (*accessv1.NoteKeyUsesResponse, error) {
	if b.uses != nil {
		select {
		case b.uses <- r:
		case <-ctx.Done():
		}
	}
	return &accessv1.NoteKeyUsesResponse{}, nil
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
	return &accessv1.WhoAmIResponse{
		Role: accesswire.RoleProto(c.Role), Bearer: c.Bearer, Person: c.Person,
		Organisation: c.Organisation, Account: c.Account, Credential: c.Credential,
	}, nil
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
	millbeck  string // the key of the other dealer
}

// newDoor opens a door with one key for each role, and one for another dealer.
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
	d := &door{keys: &keyBook{changed: make(chan struct{}), book: doorBook()}, log: &logBook{}, secrets: map[access.Role]string{}}
	logger := slog.New(slog.NewTextHandler(d.log, &slog.HandlerOptions{Level: slog.LevelInfo}))
	if config.Clock == nil {
		config.Clock = func() time.Time { return today }
	}
	config.Logger = logger
	config.Limits.Key = cmp.Or(config.Limits.Key, throttle.Unlimited)
	config.Limits.Address = cmp.Or(config.Limits.Address, throttle.Unlimited)
	config.Limits.Failed = cmp.Or(config.Limits.Failed, throttle.Unlimited)
	var err error
	if d.gate, err = accessgate.New(config); err != nil {
		t.Fatal(err)
	}
	d.server = grpcserver.New(grpcserver.Config{Gate: d.gate, Reflection: true, Logger: logger})
	accessv1.RegisterAccessServiceServer(d.server, d.keys)
	ownerv1.RegisterOwnerServiceServer(d.server, &tieBook{ties: []*ownerv1.Tie{
		tie(ownSerial, "1", ownPerson, ownerv1.Role_ROLE_OWNER, "2020-01-01", ""),
		tie(otherSerial, "2", otherPerson, ownerv1.Role_ROLE_OWNER, "2020-01-01", ""),
		tie(assignedSerial, "3", otherPerson, ownerv1.Role_ROLE_OWNER, "2020-01-01", ""),
		tie(formerSerial, "4", ownPerson, ownerv1.Role_ROLE_OWNER, "2020-01-01", "2026-11-25"),
		tie(formerSerial, "5", formerPerson, ownerv1.Role_ROLE_OWNER, "2026-11-25", ""),
	}})
	registerTheRest(named{d.server})
	for _, role := range access.AllRoles() {
		k := access.Key{Title: "test", Role: role, Bearer: role.String() + " of the test"}
		switch role {
		case access.Owner:
			k.Person, k.Bearer = ownPerson, "owner"
		case access.Dealer:
			k.Organisation = ferncombe
		}
		d.secrets[role] = d.keys.add(k)
	}
	d.millbeck = d.keys.add(access.Key{Title: "test", Role: access.Dealer, Bearer: "the other dealer", Organisation: millbeck})
	for _, f := range before {
		f(d)
	}
	d.open(t)
	return d
}

// named gives our server the method of gRPC's.
type named struct{ *grpcserver.Server }

func (n named) GetServiceInfo() map[string]grpc.ServiceInfo { return n.Services() }

// registerTheRest puts every service of ours on the server that is not there,
// with methods that answer UNIMPLEMENTED.
func registerTheRest(s interface {
	grpc.ServiceRegistrar
	GetServiceInfo() map[string]grpc.ServiceInfo
}) {
	there := s.GetServiceInfo()
	for _, service := range halfshaftServices() {
		if _, ok := there[string(service.FullName())]; ok {
			continue
		}
		desc := &grpc.ServiceDesc{ServiceName: string(service.FullName()), HandlerType: (*any)(nil)}
		for i := range service.Methods().Len() {
			m := service.Methods().Get(i)
			if m.IsStreamingServer() {
				desc.Streams = append(desc.Streams, grpc.StreamDesc{StreamName: string(m.Name()), ServerStreams: true, Handler: func(_ any, ss grpc.ServerStream) error {
					if err := ss.RecvMsg(dynamicpb.NewMessage(m.Input())); err != nil {
						return err
					}
					return status.Error(codes.Unimplemented, "not in these tests")
				}})
				continue
			}
			desc.Methods = append(desc.Methods, method(m, func(context.Context, any) (any, error) {
				return nil, status.Error(codes.Unimplemented, "not in these tests")
			}))
		}
		s.RegisterService(desc, nil)
	}
}

// method is a unary method of any descriptor, as generated code would have it.
func method(m protoreflect.MethodDescriptor, handle grpc.UnaryHandler) grpc.MethodDesc {
	full := fmt.Sprintf("/%s/%s", m.Parent().FullName(), m.Name())
	kind, err := protoregistry.GlobalTypes.FindMessageByName(m.Input().FullName())
	if err != nil {
		kind = dynamicpb.NewMessageType(m.Input())
	}
	return grpc.MethodDesc{MethodName: string(m.Name()), Handler: func(srv any, ctx context.Context, dec func(any) error, in grpc.UnaryServerInterceptor) (any, error) {
		request := kind.New().Interface()
		if err := dec(request); err != nil {
			return nil, err
		}
		if in == nil {
			return handle(ctx, request)
		}
		return in(ctx, request, &grpc.UnaryServerInfo{Server: srv, FullMethod: full}, handle)
	}}
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
