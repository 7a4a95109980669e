package accessgate

import (
	"context"
	"fmt"
	"net"
	"strings"
	"sync"
	"testing"
	"time"

	"go.etcd.io/etcd/api/v3/etcdserverpb"
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/throttle"
)

// scene is a gate without a network: what the services would tell it a test
// tells it, and calls go through its interceptor alone.
type scene struct {
	t    testing.TB
	gate *Gate
	now  time.Time
	book *memory
	made int
}

func newScene(t testing.TB) *scene {
	t.Helper()
	s := &scene{t: t, now: time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC), book: &memory{}}
	var err error
	s.gate, err = New(Config{
		Clock: func() time.Time { return s.now }, Recorder: s.book,
		Limits: Limits{throttle.Unlimited, throttle.Unlimited, throttle.Unlimited, throttle.Unlimited},
	})
	if err != nil {
		t.Fatal(err)
	}
	s.gate.Follow(t.Context(), noKeys{}, noTies{}, &projection.Group{})
	if err := s.gate.Ready(t.Context()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.gate.Close() })
	return s
}

// What the services tell. The feeds are silent after their first answer, so
// nobody else tells anything meanwhile.

func (s *scene) tellKey(k access.Key) {
	s.must(s.gate.keys.apply(&accessv1.WatchKeysResponse{Synced: true, Keys: []*accessv1.Key{accesswire.KeyWithDigest(k)}}))
}

func (s *scene) tellTie(t *ownerv1.Tie) {
	s.must(s.gate.ties.apply(&ownerv1.WatchTiesResponse{Synced: true, Ties: []*ownerv1.Tie{t}}))
}

func (s *scene) tellOrganisation(o access.Organisation) {
	s.must(s.gate.book.apply(&accessv1.WatchDoorResponse{Synced: true, Organisations: []*accessv1.Organisation{accesswire.OrganisationProto(o)}}))
}

func (s *scene) tellAccount(a access.Account) {
	s.must(s.gate.book.apply(&accessv1.WatchDoorResponse{Synced: true, Accounts: []*accessv1.Account{accesswire.AccountProto(a)}}))
}

func (s *scene) tellAssignment(a access.Assignment) {
	s.must(s.gate.book.apply(&accessv1.WatchDoorResponse{Synced: true, Assignments: []*accessv1.Assignment{accesswire.AssignmentProto(a)}}))
}

func (s *scene) must(_ int64, _, _ bool, err error) {
	s.t.Helper()
	if err != nil {
		s.t.Fatal(err)
	}
}

// key makes a key and tells the gate; the secret is not random.
func (s *scene) key(k access.Key) (access.Key, string) {
	s.made++
	id, secret, err := access.NewSecret(strings.NewReader(fmt.Sprintf("%05d%032d", s.made, s.made)))
	if err != nil {
		s.t.Fatal(err)
	}
	k.ID, k.Digest = id, access.DigestOf(secret)
	s.tellKey(k)
	return k, secret
}

// somewhere is the address that calls over TCP come from.
var somewhere = &net.TCPAddr{IP: net.ParseIP("192.0.2.17"), Port: 4711}

// shows is the incoming context of a call over TCP with a key; empty for none.
func shows(secret string) context.Context {
	md := metadata.MD{}
	if secret != "" {
		md.Set(authorization, bearerScheme+secret)
	}
	ctx := peer.NewContext(context.Background(), &peer.Peer{Addr: somewhere})
	return metadata.NewIncomingContext(ctx, md)
}

type within struct{ net.Addr }

func (within) Network() string { return "bufconn" }
func (within) String() string  { return "bufconn" }

// forwards is the incoming context of a call that a service of this process
// makes for a caller; for itself when that is nobody.
func forwards(c access.Caller) context.Context {
	md := metadata.MD{}
	if c.Role != access.Nobody {
		md.Set(onBehalfOf, encode(c))
	}
	ctx := peer.NewContext(context.Background(), &peer.Peer{Addr: within{}})
	return metadata.NewIncomingContext(ctx, md)
}

// call calls a method through the gate; nil for a handler that answers empty.
func (s *scene) call(ctx context.Context, method string, req any, handler grpc.UnaryHandler) (any, error) {
	if handler == nil {
		handler = func(context.Context, any) (any, error) { return &accessv1.WhoAmIResponse{}, nil }
	}
	return s.gate.Unary()(ctx, req, &grpc.UnaryServerInfo{FullMethod: method}, handler)
}

// memory is a recorder that remembers.
type memory struct {
	mu        sync.Mutex
	witnessed []audit.Line
	noted     []audit.Line
}

func (m *memory) Witness(l audit.Line) *kv.Witness {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.witnessed = append(m.witnessed, l)
	return kv.NewWitness(fmt.Sprintf("/halfshaft/v1/audit/pending/%d", len(m.witnessed)), []byte(l.Text()))
}

func (m *memory) Note(l audit.Line) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.noted = append(m.noted, l)
}

func (m *memory) clear() { m.witnessed, m.noted = nil, nil }

// store is a store that keeps nothing: each transaction ends as the test says.
type store struct {
	clientv3.KV
	err error
}

func storeThat(err error) *kv.Store { return kv.NewStore(&clientv3.Client{KV: &store{err: err}}) }

func (s *store) Txn(context.Context) clientv3.Txn { return &storeTxn{from: s} }

type storeTxn struct {
	clientv3.Txn
	from *store
}

func (t *storeTxn) If(...clientv3.Cmp) clientv3.Txn  { return t }
func (t *storeTxn) Then(...clientv3.Op) clientv3.Txn { return t }
func (t *storeTxn) Else(...clientv3.Op) clientv3.Txn { return t }
func (t *storeTxn) Commit() (*clientv3.TxnResponse, error) {
	if t.from.err != nil {
		return nil, t.from.err
	}
	return &clientv3.TxnResponse{Succeeded: true, Header: &etcdserverpb.ResponseHeader{Revision: 7}}, nil
}

// change commits something under the context of a handler.
func change(ctx context.Context, s *kv.Store, m proto.Message) error {
	_, err := s.Commit(ctx, kv.NewTxn().Put("/halfshaft/v1/test/thing/1", m))
	return err
}

// noTies is an owner service that knows of nobody.
type noTies struct{ ownerv1.OwnerServiceClient }

func (noTies) WatchTies(ctx context.Context, _ *ownerv1.WatchTiesRequest, _ ...grpc.CallOption) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error) {
	return &answers[ownerv1.WatchTiesResponse]{ctx: ctx, left: []*ownerv1.WatchTiesResponse{{Synced: true}}}, nil
}
