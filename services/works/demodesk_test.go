package works_test

import (
	"context"
	"io"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"halfshaft/services/internal/freeaddress"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

var printedSignIn = regexp.MustCompile(`(?m)^  (\w+) +.*\n +password (\S+)\n +codes +(\S+)`)

// As somebody who runs the demo and types what it prints.
func TestTheDemosPeopleSignInAtTheDesk(t *testing.T) {
	racetest.Skip(t, "passwords are hashed over and over")
	ctx, stop := context.WithCancel(t.Context())
	out, in := io.Pipe()
	ended := make(chan error, 1)
	desk := freeaddress.For(t)
	go func() {
		err := works.Demo(ctx, works.DemoConfig{Dir: filepath.Join(t.TempDir(), "demo"), Listen: "127.0.0.1:0", HTTP: freeaddress.For(t), Desk: desk, Out: in})
		in.CloseWithError(io.EOF)
		ended <- err
	}()
	defer func() {
		stop()
		go io.Copy(io.Discard, out) //nolint:errcheck // what it still says
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}()
	said, piece := "", make([]byte, 4096)
	for !strings.Contains(said, "The administrator's key") {
		n, err := out.Read(piece)
		if said += string(piece[:n]); err != nil {
			t.Fatalf("it ended after:\n%s", said)
		}
	}
	_, port, _ := strings.Cut(desk, ":")
	address := "http://localhost:" + port
	if !strings.Contains(said, "The desk is at "+address) {
		t.Fatalf("it does not say where the desk is:\n%s", said)
	}
	found := printedSignIn.FindAllStringSubmatch(said, -1)
	if len(found) != 3 {
		t.Fatalf("it says of %d how they sign in:\n%s", len(found), said)
	}
	for _, who := range found {
		b := (&deskWorld{t: t, url: address}).browser()
		a, page := b.send("/sign-in", url.Values{"account": {who[1]}, "password": {who[2]}, "code": {who[3]}})
		if a.StatusCode != http.StatusOK || !strings.Contains(page, "You are signed in as ") {
			t.Errorf("%s: got %d: %s", who[1], a.StatusCode, page)
		}
		if strings.Contains(page, aldermoor.TourSerial) != (who[1] == aldermoor.Workshop.Mechanic) {
			t.Errorf("%s sees: %s", who[1], page)
		}
	}
}
