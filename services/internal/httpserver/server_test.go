package httpserver

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"halfshaft/services/internal/selfsigned"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// patience bounds a wait for what must come; it is no measurement.
const patience = 30 * time.Second

// soon is a limit short enough for a test to meet.
const soon = 100 * time.Millisecond

func serving(t *testing.T, c Config) string {
	t.Helper()
	c.Address = "127.0.0.1:0"
	s, err := Listen(c)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	return s.Addr().String()
}

func dial(t *testing.T, address string) net.Conn {
	t.Helper()
	conn, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	if err := conn.SetDeadline(time.Now().Add(patience)); err != nil {
		t.Fatal(err)
	}
	return conn
}

// cutOff reads to the end that the server makes. A client that is never cut off
// meets its own deadline instead, which is the failure.
func cutOff(t *testing.T, conn net.Conn) string {
	t.Helper()
	heard, err := io.ReadAll(conn)
	var late net.Error
	if errors.As(err, &late) && late.Timeout() {
		t.Fatalf("it was not cut off; heard %q", heard)
	}
	return string(heard)
}

func TestASlowClientIsCutOff(t *testing.T) {
	readAll := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if _, err := io.Copy(io.Discard, r.Body); err != nil {
			w.WriteHeader(http.StatusRequestTimeout)
			return
		}
		_, _ = w.Write([]byte("done"))
	})
	for _, c := range []struct {
		name   string
		limits Limits
		sends  string
		hears  string // within what comes before the end
	}{
		{"that says nothing", Limits{Header: soon}, "", ""},
		{"in the middle of its header", Limits{Header: soon}, "GET / HTTP/1.1\r\nHost: care.aldermoor.example\r\nX-Slow: ", ""},
		{"in the middle of its body", Limits{Body: soon}, "POST / HTTP/1.1\r\nHost: care.aldermoor.example\r\nContent-Length: 1000\r\n\r\nhalf", "408 "},
		{"that has asked and keeps the line", Limits{Idle: soon}, "GET / HTTP/1.1\r\nHost: care.aldermoor.example\r\n\r\n", "done"},
	} {
		t.Run(c.name, func(t *testing.T) {
			conn := dial(t, serving(t, Config{Handler: readAll, Limits: c.limits}))
			if _, err := io.WriteString(conn, c.sends); err != nil {
				t.Fatal(err)
			}
			if heard := cutOff(t, conn); !strings.Contains(heard, c.hears) || c.hears == "" && strings.Contains(heard, "200 OK") {
				t.Errorf("heard %q", heard)
			}
		})
	}
}

func TestAClientThatReadsNothingIsCutOff(t *testing.T) {
	ended := make(chan error, 1)
	address := serving(t, Config{Limits: Limits{Write: soon}, Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		piece := bytes.Repeat([]byte("x"), 1<<20)
		for {
			if _, err := w.Write(piece); err != nil {
				ended <- err
				return
			}
		}
	})})
	conn := dial(t, address)
	if _, err := io.WriteString(conn, "GET / HTTP/1.1\r\nHost: care.aldermoor.example\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-ended:
		if !strings.Contains(err.Error(), "timeout") {
			t.Errorf("it ended with %v", err)
		}
	case <-time.After(patience):
		t.Error("it still writes")
	}
}

func TestAClientThatDoesNotShakeHandsIsCutOff(t *testing.T) {
	secure, _ := secured(t)
	conn := dial(t, serving(t, Config{Handler: http.NotFoundHandler(), TLS: secure, Limits: Limits{Header: soon}}))
	cutOff(t, conn)
}

