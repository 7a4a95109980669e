package accessgate_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/internal/throttle"
)

// comeBack gives when a refusal says to come back; false when it is none for
// that reason.
func comeBack(t *testing.T, err error, wantReason string) time.Duration {
	t.Helper()
	if status.Code(err) != codes.ResourceExhausted || reason(err) != wantReason {
		t.Fatalf("got %v (%s), want RESOURCE_EXHAUSTED, %s", err, reason(err), wantReason)
	}
	for _, d := range status.Convert(err).Details() {
		if r, ok := d.(*errdetails.RetryInfo); ok && r.GetRetryDelay().AsDuration() > 0 {
			return r.GetRetryDelay().AsDuration()
		}
	}
	t.Fatalf("%v does not say when to come back", err)
	return 0
}

func TestWhoCallsTooOftenIsToldTheTruthAboutWhenToComeBack(t *testing.T) {
	every := throttle.Rate{Every: 10 * time.Second, Burst: 3}
	header := func(key string) context.Context {
		return metadata.NewOutgoingContext(t.Context(), metadata.Pairs("authorization", "Bearer "+key))
	}
	for _, c := range []struct {
		name, reason string
		limits       accessgate.Limits
		call         func(*door) error
		passed       string // the reason of a call that the limit lets pass
	}{
		{"with one key", "TOO_MANY_CALLS", accessgate.Limits{Key: every}, func(d *door) error {
			_, err := who(t, t.Context(), d.as(access.Support))
			return err
		}, ""},
		{"with one key through the unix socket", "TOO_MANY_CALLS", accessgate.Limits{Key: every}, func(d *door) error {
			_, err := who(t, t.Context(), accessgate.Present(d.sock, d.secrets[access.Owner]))
			return err
		}, ""},
		{"from one address with any key", "TOO_MANY_CALLS", accessgate.Limits{Address: every}, func(d *door) error {
			_, err := who(t, t.Context(), d.as(access.Engineer))
			return err
		}, ""},
		{"from one address with none, where none is needed", "TOO_MANY_CALLS", accessgate.Limits{Address: every}, func(d *door) error {
			_, err := healthgrpc.NewHealthClient(d.tcp).Check(t.Context(), &healthgrpc.HealthCheckRequest{})
			return err
		}, ""},
		{"from one address with keys that are none", "TOO_MANY_ATTEMPTS", accessgate.Limits{Failed: every}, func(d *door) error {
			_, err := who(t, header("hsk_guess"), d.tcp)
			return err
		}, "KEY_UNKNOWN"},
		{"from one address without a key", "TOO_MANY_ATTEMPTS", accessgate.Limits{Failed: every}, func(d *door) error {
			_, err := who(t, t.Context(), d.tcp)
			return err
		}, "KEY_MISSING"},
	} {
		t.Run(c.name, func(t *testing.T) {
			machine := handclock.At(today)
			d := newDoorOf(t, accessgate.Config{Limits: c.limits, Machine: machine.Now})
			pass := func(when string) {
				t.Helper()
				if err := c.call(d); reason(err) != c.passed || c.passed == "" && err != nil {
					t.Errorf("%s: %v", when, err)
				}
			}
			for i := range every.Burst {
				pass(fmt.Sprintf("call %d", i+1))
			}
			wait := comeBack(t, c.call(d), c.reason)
			machine.Move(wait - 3*time.Millisecond)
			if left := comeBack(t, c.call(d), c.reason); left > 5*time.Millisecond {
				t.Errorf("3 ms before the time, %v are left", left)
			}
			machine.Move(3 * time.Millisecond)
			pass("when the time has come")
			comeBack(t, c.call(d), c.reason)
		})
	}
}

