package accessgate_test

import (
	"context"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthgrpc "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	reflectiongrpc "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/internal/rpcerr"
)

// who asks over a connection who the caller is taken for.
func who(t *testing.T, ctx context.Context, over grpc.ClientConnInterface) (access.Caller, error) {
	t.Helper()
	r, err := accessv1.NewAccessServiceClient(over).WhoAmI(ctx, &accessv1.WhoAmIRequest{})
	return access.Caller{
		Role: access.Role(r.GetRole()), Bearer: r.GetBearer(), Person: r.GetPerson(),
		Organisation: r.GetOrganisation(), Account: r.GetAccount(), Credential: r.GetCredential(),
	}, err
}

// byKey is a caller who showed the key with this secret.
func byKey(secret string, c access.Caller) access.Caller {
	id, _ := access.SecretID(secret)
	c.Credential = "keys/" + id
	return c
}

// reason gives the stable reason of a refusal.
func reason(err error) string {
	if f := rpcerr.FromStatus(err); f != nil {
		return f.Reason
	}
	return ""
}

func TestTheCallerIsKnownByKeyOrConnection(t *testing.T) {
	d := newDoor(t)
	frontDesk := access.Caller{Role: access.Support, Bearer: "front desk", Credential: "keys/00000000"}
	anOwner := access.Caller{Role: access.Owner, Bearer: "owner", Person: ownPerson}
	ida := access.Caller{Role: access.Support, Bearer: "ida", Account: "accounts/ida", Credential: "sessions/0192f0"}
	hal := access.Caller{Role: access.Dealer, Bearer: "hal", Account: "accounts/hal", Organisation: ferncombe, Credential: "sessions/0192f1"}
	aJob := access.Caller{Role: access.Service, Bearer: "reminder"}
	byLink := access.Caller{Role: access.Owner, Bearer: "owner, by a link", Person: ownPerson, Credential: "link"}
	umlaut := access.Caller{Role: access.Engineer, Bearer: "Jürgen & Zoë, bench 2"}
	inProcess := d.server.InProcess()
	for _, c := range []struct {
		name   string
		over   grpc.ClientConnInterface
		behalf access.Caller // on whose behalf; zero for nobody's
		want   access.Caller
	}{
		{"a key on TCP is its bearer", d.as(access.Dealer), access.Caller{}, byKey(d.secrets[access.Dealer], access.Caller{Role: access.Dealer, Bearer: "dealer of the test", Organisation: ferncombe})},
		{"an owner's key is the person", d.as(access.Owner), access.Caller{}, byKey(d.secrets[access.Owner], anOwner)},
		{"the unix socket without a key is the local operator", d.sock, access.Caller{}, accessgate.LocalOperator},
		{"a key on the unix socket is its bearer", accessgate.Present(d.sock, d.secrets[access.Support]), access.Caller{}, byKey(d.secrets[access.Support], access.Caller{Role: access.Support, Bearer: "support of the test"})},
		{"this process without a caller is a service", accessgate.Forward(inProcess, ""), access.Caller{}, accessgate.ThisProcess},
		{"this process speaks for a person", accessgate.Forward(inProcess, ""), frontDesk, frontDesk},
		{"this process speaks for an owner", accessgate.Forward(inProcess, ""), anOwner, anOwner},
		{"this process speaks for who signed in", accessgate.Forward(inProcess, ""), ida, ida},
		{"this process speaks for a dealer who signed in", accessgate.Forward(inProcess, ""), hal, hal},
		{"this process speaks for an owner who came by a link", accessgate.Forward(inProcess, ""), byLink, byLink},
		{"a job of this process has its credential", accessgate.Forward(inProcess, ""), aJob, access.Caller{Role: access.Service, Bearer: "reminder", Credential: "process"}},
		{"a bearer may have any name", accessgate.Forward(inProcess, ""), umlaut, umlaut},
		{"another process with a service's key is a service", accessgate.Forward(d.tcp, d.secrets[access.Service]), access.Caller{}, byKey(d.secrets[access.Service], access.Caller{Role: access.Service, Bearer: "service of the test"})},
		{"another process with a service's key speaks for a person", accessgate.Forward(d.tcp, d.secrets[access.Service]), frontDesk, frontDesk},
		{"and over the unix socket too", accessgate.Forward(d.sock, d.secrets[access.Service]), anOwner, anOwner},
	} {
		t.Run(c.name, func(t *testing.T) {
			ctx := t.Context()
			if c.behalf != (access.Caller{}) {
				ctx = access.NewContext(ctx, c.behalf)
			}
			got, err := who(t, ctx, c.over)
			if err != nil || got != c.want {
				t.Errorf("got %+v, %v; want %+v", got, err, c.want)
			}
		})
	}
}

