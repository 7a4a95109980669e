package accessgate

import (
	"context"
	"io"
	"log/slog"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoregistry"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

func day(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func tieOf(id string, role ownerv1.Role, start, end *date.Date) *ownerv1.Tie {
	return &ownerv1.Tie{Name: "vehicles/AM0147P/ties/" + id, Person: "people/p1", Role: role, StartDate: start, EndDate: end}
}

func TestATieCountsFromItsFirstDayUpToItsEnd(t *testing.T) {
	// The proto of Tie: the first day; the day it ended, which no longer counts.
	start, end := &date.Date{Year: 2026, Month: 3, Day: 1}, &date.Date{Year: 2026, Month: 11, Day: 25}
	for _, c := range []struct {
		name string
		role ownerv1.Role
		end  *date.Date
		on   string
		want bool
	}{
		{"the day before the first", ownerv1.Role_ROLE_OWNER, nil, "2026-02-28", false},
		{"the first day", ownerv1.Role_ROLE_OWNER, nil, "2026-03-01", true},
		{"long after, while it lasts", ownerv1.Role_ROLE_OWNER, nil, "2056-03-01", true},
		{"the last day before the end", ownerv1.Role_ROLE_OWNER, end, "2026-11-24", true},
		{"the day it ended", ownerv1.Role_ROLE_OWNER, end, "2026-11-25", false},
		{"a caretaker, as an owner", ownerv1.Role_ROLE_CARETAKER, nil, "2026-03-01", true},
		{"an executor, as an owner", ownerv1.Role_ROLE_EXECUTOR, nil, "2026-03-01", true},
		{"an executor whose time is over", ownerv1.Role_ROLE_EXECUTOR, end, "2026-11-25", false},
		{"a payer, who sees nothing", ownerv1.Role_ROLE_PAYER, nil, "2026-03-01", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			var book ties
			book.restart()
			if _, _, _, err := book.apply(&ownerv1.WatchTiesResponse{Synced: true, Ties: []*ownerv1.Tie{tieOf("1", c.role, start, c.end)}}); err != nil {
				t.Fatal(err)
			}
			if got := book.of("people/p1", day(c.on))("AM0147P"); got != c.want {
				t.Errorf("got %v, want %v", got, c.want)
			}
			if book.of("people/p2", day(c.on))("AM0147P") || book.of("", day(c.on))("AM0147P") {
				t.Error("the vehicle is somebody else's, or nobody's, too")
			}
		})
	}
}

func TestASnapshotReplacesWhatWasKnownOnlyWhenItIsWhole(t *testing.T) {
	start := &date.Date{Year: 2020, Month: 1, Day: 1}
	var book ties
	send := func(synced bool, list ...*ownerv1.Tie) (reset bool) {
		_, _, reset, err := book.apply(&ownerv1.WatchTiesResponse{Synced: synced, Ties: list})
		if err != nil {
			t.Fatal(err)
		}
		return reset
	}
	has := func() bool { return book.of("people/p1", day("2026-11-25"))("AM0147P") }
	book.restart()
	if !send(true, tieOf("1", ownerv1.Role_ROLE_OWNER, start, nil)) || !has() {
		t.Fatal("the first snapshot is not known")
	}
	if send(true, tieOf("1", ownerv1.Role_ROLE_PAYER, start, nil)) || has() {
		t.Error("a tie that changed is as it was")
	}
	send(true, tieOf("1", ownerv1.Role_ROLE_OWNER, start, nil))
	book.restart() // the stream broke; in the meantime the tie is gone
	if !send(false) || !has() {
		t.Error("half a snapshot has replaced what was known")
	}
	send(true)
	if has() {
		t.Error("what the new snapshot lacks is still known")
	}
}

func TestAKeyOpensUntilTheNewsOfItsEndArrives(t *testing.T) {
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	id, secret, err := access.NewSecret(strings.NewReader(strings.Repeat("k", 37)))
	if err != nil {
		t.Fatal(err)
	}
	key := access.Key{ID: id, Role: access.Support, Bearer: "desk", Digest: access.DigestOf(secret)}
	var ring keyring
	ring.restart()
	ring.apply(&accessv1.WatchKeysResponse{Synced: true, Keys: []*accessv1.Key{accesswire.KeyWithDigest(key)}})
	if c, err := ring.admit(secret, now); err != nil || c.Caller() != key.Caller() {
		t.Errorf("got %v, %v", c, err)
	}
	key.Revoked = now
	ring.apply(&accessv1.WatchKeysResponse{Synced: true, Keys: []*accessv1.Key{accesswire.KeyWithDigest(key)}})
	if _, err := ring.admit(secret, now); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("a revoked key: got %v", err)
	}
	// A record without a digest, as a people's list has it, opens for nobody.
	ring.apply(&accessv1.WatchKeysResponse{Synced: true, Keys: []*accessv1.Key{accesswire.KeyProto(access.Key{ID: id, Role: access.Administrator})}})
	if _, err := ring.admit(secret, now); !fault.Is(err, fault.Unauthenticated) {
		t.Errorf("a key without a digest: got %v", err)
	}
}

