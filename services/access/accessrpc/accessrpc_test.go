package accessrpc_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/access/accessrpc"
	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/rpcerr"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var today = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

// house is a process with the access service behind the real gate.
type house struct {
	*handclock.Clock
	service *accessrpc.Service
	server  *grpcserver.Server
	self    grpc.ClientConnInterface
	signIns signIns
	close   func()
}

func open(t *testing.T, client *clientv3.Client) *house {
	t.Helper()
	h := &house{Clock: handclock.At(today), signIns: signIns{}}
	group := &projection.Group{}
	gate, err := accessgate.New(accessgate.Config{Clock: h.Now})
	if err != nil {
		t.Fatal(err)
	}
	h.server = grpcserver.New(grpcserver.Config{Gate: gate})
	h.self = accessgate.Forward(h.server.InProcess(), "")
	h.service, err = accessrpc.New(t.Context(), accessrpc.Config{
		Store: kv.NewStore(client), Group: group, Clock: h.Now, SignIns: h.signIns,
		Owners: ownerv1.NewOwnerServiceClient(h.self), Builds: buildv1.NewBuildServiceClient(h.self),
	})
	if err != nil {
		t.Fatal(err)
	}
	h.service.RegisterService(h.server)
	ownerv1.RegisterOwnerServiceServer(h.server, townsTies{})
	buildv1.RegisterBuildServiceServer(h.server, townsBuilds{})
	ctx, cancel := context.WithCancel(context.Background())
	served := make(chan error, 1)
	go func() { served <- h.server.Serve(ctx) }()
	gate.Follow(ctx, accessv1.NewAccessServiceClient(h.self), ownerv1.NewOwnerServiceClient(h.self), group)
	if err := gate.Ready(t.Context()); err != nil {
		t.Fatal(err)
	}
	closed := false
	h.close = func() {
		if closed {
			return
		}
		closed = true
		cancel()
		if err := errors.Join(<-served, gate.Close(), h.server.Close(), h.service.Close()); err != nil {
			t.Error(err)
		}
	}
	t.Cleanup(h.close)
	return h
}

// with calls with a secret, or without one as the service itself.
func (h *house) with(secret string) accessv1.AccessServiceClient {
	return accessv1.NewAccessServiceClient(accessgate.Present(h.server.InProcess(), secret))
}

// admin calls as an administrator.
func (h *house) admin() (context.Context, accessv1.AccessServiceClient) {
	return h.as(access.Caller{Role: access.Administrator, Bearer: "test"})
}

// as calls as somebody.
func (h *house) as(who access.Caller) (context.Context, accessv1.AccessServiceClient) {
	return access.NewContext(context.Background(), who), accessv1.NewAccessServiceClient(h.self)
}

func uuid(n int) string { return fmt.Sprintf("0190c5a2-7f3e-7b1d-9a44-%012d", n) }

// wantReason fails unless err carries the code and the reason.
func wantReason(t *testing.T, err error, code codes.Code, reason string) {
	t.Helper()
	got := ""
	if f := rpcerr.FromStatus(err); f != nil {
		got = f.Reason
	}
	if status.Code(err) != code || got != reason {
		t.Errorf("got %v (%s), want %v, %s", err, got, code, reason)
	}
}

func TestTheFirstStartMakesOneAdministratorAndShowsTheSecretOnce(t *testing.T) {
	client := etcdtest.Client(t)
	h := open(t, client)
	secret := h.service.FirstSecret()
	if secret == "" {
		t.Fatal("no secret at the first start")
	}
	if again := h.service.FirstSecret(); again != "" {
		t.Errorf("shown again: %s", again)
	}
	who, err := h.with(secret).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{})
	if err != nil || who.GetRole() != accessv1.Role_ROLE_ADMINISTRATOR || who.GetBearer() != "administrator" {
		t.Errorf("got %v, %v", who, err)
	}

	// The second start makes none, and the first one's key still opens.
	h.close()
	h = open(t, client)
	if again := h.service.FirstSecret(); again != "" {
		t.Errorf("the second start shows %s", again)
	}
	if _, err := h.with(secret).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{}); err != nil {
		t.Error(err)
	}
	ctx, admin := h.admin()
	if list, err := admin.ListKeys(ctx, &accessv1.ListKeysRequest{}); err != nil || len(list.GetKeys()) != 1 {
		t.Errorf("got %v, %v", list, err)
	}

	// Nor does one that finds the first key revoked: there was one once.
	list, _ := admin.ListKeys(ctx, &accessv1.ListKeysRequest{})
	if _, err := admin.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: list.GetKeys()[0].GetName()}); err != nil {
		t.Fatal(err)
	}
	h.close()
	if h = open(t, client); h.service.FirstSecret() != "" {
		t.Error("a start after the revocation made another administrator")
	}
}