func TestAStrangerIsTurnedAway(t *testing.T) {
	var expired, lasting, revoked, ofGone, ofNobody, ofIda, ofBarn, ofNowhere string
	d := newDoor(t, func(d *door) {
		expired = d.keys.add(access.Key{Role: access.Support, Bearer: "b", Expires: today})
		lasting = d.keys.add(access.Key{Role: access.Support, Bearer: "b", Expires: today.Add(time.Microsecond)})
		revoked = d.keys.add(access.Key{Role: access.Support, Bearer: "b", Revoked: today.Add(-time.Hour)})
		ofGone = d.keys.add(access.Key{Role: access.Support, Bearer: "gone", Account: "accounts/gone"})
		ofNobody = d.keys.add(access.Key{Role: access.Support, Bearer: "nob", Account: "accounts/nob"})
		ofIda = d.keys.add(access.Key{Role: access.Engineer, Bearer: "ida", Account: "accounts/ida"})
		ofBarn = d.keys.add(access.Key{Role: access.Dealer, Bearer: "b", Organisation: oldBarn})
		ofNowhere = d.keys.add(access.Key{Role: access.Dealer, Bearer: "b", Organisation: nowhere})
	})
	good := d.secrets[access.Administrator]
	last := good[len(good)-1:]
	wrong := good[:len(good)-1] + map[bool]string{true: "0", false: "g"}[last == "g"]
	header := func(values ...string) context.Context {
		return metadata.NewOutgoingContext(t.Context(), metadata.MD{"authorization": values})
	}
	spoken := metadata.Pairs("halfshaft-caller", "administrator boss    ")
	speaks := func(c string) context.Context {
		return metadata.NewOutgoingContext(t.Context(), metadata.Pairs("halfshaft-caller", c))
	}
	for _, c := range []struct {
		name, reason string
		ctx          context.Context
		over         grpc.ClientConnInterface
	}{
		{"without a key on TCP", "KEY_MISSING", t.Context(), d.tcp},
		{"with a secret wrong in its last character", "KEY_UNKNOWN", header("Bearer " + wrong), d.tcp},
		{"with the public part alone", "KEY_UNKNOWN", header("Bearer " + good[:12]), d.tcp},
		{"with an expired key, on the instant", "KEY_EXPIRED", header("Bearer " + expired), d.tcp},
		{"with a revoked key", "KEY_REVOKED", header("Bearer " + revoked), d.tcp},
		{"with another scheme", "KEY_MALFORMED", header("Basic " + good), d.tcp},
		{"with nothing after the scheme", "KEY_UNKNOWN", header("Bearer "), d.tcp},
		{"with two headers", "KEY_MALFORMED", header("Bearer "+good, "Bearer "+good), d.tcp},
		{"with a wrong key on the unix socket, though none would do", "KEY_UNKNOWN", header("Bearer " + wrong), d.sock},
		{"who speaks for somebody without a key on TCP", "CALLER_FORGED", metadata.NewOutgoingContext(t.Context(), spoken), d.tcp},
		{"who speaks for somebody on the unix socket", "CALLER_FORGED", metadata.NewOutgoingContext(t.Context(), spoken), d.sock},
		{"an administrator who speaks for somebody", "CALLER_FORGED", metadata.NewOutgoingContext(t.Context(), metadata.Join(spoken, metadata.Pairs("authorization", "Bearer "+good))), d.tcp},
		{"a service that speaks for two", "CALLER_MALFORMED", metadata.NewOutgoingContext(t.Context(), metadata.Join(spoken, spoken)), d.server.InProcess()},
		{"a service that speaks for a role that is none", "CALLER_MALFORMED", speaks("king x    "), d.server.InProcess()},
		{"a service that speaks for nobody", "CALLER_MALFORMED", speaks("nobody x    "), d.server.InProcess()},
		{"with the key of an account that was closed", "ACCOUNT_CLOSED", header("Bearer " + ofGone), d.tcp},
		{"with the key of an account that is not there", "ACCOUNT_CLOSED", header("Bearer " + ofNobody), d.tcp},
		{"with the key of an account that has another role by now", "ACCOUNT_CHANGED", header("Bearer " + ofIda), d.tcp},
		{"with the key of an organisation that was closed", "ORGANISATION_CLOSED", header("Bearer " + ofBarn), d.tcp},
		{"with the key of an organisation that is not there", "ORGANISATION_CLOSED", header("Bearer " + ofNowhere), d.tcp},
		{"whom a service speaks for, with a closed account", "ACCOUNT_CLOSED", speaks("support gone   accounts%2Fgone sessions%2F1"), d.server.InProcess()},
		{"whom a service speaks for, with an account raised by itself", "ACCOUNT_CHANGED", speaks("administrator ida   accounts%2Fida sessions%2F1"), d.server.InProcess()},
		{"whom a service speaks for, with an account of another organisation", "ACCOUNT_CHANGED", speaks("dealer hal  organisations%2Fmillbeck accounts%2Fhal sessions%2F1"), d.server.InProcess()},
		{"whom a service speaks for, of a closed organisation", "ORGANISATION_CLOSED", speaks("dealer barney  organisations%2Fold-barn accounts%2Fbarney sessions%2F1"), d.server.InProcess()},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := who(t, c.ctx, c.over)
			if status.Code(err) != codes.Unauthenticated || reason(err) != c.reason {
				t.Errorf("got %+v, %v (%s); want UNAUTHENTICATED, %s", got, err, reason(err), c.reason)
			}
		})
	}
	if _, err := who(t, header("bearer "+lasting), d.tcp); err != nil {
		t.Errorf("a key in its last microsecond, scheme in lower case (RFC 9110, 11.1): %v", err)
	}
	log := d.log.String()
	for _, secret := range []string{good, wrong, expired, revoked} {
		for _, part := range []string{secret, secret[13:]} {
			if strings.Contains(log, part) {
				t.Errorf("the log holds the secret %s", part)
			}
		}
	}
	for _, reason := range []string{"KEY_MISSING", "KEY_UNKNOWN", "KEY_EXPIRED", "KEY_REVOKED", "CALLER_FORGED"} {
		if !strings.Contains(log, reason) {
			t.Errorf("the log does not tell of %s", reason)
		}
	}
}