func TestABodyThatIsTooLongIsNotReadToItsEnd(t *testing.T) {
	address := serving(t, Config{Limits: Limits{MostBody: 100}, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n, err := io.Copy(io.Discard, r.Body)
		if tooLong := new(http.MaxBytesError); errors.As(err, &tooLong) {
			w.WriteHeader(http.StatusRequestEntityTooLarge)
		}
		fmt.Fprint(w, n)
	})})
	for size, want := range map[int]string{99: "200 99", 100: "200 100", 101: "413 100", 1 << 20: "413 100"} {
		answer, err := client(nil).Post("http://"+address, "text/plain", bytes.NewReader(make([]byte, size)))
		if err != nil {
			t.Fatal(err)
		}
		body, _ := io.ReadAll(answer.Body)
		answer.Body.Close()
		if got := fmt.Sprintf("%d %s", answer.StatusCode, body); got != want {
			t.Errorf("%d bytes: got %s, want %s", size, got, want)
		}
	}
}

func client(secure *tls.Config) *http.Client {
	return &http.Client{Timeout: patience, Transport: &http.Transport{DisableKeepAlives: true, TLSClientConfig: secure}}
}

func TestWhoeverReadsByTLSIsToldToComeBackByIt(t *testing.T) {
	secure, roots := secured(t)
	for _, c := range []struct {
		name   string
		config Config
		scheme string
		want   string
	}{
		{"over TLS", Config{TLS: secure}, "https", "max-age=63072000; includeSubDomains"},
		{"behind a proxy", Config{Proxied: true}, "http", "max-age=63072000; includeSubDomains"},
		{"in plain text", Config{}, "http", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.config.Handler = http.NotFoundHandler()
			answer, err := client(&tls.Config{RootCAs: roots}).Get(c.scheme + "://" + serving(t, c.config))
			if err != nil {
				t.Fatal(err)
			}
			answer.Body.Close()
			if got := answer.Header.Get("Strict-Transport-Security"); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
}

// Most that was ever wrong with net/http let a caller take memory by HTTP/2.
func TestThereIsNoHTTP2(t *testing.T) {
	secure, roots := secured(t)
	address := serving(t, Config{Handler: http.NotFoundHandler(), TLS: secure})
	conn, err := tls.Dial("tcp", address, &tls.Config{RootCAs: roots, NextProtos: []string{"h2", "http/1.1"}})
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	if got := conn.ConnectionState().NegotiatedProtocol; got != "http/1.1" {
		t.Errorf("got %q", got)
	}
	plain := dial(t, serving(t, Config{Handler: http.NotFoundHandler()}))
	if _, err := io.WriteString(plain, "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	if heard := cutOff(t, plain); !strings.HasPrefix(heard, "HTTP/1.1 ") {
		t.Errorf("heard %q", heard)
	}
}

func TestOldTLSIsRefused(t *testing.T) {
	secure, roots := secured(t)
	address := serving(t, Config{Handler: http.NotFoundHandler(), TLS: secure})
	if secure.MinVersion != tls.VersionTLS12 { // the suites alone keep older ones out, today
		t.Errorf("the oldest version is %x", secure.MinVersion)
	}
	for _, c := range []struct {
		name   string
		config *tls.Config
		good   bool
	}{
		{"1.3", &tls.Config{MinVersion: tls.VersionTLS13}, true},
		{"1.2", &tls.Config{MaxVersion: tls.VersionTLS12}, true},
		{"1.2 with block ciphers", &tls.Config{MaxVersion: tls.VersionTLS12, CipherSuites: []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_CBC_SHA}}, false},
		{"1.2 without forward secrecy", &tls.Config{MaxVersion: tls.VersionTLS12, CipherSuites: []uint16{tls.TLS_RSA_WITH_AES_128_GCM_SHA256}}, false},
		{"1.1", &tls.Config{MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.config.RootCAs = roots
			conn, err := tls.DialWithDialer(&net.Dialer{Timeout: patience}, "tcp", address, c.config)
			if err == nil {
				conn.Close()
			}
			if (err == nil) != c.good {
				t.Errorf("got %v", err)
			}
		})
	}
}

// secured is what browsers are served by, with a certificate, and the pool that
// trusts it.
func secured(t *testing.T) (*tls.Config, *x509.CertPool) {
	t.Helper()
	pair, roots := selfsigned.New(t, "127.0.0.1")
	secure := ForBrowsers()
	secure.Certificates = []tls.Certificate{pair}
	return secure, roots
}

// scripted is a listener whose connections come from where a test says.
type scripted struct {
	net.Listener
	next []*fakeConn
}

type fakeConn struct {
	net.Conn
	from   net.Addr
	closed bool
}

func (c *fakeConn) RemoteAddr() net.Addr { return c.from }
func (c *fakeConn) Close() error         { c.closed = true; return nil }

func (s *scripted) Accept() (net.Conn, error) {
	if len(s.next) == 0 {
		return nil, net.ErrClosed
	}
	c := s.next[0]
	s.next = s.next[1:]
	return c, nil
}

func from(ip string) *fakeConn {
	return &fakeConn{from: net.TCPAddrFromAddrPort(netip.AddrPortFrom(netip.MustParseAddr(ip), 4000))}
}

func TestLoopbackAndANamedProxyHoldAsManyConnectionsAsTheyLike(t *testing.T) {
	come := []*fakeConn{
		from("192.0.2.7"), from("192.0.2.7"), from("127.0.0.1"), from("127.0.0.1"), from("::1"), from("::1"),
		from("2001:db8::9"), from("2001:db8::9"), from("2001:db8::8"),
	}
	l := fair(&scripted{next: come}, 1, func(a netip.Addr) bool { return a == netip.MustParseAddr("2001:db8::9") })
	for {
		if _, err := l.Accept(); err != nil {
			break
		}
	}
	for i, want := range []bool{false, true, false, false, false, false, false, false, false} {
		if come[i].closed != want {
			t.Errorf("connection %d, from %v: closed %v, want %v", i, come[i].from, come[i].closed, want)
		}
	}
	unnamed := []*fakeConn{from("2001:db8::9"), from("2001:db8::9")}
	for l := fair(&scripted{next: unnamed}, 1, nil); ; {
		if _, err := l.Accept(); err != nil {
			break
		}
	}
	if !unnamed[1].closed {
		t.Error("a proxy that nobody named is not counted")
	}
}

func TestTheLogHasNobodysAddress(t *testing.T) {
	var log bytes.Buffer
	logger := slog.New(slog.NewTextHandler(&log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	w := quiet{logger}
	for _, line := range []string{
		"http: TLS handshake error from 192.0.2.7:4000: EOF\n", "http: TLS handshake error from [2001:db8::7]:4000: EOF\n",
		"http: panic serving 192.0.2.7:4000: a trap\ngoroutine 1\n",
	} {
		if _, err := w.Write([]byte(line)); err != nil {
			t.Fatal(err)
		}
	}
	if text := log.String(); strings.Contains(text, "192.0.2") || strings.Contains(text, "2001:") || strings.Count(text, "EOF") != 2 || !strings.Contains(text, "level=ERROR") {
		t.Errorf("the log says\n%s", text)
	}
}

func TestTheEndWaitsAMomentForAnswers(t *testing.T) {
	entered, release := make(chan bool), make(chan bool)
	s, err := Listen(Config{Address: "127.0.0.1:0", Limits: Limits{Stop: patience}, Handler: http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		close(entered)
		<-release
		_, _ = w.Write([]byte("whole"))
	})})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx) }()
	conn := dial(t, s.Addr().String())
	if _, err := io.WriteString(conn, "GET / HTTP/1.1\r\nHost: care.aldermoor.example\r\nConnection: close\r\n\r\n"); err != nil {
		t.Fatal(err)
	}
	<-entered
	cancel()
	close(release)
	answer, err := http.ReadResponse(bufio.NewReader(conn), nil)
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(answer.Body)
	answer.Body.Close()
	if err != nil || string(body) != "whole" {
		t.Errorf("got %q, %v", body, err)
	}
	if err := <-ended; err != nil {
		t.Error(err)
	}
}