func TestTwoFirstStartsAtOnceMakeOneAdministrator(t *testing.T) {
	client := etcdtest.Client(t)
	const starts = 8
	secrets := make(chan string, starts)
	for range starts {
		go func() {
			s, err := accessrpc.New(context.Background(), accessrpc.Config{
				Store: kv.NewStore(client), Group: &projection.Group{}, Clock: func() time.Time { return today },
			})
			if err != nil {
				t.Error(err)
				secrets <- ""
				return
			}
			defer s.Close()
			secrets <- s.FirstSecret()
		}()
	}
	made := 0
	for range starts {
		if <-secrets != "" {
			made++
		}
	}
	if made != 1 {
		t.Errorf("%d administrators", made)
	}
}

func TestAKeyIsMadeOnceAndItsSecretShownOnce(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	request := &accessv1.CreateKeyRequest{RequestId: uuid(1), Key: &accessv1.Key{
		Title: "workshop tablet", Role: accessv1.Role_ROLE_ENGINEER, Bearer: "bench 2", ExpireTime: timestamppb.New(today.Add(time.Hour)),
		// What the service gives is not taken from the caller.
		Name: "keys/mine", SecretSha256: make([]byte, 32), RevokeTime: timestamppb.New(today), CreateTime: timestamppb.New(today.Add(time.Minute)),
	}}
	made, err := admin.CreateKey(ctx, request)
	if err != nil {
		t.Fatal(err)
	}
	if made.GetSecret() == "" || made.GetKey().GetName() == "keys/mine" || len(made.GetKey().GetSecretSha256()) != 0 ||
		made.GetKey().GetRevokeTime() != nil || !made.GetKey().GetCreateTime().AsTime().Equal(today) {
		t.Errorf("got %v", made)
	}
	who, err := h.with(made.GetSecret()).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{})
	if err != nil || who.GetBearer() != "bench 2" {
		t.Errorf("the new key at once: %v, %v", who, err)
	}

	again, err := admin.CreateKey(ctx, request)
	if err != nil || again.GetSecret() != "" || !proto.Equal(again.GetKey(), made.GetKey()) {
		t.Errorf("again: got %v, %v; want %v without the secret", again, err, made.GetKey())
	}
	other := proto.Clone(request).(*accessv1.CreateKeyRequest)
	other.Key.Title = "another"
	_, err = admin.CreateKey(ctx, other)
	wantReason(t, err, codes.InvalidArgument, "REQUEST_ID_REUSED")
	_, err = admin.CreateKey(ctx, &accessv1.CreateKeyRequest{RequestId: "not a uuid", Key: request.Key})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	_, err = admin.CreateKey(ctx, &accessv1.CreateKeyRequest{})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")

	h.Set(today.Add(time.Hour))
	_, err = h.with(made.GetSecret()).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{})
	wantReason(t, err, codes.Unauthenticated, "KEY_EXPIRED")
}

func TestARevokedKeyIsDeadWhenTheAnswerArrives(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	for n := range 50 { // once might be luck
		made, err := admin.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "t", Role: accessv1.Role_ROLE_SUPPORT, Bearer: "b"}})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := h.with(made.GetSecret()).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{}); err != nil {
			t.Fatalf("key %d: %v", n, err)
		}
		revoke := &accessv1.RevokeKeyRequest{Name: made.GetKey().GetName(), Etag: made.GetKey().GetEtag(), RequestId: uuid(100 + n)}
		revoked, err := admin.RevokeKey(ctx, revoke)
		if err != nil || !revoked.GetRevokeTime().AsTime().Equal(today) {
			t.Fatalf("got %v, %v", revoked, err)
		}
		_, err = h.with(made.GetSecret()).WhoAmI(t.Context(), &accessv1.WhoAmIRequest{})
		wantReason(t, err, codes.Unauthenticated, "KEY_REVOKED")
		if again, err := admin.RevokeKey(ctx, revoke); err != nil || !proto.Equal(again, revoked) {
			t.Errorf("again: got %v, %v; want %v", again, err, revoked)
		}
	}
}