// That a verified certificate opens the door to a service is shown where there
// is TLS: in cmd/halfshaft.
func TestWhereServicesMustShowACertificateOnlyTheyAndOnlyOverTCPMust(t *testing.T) {
	d := newDoorOf(t, accessgate.Config{Certificates: true})
	for _, role := range access.AllRoles() {
		_, err := who(t, t.Context(), d.as(role))
		if want := map[bool]string{true: "CERTIFICATE_MISSING"}[role == access.Service]; reason(err) != want {
			t.Errorf("%v over TCP: got %v, want the reason %q", role, err, want)
		}
	}
	frontDesk := access.NewContext(t.Context(), access.Caller{Role: access.Support, Bearer: "front desk"})
	if _, err := who(t, frontDesk, accessgate.Forward(d.tcp, d.secrets[access.Service])); reason(err) != "CERTIFICATE_MISSING" {
		t.Errorf("a service that speaks for a person over TCP: got %v", err)
	}
	for name, over := range map[string]grpc.ClientConnInterface{
		"the unix socket": accessgate.Forward(d.sock, d.secrets[access.Service]),
		"this process":    accessgate.Forward(d.server.InProcess(), ""),
	} {
		if got, err := who(t, t.Context(), over); err != nil || got.Role != access.Service {
			t.Errorf("a service by %s: got %+v, %v", name, got, err)
		}
	}
}

func TestHealthIsForAllAndReflectionForStaff(t *testing.T) {
	d := newDoor(t)
	if _, err := healthgrpc.NewHealthClient(d.tcp).Check(t.Context(), &healthgrpc.HealthCheckRequest{}); err != nil {
		t.Errorf("health without a key: %v", err)
	}
	// A watch lasts until its client ends it, and costs while it does.
	for name, over := range map[string]grpc.ClientConnInterface{"nobody": d.tcp, "an owner": d.as(access.Owner)} {
		watch, err := healthgrpc.NewHealthClient(over).Watch(t.Context(), &healthgrpc.HealthCheckRequest{})
		if err == nil {
			_, err = watch.Recv()
		}
		if code := status.Code(err); code != codes.Unauthenticated && code != codes.PermissionDenied {
			t.Errorf("%s watches the health: %v", name, err)
		}
	}
	for role, want := range map[access.Role]codes.Code{
		access.Nobody: codes.Unauthenticated, access.Owner: codes.PermissionDenied, access.Dealer: codes.PermissionDenied,
		access.Support: codes.OK, access.Engineer: codes.OK, access.Administrator: codes.OK,
	} {
		s, err := reflectiongrpc.NewServerReflectionClient(d.as(role)).ServerReflectionInfo(t.Context())
		if err == nil {
			// A refused stream may end before the request is out: Send then says
			// EOF, and Recv the reason.
			err = s.Send(&reflectiongrpc.ServerReflectionRequest{MessageRequest: &reflectiongrpc.ServerReflectionRequest_ListServices{}})
			if err == nil || errors.Is(err, io.EOF) {
				_, err = s.Recv()
			}
			s.CloseSend()
		}
		if status.Code(err) != want {
			t.Errorf("reflection for the role %s: got %v, want %v", role, err, want)
		}
	}
}

