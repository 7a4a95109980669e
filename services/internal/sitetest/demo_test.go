package sitetest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"

	"halfshaft/services/internal/freeaddress"
	"halfshaft/services/works"
)

// site is the demo works as somebody runs it, its people signed in at the desk,
// and with more on record than the tour leaves: every page has something to show.
type site struct {
	*works.Session
	ctx    context.Context
	dir    string
	desk   string // address of the desk
	owners string // address of the owner pages
	people map[who]*client
	found  map[string]string // values of placeholders in the paths of pages
	close  func() error
}

// openSite starts the demo once for all tests of this package.
var openSite = sync.OnceValues(func() (*site, error) {
	dir, err := os.MkdirTemp("", "sitetest")
	if err != nil {
		return nil, err
	}
	s, err := startSite(dir)
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	opened = s
	return s, nil
})

// opened is the one that TestMain closes.
var opened *site

func TestMain(m *testing.M) {
	code := m.Run()
	if opened != nil {
		if err := opened.close(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = max(code, 1)
		}
	}
	os.Exit(code)
}

// theSite is the demo.
func theSite(t testing.TB) *site {
	t.Helper()
	s, err := openSite()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// startSite runs the demo in this process until the site is closed.
func startSite(dir string) (*site, error) {
	deskAt, err := freeaddress.Loopback()
	if err != nil {
		return nil, err
	}
	ownersAt, err := freeaddress.Loopback()
	if err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(context.Background())
	out, in := io.Pipe()
	ended := make(chan error, 1)
	go func() {
		err := works.Demo(ctx, works.DemoConfig{Dir: filepath.Join(dir, "demo"), Listen: "127.0.0.1:0", HTTP: ownersAt, Desk: deskAt, Out: in})
		in.CloseWithError(io.EOF)
		ended <- err
	}()
	said, err := readUntil(out, "The administrator's key")
	go io.Copy(io.Discard, out) //nolint:errcheck // what it still says
	s := &site{ctx: ctx, dir: dir, owners: "http://" + ownersAt, people: map[who]*client{nobody: newClient("")}, found: map[string]string{}}
	s.desk = "http://localhost:" + deskAt[strings.LastIndex(deskAt, ":")+1:]
	s.close = func() error {
		var err error
		if s.Session != nil {
			err = s.Session.Close()
		}
		stop()
		return errors.Join(err, <-ended, os.RemoveAll(dir))
	}
	if err == nil {
		err = s.fill(said)
	}
	if err != nil {
		return nil, errors.Join(err, s.close())
	}
	return s, nil
}

// fill signs the people in and puts more on record.
func (s *site) fill(said string) (err error) {
	if s.Session, err = works.Open(s.ctx, works.Target{Data: filepath.Join(s.dir, "demo", "data")}); err != nil {
		return err
	}
	for _, step := range []func() error{
		func() error { return s.signIn(said) },
		s.tellStories,
		s.findNames,
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// readUntil reads until some words come.
func readUntil(r io.Reader, words string) (string, error) {
	var said bytes.Buffer
	for piece := make([]byte, 4096); !strings.Contains(said.String(), words); {
		n, err := r.Read(piece)
		said.Write(piece[:n])
		if err != nil {
			return "", fmt.Errorf("the demo ended after:\n%s", said.String())
		}
	}
	return said.String(), nil
}

// printedSignIn is how the demo says with what somebody signs in.
var printedSignIn = regexp.MustCompile(`(?m)^  (\w+) +.*, (.*)\n +password (\S+)\n +codes +(\S+)`)

// signIn signs in everybody whom the demo names, and makes an engineer, whom it
// has none of.
func (s *site) signIn(said string) error {
	for _, x := range printedSignIn.FindAllStringSubmatch(said, -1) {
		c := newClient(s.desk)
		if err := c.must(c.send("/sign-in", "account", x[1], "password", x[3], "code", x[4])); err != nil {
			return fmt.Errorf("sign %s in: %w", x[1], err)
		}
		role := who(x[2])
		if strings.HasPrefix(x[2], "of the dealer") {
			role = dealer
		}
		s.people[role] = c
	}
	if err := s.makeEngineer(); err != nil {
		return fmt.Errorf("let an engineer in: %w", err)
	}
	for _, role := range []who{administrator, engineer, support, dealer} {
		if c := s.people[role]; c == nil || c.cookie() == nil {
			return fmt.Errorf("no %s is signed in after:\n%s", role, said)
		}
	}
	return nil
}

// answered is a page as it came.
type answered struct {
	status int
	header http.Header
	body   string
}