func TestRevokingNeedsAKeyThatIsThereAndItsEtagIfOneIsGiven(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	made, err := admin.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "t", Role: accessv1.Role_ROLE_SUPPORT, Bearer: "b"}})
	if err != nil {
		t.Fatal(err)
	}
	name := made.GetKey().GetName()
	_, err = admin.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: name, Etag: "zzz"})
	wantReason(t, err, codes.Aborted, "ETAG_MISMATCH")
	_, err = admin.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: name, Etag: "!"})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	_, err = admin.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: "keys/00000000"})
	wantReason(t, err, codes.NotFound, "KEY_NOT_FOUND")
	_, err = admin.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: "00000000"})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
	first, err := admin.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: name})
	if err != nil {
		t.Fatal(err)
	}
	h.Set(today.Add(time.Hour))
	if second, err := admin.RevokeKey(ctx, &accessv1.RevokeKeyRequest{Name: name}); err != nil || !proto.Equal(first, second) {
		t.Errorf("a second revocation: got %v, %v; want %v", second, err, first)
	}
}

func TestKeysAreListedInPages(t *testing.T) {
	h := open(t, etcdtest.Client(t))
	ctx, admin := h.admin()
	want := map[string]bool{}
	for range 7 {
		made, err := admin.CreateKey(ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "t", Role: accessv1.Role_ROLE_SUPPORT, Bearer: "b"}})
		if err != nil {
			t.Fatal(err)
		}
		want[made.GetKey().GetName()] = true
	}
	last, seen, token := "", 0, ""
	for range 4 { // eight keys with the first administrator's, three to a page, and one more try
		list, err := admin.ListKeys(ctx, &accessv1.ListKeysRequest{PageSize: 3, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range list.GetKeys() {
			if k.GetName() <= last || len(k.GetSecretSha256()) > 0 || k.GetEtag() == "" {
				t.Errorf("after %s: %v", last, k)
			}
			last = k.GetName()
			delete(want, last)
			seen++
		}
		if token = list.GetNextPageToken(); token == "" {
			break
		}
	}
	if seen != 8 || len(want) > 0 || token != "" {
		t.Errorf("saw %d, missing %v, token %q", seen, want, token)
	}
	_, err := admin.ListKeys(ctx, &accessv1.ListKeysRequest{PageToken: "nonsense"})
	wantReason(t, err, codes.InvalidArgument, "INVALID_FIELD")
}

func TestNoSecretStandsInTheStore(t *testing.T) {
	dir := t.TempDir()
	server := etcdtest.StartIn(t, embedetcd.Config{Dir: dir})
	h := open(t, server.Client())
	ctx, admin := h.admin()
	secrets := []string{h.service.FirstSecret()}
	for n := range 5 {
		made, err := admin.CreateKey(ctx, &accessv1.CreateKeyRequest{RequestId: uuid(n), Key: &accessv1.Key{Title: "t", Role: accessv1.Role_ROLE_SUPPORT, Bearer: "marker-of-the-search"}})
		if err != nil {
			t.Fatal(err)
		}
		secrets = append(secrets, made.GetSecret())
	}
	files := everything(t, dir)
	if !strings.Contains(files, "marker-of-the-search") {
		t.Fatal("the search does not find what is there")
	}
	for _, s := range secrets {
		if s == "" || strings.Contains(files, s[len("hsk_00000000_"):]) {
			t.Errorf("the secret %q stands in the store", s)
		}
	}
}

// everything gives the bytes of all files under a directory.
func everything(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.Type().IsRegular() {
			return err
		}
		raw, err := os.ReadFile(path)
		b.Write(raw)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}
