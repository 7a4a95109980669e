package works

import (
	"context"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"halfshaft/services/fault"
)

func TestWhatAPersonAtATerminalIsTold(t *testing.T) {
	for name, c := range map[string]struct {
		err  error
		want string
	}{
		"a certificate that ended": {
			status.Error(codes.Unavailable, `connection error: desc = "transport: authentication handshake failed: tls: failed to verify certificate: x509: certificate has expired or is not yet valid"`),
			"The server could not be reached: x509: certificate has expired or is not yet valid"},
		"nobody there": {
			status.Error(codes.Unavailable, `connection error: desc = "transport: Error while dialing: dial tcp 127.0.0.1:1: connect: connection refused"`),
			"The server could not be reached: dial tcp 127.0.0.1:1: connect: connection refused"},
		"a server's own words": {status.Error(codes.Unavailable, "The store is away."), "The store is away."},
		"no key": {fault.New(fault.Unauthenticated, "KEY_MISSING", "This needs a key."),
			"This needs a key.\nOn the command line it is given by --api-key, or by HALFSHAFT_KEY in the environment."},
		"two wrong fields": {fault.InvalidFields([]fault.Field{{Name: "a", Got: "x", Want: "y"}, {Name: "b", Want: "z"}}), "a: got \"x\", want y\nb: got nothing, want z"},
	} {
		if got := Explain(c.err); got != c.want {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, c.want)
		}
	}
}

func TestAnAddressWithoutAPortIsNoServer(t *testing.T) {
	_, err := Open(context.Background(), Target{Servers: []string{"records"}})
	if want := "server: got \"records\", want HOST:PORT or unix:PATH"; err == nil || Explain(err) != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

func TestAProcessDoesNotStartWithPassesThatAreNoTimes(t *testing.T) {
	for passes, ok := range map[string]bool{"": true, Never: true, "0 7 * * *": true, "bla": false, "61 * * * *": false} {
		_, err := Config{Data: t.TempDir(), Passes: passes}.normal()
		if (err == nil) != ok {
			t.Errorf("passes %q: %v", passes, err)
		}
	}
}