func TestEveryRuleFindsItsFields(t *testing.T) {
	rules, err := compile(access.Table(), protoregistry.GlobalFiles)
	if err != nil {
		t.Fatal(err)
	}
	if len(rules) == 0 {
		t.Fatal("no rules")
	}
	for _, c := range []struct{ name, method, field string }{
		{"a field that is not there", "/halfshaft.build.v1.BuildService/GetBuild", "serial"},
		{"a path below a text", "/halfshaft.build.v1.BuildService/GetBuild", "name.serial"},
		{"a message where a name should be", "/halfshaft.build.v1.BuildService/AmendBuild", "build"},
		{"a list", "/halfshaft.build.v1.BuildService/StageImport", "rows"},
	} {
		table := map[string]access.Rule{c.method: {Names: []access.Name{{Field: c.field, Form: "builds/{serial}"}}}}
		if _, err := compile(table, protoregistry.GlobalFiles); err == nil {
			t.Errorf("%s passed", c.name)
		}
	}
}

// oneMessage is a stream that receives one request.
type oneMessage struct {
	grpc.ServerStream
	message proto.Message
}

func (s oneMessage) RecvMsg(m any) error {
	proto.Merge(m.(proto.Message), s.message)
	return nil
}

func TestAStreamsRequestIsCheckedBeforeTheMethodSeesIt(t *testing.T) {
	// No method that streams is open to owners yet; the gate is ready for one.
	g, err := New(Config{Clock: func() time.Time { return time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC) }})
	if err != nil {
		t.Fatal(err)
	}
	g.Follow(t.Context(), noKeys{}, oneTie{}, &projection.Group{})
	defer g.Close()
	const method = "/halfshaft.build.v1.BuildService/GetBuild"
	for serial, want := range map[string]bool{"AM0147P": true, string(mustSerial("AM0148")): false} {
		s := &guarded{
			ServerStream: oneMessage{message: &buildv1.GetBuildRequest{Name: "builds/" + serial}}, ctx: t.Context(), gate: g,
			visit: visit{method: method, rule: g.rules[method], caller: access.Caller{Role: access.Owner, Person: "people/p1"}, limited: true},
		}
		if err := s.RecvMsg(&buildv1.GetBuildRequest{}); (err == nil) != want {
			t.Errorf("%s: got %v", serial, err)
		}
	}
}

func mustSerial(body string) vehicle.Serial {
	s, err := vehicle.NewSerial(body)
	if err != nil {
		panic(err)
	}
	return s
}

// noKeys and oneTie are clients of services that tell the least.
type (
	noKeys struct{ accessv1.AccessServiceClient }
	oneTie struct{ ownerv1.OwnerServiceClient }
)

func (noKeys) WatchKeys(ctx context.Context, _ *accessv1.WatchKeysRequest, _ ...grpc.CallOption) (grpc.ServerStreamingClient[accessv1.WatchKeysResponse], error) {
	return &answers[accessv1.WatchKeysResponse]{ctx: ctx, left: []*accessv1.WatchKeysResponse{{Synced: true}}}, nil
}

func (noKeys) NoteKeyUses(context.Context, *accessv1.NoteKeyUsesRequest, ...grpc.CallOption) (*accessv1.NoteKeyUsesResponse, error) {
	return &accessv1.NoteKeyUsesResponse{}, nil
}

func (noKeys) WatchDoor(ctx context.Context, _ *accessv1.WatchDoorRequest, _ ...grpc.CallOption) (grpc.ServerStreamingClient[accessv1.WatchDoorResponse], error) {
	return &answers[accessv1.WatchDoorResponse]{ctx: ctx, left: []*accessv1.WatchDoorResponse{{Synced: true}}}, nil
}

func (oneTie) WatchTies(ctx context.Context, _ *ownerv1.WatchTiesRequest, _ ...grpc.CallOption) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error) {
	t := tieOf("1", ownerv1.Role_ROLE_OWNER, &date.Date{Year: 2020, Month: 1, Day: 1}, nil)
	return &answers[ownerv1.WatchTiesResponse]{ctx: ctx, left: []*ownerv1.WatchTiesResponse{{Synced: true, Ties: []*ownerv1.Tie{t}}}}, nil
}

// answers is a stream that gives what it has and then waits for its end.
type answers[T any] struct {
	grpc.ClientStream
	ctx  context.Context
	left []*T
}

func (a *answers[T]) Recv() (*T, error) {
	if len(a.left) > 0 {
		next := a.left[0]
		a.left = a.left[1:]
		return next, nil
	}
	<-a.ctx.Done()
	return nil, io.EOF
}

func TestTheGateWaitsForItsKeysAndSaysSoWhenTheyDoNotCome(t *testing.T) {
	g, err := New(Config{Logger: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := g.Ready(ctx); !fault.Is(err, fault.Unavailable) {
		t.Errorf("got %v, want Unavailable", err)
	}
	if err := g.Close(); err != nil {
		t.Error(err)
	}
}
