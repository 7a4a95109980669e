package outgoing

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"golang.org/x/net/dns/dnsmessage"

	"halfshaft/services/fault"
)

// answering starts a server over TLS and a client that trusts it; what the
// client may reach is the test's to say.
func answering(t *testing.T, c Config, h http.HandlerFunc) (*httptest.Server, *Client) {
	t.Helper()
	server := httptest.NewUnstartedServer(h)
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.StartTLS()
	t.Cleanup(server.Close)
	roots := x509.NewCertPool()
	roots.AddCert(server.Certificate())
	c.TLS = &tls.Config{RootCAs: roots}
	client, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(client.CloseIdleConnections)
	return server, client
}

func get(ctx context.Context, c *Client, address string) (status int, body []byte, err error) {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return 0, nil, err
	}
	answer, err := c.Do(r)
	if err != nil {
		return 0, nil, err
	}
	defer answer.Body.Close()
	body, err = io.ReadAll(answer.Body)
	return answer.StatusCode, body, err
}

func TestWhatIsNamedIsReached(t *testing.T) {
	server, client := answering(t, Config{Allow: []string{"127.0.0.1"}}, func(w http.ResponseWriter, _ *http.Request) {
		_, _ = w.Write([]byte("good day"))
	})
	if status, body, err := get(t.Context(), client, server.URL); status != 200 || string(body) != "good day" || err != nil {
		t.Errorf("got %d %q %v", status, body, err)
	}
}

// resolver answers each question for an address of IPv4 with the next of the
// given ones, the last for ever, and counts the questions.
func resolver(t *testing.T, asked *atomic.Int32, addresses ...[4]byte) *net.Resolver {
	t.Helper()
	conn, err := net.ListenPacket("udp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	go func() {
		in := make([]byte, 4096)
		for {
			n, from, err := conn.ReadFrom(in)
			if err != nil {
				return
			}
			if out := answer(in[:n], asked, addresses); out != nil {
				_, _ = conn.WriteTo(out, from)
			}
		}
	}()
	return &net.Resolver{PreferGo: true, Dial: func(ctx context.Context, _, _ string) (net.Conn, error) {
		var d net.Dialer
		return d.DialContext(ctx, "udp", conn.LocalAddr().String())
	}}
}

func answer(question []byte, asked *atomic.Int32, addresses [][4]byte) []byte {
	var m dnsmessage.Message
	if m.Unpack(question) != nil || len(m.Questions) != 1 {
		return nil
	}
	m.Response, m.Authoritative = true, true
	m.Additionals = nil
	if q := m.Questions[0]; q.Type == dnsmessage.TypeA {
		i := int(asked.Add(1)) - 1
		m.Answers = []dnsmessage.Resource{{
			Header: dnsmessage.ResourceHeader{Name: q.Name, Type: q.Type, Class: q.Class},
			Body:   &dnsmessage.AResource{A: addresses[min(i, len(addresses)-1)]},
		}}
	}
	out, err := m.Pack()
	if err != nil {
		return nil
	}
	return out
}

// A name that leads to a public address while it is looked at, and to this
// machine when it is connected to: whoever checks the name beforehand is
// deceived, and we are not.
func TestANameThatChangesItsAddressIsCheckedWhenItIsConnectedTo(t *testing.T) {
	var asked, reached atomic.Int32
	names := resolver(t, &asked, [4]byte{9, 9, 9, 9}, [4]byte{127, 0, 0, 1})
	server, client := answering(t, Config{Resolver: names}, func(http.ResponseWriter, *http.Request) { reached.Add(1) })
	at, err := url.Parse(server.URL)
	if err != nil {
		t.Fatal(err)
	}
	before, err := names.LookupHost(t.Context(), "gateway.aldermoor.example")
	if err != nil || len(before) != 1 || before[0] != "9.9.9.9" {
		t.Fatalf("at first it leads to %v, %v", before, err)
	}
	_, _, err = get(t.Context(), client, "https://gateway.aldermoor.example:"+at.Port())
	if !fault.Is(err, fault.FailedPrecondition) || !strings.Contains(err.Error(), "leads to 127.0.0.1") {
		t.Errorf("got %v", err)
	}
	if asked.Load() < 2 || reached.Load() != 0 {
		t.Errorf("the name was asked for %d times, and the server reached %d times", asked.Load(), reached.Load())
	}
}

// A name that the operator named leads there, and the next moment to where
// programs are told passwords.
func TestANamedHostIsCheckedToo(t *testing.T) {
	var asked atomic.Int32
	names := resolver(t, &asked, [4]byte{169, 254, 169, 254})
	client, err := New(Config{Allow: []string{"gateway.lan"}, Resolver: names})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err = get(t.Context(), client, "https://gateway.lan/"); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("got %v", err)
	}
}