func TestAServiceNeverLendsItsRightsToAStranger(t *testing.T) {
	// A method that anybody may call, and which asks another service.
	strangers := metadata.NewIncomingContext(t.Context(), metadata.MD{})
	var asked bool
	over := accessgate.Forward(recorder{func(context.Context) { asked = true }}, "")
	if _, err := who(t, strangers, over); err == nil || asked {
		t.Errorf("got %v, asked %v; want a refusal before the call", err, asked)
	}
}

func TestForwardingPassesOnNothingElse(t *testing.T) {
	var got metadata.MD
	over := accessgate.Forward(recorder{func(ctx context.Context) { got, _ = metadata.FromOutgoingContext(ctx) }}, "hsk_service")
	ctx := metadata.NewOutgoingContext(t.Context(), metadata.Pairs("authorization", "Bearer hsk_person", "halfshaft-caller", "administrator x    "))
	ctx = metadata.NewIncomingContext(ctx, metadata.Pairs("authorization", "Bearer hsk_incoming"))
	who(t, access.NewContext(ctx, access.Caller{Role: access.Owner, Bearer: "owner", Person: ownPerson}), over)
	if a, c := got.Get("authorization"), got.Get("halfshaft-caller"); len(a) != 1 || a[0] != "Bearer hsk_service" || len(c) != 1 || c[0] != "owner owner people%2Fp0001   " {
		t.Errorf("got %v and %v", a, c)
	}
}

// recorder is a connection that leads nowhere.
type recorder struct{ note func(context.Context) }

func (r recorder) Invoke(ctx context.Context, _ string, _, _ any, _ ...grpc.CallOption) error {
	r.note(ctx)
	return nil
}

func (r recorder) NewStream(ctx context.Context, _ *grpc.StreamDesc, _ string, _ ...grpc.CallOption) (grpc.ClientStream, error) {
	r.note(ctx)
	return nil, nil
}

func TestANameCannotBeReadInTwoWays(t *testing.T) {
	d := newDoor(t)
	builds := buildv1.NewBuildServiceClient(d.as(access.Owner))
	spoken := "am-0147 " + strings.ToLower(string(ownSerial[6:]))
	for _, c := range []struct {
		name string
		want codes.Code
	}{
		{"builds/" + string(ownSerial), codes.Unimplemented}, // through the gate
		{"builds/" + spoken, codes.Unimplemented},
		{"builds/" + string(ownSerial) + "/" + string(otherSerial), codes.InvalidArgument},
		{"builds/" + string(ownSerial) + "/", codes.Unimplemented}, // the same vehicle to whoever reads it
		{"builds//" + string(ownSerial), codes.InvalidArgument},
		{"vehicles/" + string(ownSerial), codes.InvalidArgument},
		{"/builds/" + string(ownSerial), codes.InvalidArgument},
		{"builds/-", codes.InvalidArgument},
		{"builds/AM0147X", codes.InvalidArgument}, // a wrong check character
		{"", codes.InvalidArgument},
		{"builds/" + string(otherSerial), codes.NotFound},
	} {
		_, err := builds.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: c.name})
		if status.Code(err) != c.want {
			t.Errorf("%q: got %v, want %v", c.name, err, c.want)
		}
	}
	// A message on the way that is not there names nothing.
	if _, err := ownerv1.NewOwnerServiceClient(d.as(access.Owner)).UpdatePerson(t.Context(), &ownerv1.UpdatePersonRequest{}); status.Code(err) != codes.InvalidArgument {
		t.Errorf("no person at all: got %v", err)
	}
	// All vehicles: the method itself gives an owner no more than their own.
	if _, err := ownerv1.NewOwnerServiceClient(d.as(access.Owner)).ListTies(t.Context(), &ownerv1.ListTiesRequest{Parent: "vehicles/-"}); status.Code(err) != codes.Unimplemented {
		t.Errorf("all vehicles: got %v", err)
	}
}