func TestTheLimitsOfOneAreNotThoseOfAnother(t *testing.T) {
	one := throttle.Rate{Every: time.Hour, Burst: 1}
	machine := handclock.At(today)
	d := newDoorOf(t, accessgate.Config{Limits: accessgate.Limits{Key: one, Failed: one}, Machine: machine.Now})
	for range 3 {
		who(t, t.Context(), d.as(access.Support))
		who(t, t.Context(), d.tcp)
	}
	for name, over := range map[string]grpc.ClientConnInterface{
		"another key": d.as(access.Engineer),
		"a good key from an address that guesses": d.as(access.Owner),
	} {
		if _, err := who(t, t.Context(), over); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	// Services and the local operator have none.
	for name, over := range map[string]grpc.ClientConnInterface{
		"a service of this process": accessgate.Forward(d.server.InProcess(), ""),
		"a service with its key":    accessgate.Forward(d.tcp, d.secrets[access.Service]),
		"the local operator":        d.sock,
	} {
		for range 5 {
			if _, err := who(t, t.Context(), over); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
	desk := access.NewContext(t.Context(), access.Caller{Role: access.Support, Bearer: "ida", Account: "accounts/ida"})
	for range 5 {
		if _, err := who(t, desk, accessgate.Forward(d.tcp, d.secrets[access.Service])); err != nil {
			t.Errorf("whom a service speaks for: %v", err)
		}
	}
}

func TestTheScopesOfAKeyCountAtTheOuterDoorOnly(t *testing.T) {
	var reads, service, unscoped string
	d := newDoor(t, func(d *door) {
		reads = d.keys.add(access.Key{Role: access.Engineer, Bearer: "b", Scopes: []string{"build.read", "parts"}})
		service = d.keys.add(access.Key{Role: access.Service, Bearer: "s", Scopes: []string{"access"}})
		unscoped = d.secrets[access.Service]
	})
	getBuild := func(over grpc.ClientConnInterface, ctx context.Context) error {
		_, err := buildv1.NewBuildServiceClient(over).GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/" + string(otherSerial)})
		return err
	}
	amend := func(over grpc.ClientConnInterface) error {
		_, err := buildv1.NewBuildServiceClient(over).AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: &buildv1.Build{Name: "builds/" + string(otherSerial)}})
		return err
	}
	key := accessgate.Present(d.tcp, reads)
	if err := getBuild(key, t.Context()); status.Code(err) != codes.Unimplemented {
		t.Errorf("what is in scope: %v", err)
	}
	if err := amend(key); status.Code(err) != codes.PermissionDenied || reason(err) != "SCOPE_MAY_NOT" {
		t.Errorf("what is out of scope: %v", err)
	}
	if _, err := who(t, t.Context(), key); err != nil {
		t.Errorf("who it is, any key may ask: %v", err)
	}
	if _, err := healthgrpc.NewHealthClient(key).Check(t.Context(), &healthgrpc.HealthCheckRequest{}); err != nil {
		t.Errorf("what needs no key: %v", err)
	}
	// A service that speaks for the bearer of such a key: the scopes stayed at the door.
	engineer := access.NewContext(t.Context(), access.Caller{Role: access.Engineer, Bearer: "b", Credential: "keys/00000000"})
	if err := getBuild(accessgate.Forward(d.tcp, unscoped), engineer); status.Code(err) != codes.Unimplemented {
		t.Errorf("forwarded: %v", err)
	}
	// But those of the service's own key hold for all that it calls with it.
	if err := getBuild(accessgate.Forward(d.tcp, service), engineer); reason(err) != "SCOPE_MAY_NOT" {
		t.Errorf("with a service's key of another scope: %v", err)
	}
}

func TestTheUseOfAKeyIsToldOnceAnHourAndNotOnTheWayOfACall(t *testing.T) {
	at := handclock.At(today)
	uses := make(chan *accessv1.NoteKeyUsesRequest) // nobody takes until the test does
	d := newDoorOf(t, accessgate.Config{Clock: at.Now}, func(d *door) { d.keys.uses = uses })
	id, _ := access.SecretID(d.secrets[access.Support])
	told := func() (keys []string, when time.Time) {
		t.Helper()
		select {
		case r := <-uses:
			for _, u := range r.GetUses() {
				keys, when = append(keys, u.GetKey()), u.GetLastUseTime().AsTime()
			}
		case <-time.After(10 * time.Second):
			t.Fatal("no use was told")
		}
		return keys, when
	}
	use := func(role access.Role) {
		t.Helper()
		if _, err := who(t, t.Context(), d.as(role)); err != nil {
			t.Fatal(err)
		}
	}
	for range 50 { // these are answered though nobody listens
		use(access.Support)
	}
	if keys, when := told(); len(keys) != 1 || keys[0] != "keys/"+id || !when.Equal(today) {
		t.Fatalf("got %v at %v", keys, when)
	}
	at.Move(time.Hour - time.Second)
	use(access.Support)
	use(access.Owner) // told next: the one before was not
	owner, _ := access.SecretID(d.secrets[access.Owner])
	if keys, _ := told(); len(keys) != 1 || keys[0] != "keys/"+owner {
		t.Fatalf("within the hour: %v", keys)
	}
	at.Move(time.Second)
	use(access.Support)
	if keys, when := told(); len(keys) != 1 || keys[0] != "keys/"+id || !when.Equal(today.Add(time.Hour)) {
		t.Fatalf("after the hour: %v at %v", keys, when)
	}
}