func TestNoRedirectIsFollowed(t *testing.T) {
	var elsewhere atomic.Bool
	for _, status := range []int{301, 302, 303, 307, 308} {
		server, client := answering(t, Config{Allow: []string{"127.0.0.1"}}, func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/elsewhere" {
				elsewhere.Store(true)
			}
			http.Redirect(w, r, "/elsewhere", status)
		})
		if got, _, err := get(t.Context(), client, server.URL); got != status || err != nil || elsewhere.Load() {
			t.Errorf("%d: got %d, %v, followed: %v", status, got, err, elsewhere.Load())
		}
		// A library that is handed the standard library's client has no more.
		r, err := client.HTTP().Get(server.URL)
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		if r.StatusCode != status || elsewhere.Load() {
			t.Errorf("%d by the standard library's client: got %d, followed: %v", status, r.StatusCode, elsewhere.Load())
		}
	}
}

func TestNothingGoesInPlainTextButToThisMachineWhereItIsNamed(t *testing.T) {
	var reached atomic.Int32
	server := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { reached.Add(1) }))
	defer server.Close()
	for _, c := range []struct {
		name  string
		allow []string
		good  bool
	}{
		{"not named", nil, false},
		{"its range named", []string{"127.0.0.0/8"}, false},
		{"named", []string{"127.0.0.1"}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			client, err := New(Config{Allow: c.allow})
			if err != nil {
				t.Fatal(err)
			}
			defer client.CloseIdleConnections()
			reached.Store(0)
			answer, err := client.HTTP().Get(server.URL)
			if err == nil {
				answer.Body.Close()
			}
			if (err == nil) != c.good || (reached.Load() > 0) != c.good {
				t.Errorf("got %v, reached %d times", err, reached.Load())
			}
		})
	}
}

// The standard library reads the environment once in a process, whichever test
// comes first; so it is the setting that is looked at.
func TestTheEnvironmentNamesNoProxy(t *testing.T) {
	client, err := New(Config{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []*http.Client{client.client, client.HTTP()} {
		if g, ok := c.Transport.(guarded); !ok || g.Proxy != nil {
			t.Errorf("a proxy may be asked: %T", c.Transport)
		}
	}
}

// A server that takes the connection and says nothing, one that begins and
// never ends, and one that only shakes hands.
func TestASlowAnswerIsNotWaitedFor(t *testing.T) {
	silent, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	allow := []string{"127.0.0.1"}
	client, err := New(Config{Allow: allow, Step: 50 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := get(t.Context(), client, "https://"+silent.Addr().String()); err == nil || !strings.Contains(err.Error(), "TLS handshake timeout") {
		t.Errorf("no handshake: %v", err)
	}
	for _, c := range []struct {
		name   string
		config Config
		does   func(http.ResponseWriter)
		want   string // of net/http's words, which are two for the end of the whole
	}{
		{"no answer", Config{Step: 200 * time.Millisecond}, func(http.ResponseWriter) {}, "awaiting response headers"},
		{"an answer without an end", Config{Whole: 500 * time.Millisecond}, func(w http.ResponseWriter) {
			_, _ = w.Write([]byte("very "))
			_ = http.NewResponseController(w).Flush()
		}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.config.Allow = allow
			// The server ends no answer before the client has given up: an end
			// that crosses with the giving up would be a whole answer.
			over := make(chan struct{})
			server, client := answering(t, c.config, func(w http.ResponseWriter, _ *http.Request) {
				c.does(w)
				<-over
			})
			_, _, err := get(t.Context(), client, server.URL)
			close(over)
			if late := net.Error(nil); !errors.As(err, &late) || !late.Timeout() || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want a time that is over, and %q", err, c.want)
			}
		})
	}
}

func TestAHugeAnswerIsNotReadToItsEnd(t *testing.T) {
	for size, want := range map[int]error{0: nil, 99: nil, 100: nil, 101: ErrTooLarge, 1 << 20: ErrTooLarge} {
		server, client := answering(t, Config{Allow: []string{"127.0.0.1"}, MostAnswer: 100}, func(w http.ResponseWriter, _ *http.Request) {
			_, _ = w.Write(bytes.Repeat([]byte("x"), size))
		})
		_, body, err := get(t.Context(), client, server.URL)
		if !errors.Is(err, want) || len(body) != min(size, 100) {
			t.Errorf("%d bytes: read %d, %v, want %v", size, len(body), err, want)
		}
	}
	server, client := answering(t, Config{Allow: []string{"127.0.0.1"}}, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("X-Long", strings.Repeat("x", 2*mostHeader))
	})
	if _, _, err := get(t.Context(), client, server.URL); err == nil {
		t.Error("a header without end was read")
	}
}
