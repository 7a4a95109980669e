package remindertext

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"halfshaft/services/reminder"
)

const (
	secret    = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
	reference = "k3vq2nbd5xw7ayo4ht6zrmcuje"
	number    = "+441632960983" // from the range kept for fiction
	words     = "AM0147P: the engine oil is due on 1 May. Reply STOP to end."
)

var now = time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)

// gatewayAt makes a gateway that a test's server plays.
func gatewayAt(t *testing.T, server *httptest.Server, change func(*Config)) *Gateway {
	t.Helper()
	u, err := url.Parse(server.URL)
	if err != nil {
		t.Fatal(err)
	}
	c := Config{URL: server.URL + "/send", Secret: secret, AllowPrivate: []string{u.Hostname()}, Clock: func() time.Time { return now }}
	if change != nil {
		change(&c)
	}
	g, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(g.client.CloseIdleConnections)
	return g
}

func serve(t *testing.T, h http.HandlerFunc) *httptest.Server {
	t.Helper()
	s := httptest.NewServer(h)
	t.Cleanup(s.Close)
	return s
}

func TestAMessageArrivesSignedAndWhole(t *testing.T) {
	type request struct {
		header http.Header
		body   []byte
		path   string
	}
	got := make(chan request, 2)
	server := serve(t, func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		got <- request{r.Header, body, r.Method + " " + r.URL.Path}
		w.WriteHeader(http.StatusAccepted)
		_, _ = w.Write([]byte(`{"queued": true, "to": "+44 1632 960983", "text": "` + words + `"}`))
	})
	g := gatewayAt(t, server, nil)
	attempt := g.Send(t.Context(), reference, number, words)
	if attempt.Outcome != reminder.Accepted {
		t.Fatalf("got %+v", attempt)
	}
	if attempt.Text != `202 {"queued": true, "to": "[number]", "text": "[message]"}` {
		t.Errorf("the answer kept is %q", attempt.Text)
	}
	r := <-got
	receiver, err := NewReceiver(secret)
	if err != nil {
		t.Fatal(err)
	}
	if err := receiver.Verify(r.header, r.body, now); err != nil {
		t.Error(err)
	}
	if r.path != "POST /send" || r.header.Get("webhook-id") != reference || r.header.Get("webhook-timestamp") != "1777626000" ||
		r.header.Get("Content-Type") != "application/json" {
		t.Errorf("%s with %v", r.path, r.header)
	}
	var sent map[string]any
	if err := json.Unmarshal(r.body, &sent); err != nil {
		t.Fatal(err)
	}
	data := sent["data"].(map[string]any)
	if sent["type"] != "message.send" || sent["timestamp"] != "2026-05-01T09:00:00Z" ||
		data["reference"] != reference || data["to"] != number || data["text"] != words {
		t.Errorf("sent %s", r.body)
	}
	// Again: the same bytes under the same identifier.
	g.Send(t.Context(), reference, number, words)
	if again := <-got; string(again.body) != string(r.body) || again.header.Get("webhook-signature") != r.header.Get("webhook-signature") {
		t.Error("the second time it is another message")
	}
}

func TestAnAnswerSaysWhatBecomesOfAMessage(t *testing.T) {
	// RFC 9110 section 15: 2xx is success; which of the others are for later is
	// said at outcomeOf. Retry-After: section 10.2.3.
	for _, c := range []struct {
		status int
		after  string // Retry-After
		want   reminder.Outcome
		wait   time.Duration
	}{
		{200, "", reminder.Accepted, 0},
		{201, "", reminder.Accepted, 0},
		{202, "60", reminder.Accepted, 0},
		{204, "", reminder.Accepted, 0},
		{301, "", reminder.TryLater, 0},
		{302, "", reminder.TryLater, 0},
		{400, "60", reminder.RefusedIt, 0},
		{401, "", reminder.TryLater, 0},
		{403, "", reminder.RefusedIt, 0},
		{404, "", reminder.TryLater, 0},
		{408, "", reminder.TryLater, 0},
		{410, "", reminder.TryLater, 0},
		{413, "", reminder.RefusedIt, 0},
		{422, "", reminder.RefusedIt, 0},
		{425, "", reminder.TryLater, 0},
		{429, "120", reminder.TryLater, 2 * time.Minute},
		{429, "Fri, 01 May 2026 11:30:00 GMT", reminder.TryLater, 150 * time.Minute},
		{429, "Fri, 01 May 2026 08:30:00 GMT", reminder.TryLater, 0},
		{429, "-5", reminder.TryLater, 0},
		{429, "soon", reminder.TryLater, 0},
		{503, "99999999", reminder.TryLater, 24 * time.Hour},
		{500, "", reminder.TryLater, 0},
		{502, "", reminder.TryLater, 0},
		{599, "", reminder.TryLater, 0},
	} {
		server := serve(t, func(w http.ResponseWriter, _ *http.Request) {
			if c.after != "" {
				w.Header().Set("Retry-After", c.after)
			}
			w.WriteHeader(c.status)
		})
		got := gatewayAt(t, server, nil).Send(t.Context(), reference, number, words)
		if got.Outcome != c.want || got.RetryAfter != c.wait {
			t.Errorf("%d %q: got %+v, want outcome %d after %s", c.status, c.after, got, c.want, c.wait)
		}
	}
}

func TestNoRedirectIsFollowed(t *testing.T) {
	var elsewhere atomic.Bool
	other := serve(t, func(http.ResponseWriter, *http.Request) { elsewhere.Store(true) })
	for _, status := range []int{301, 302, 303, 307, 308} {
		server := serve(t, func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, other.URL, status) })
		got := gatewayAt(t, server, nil).Send(t.Context(), reference, number, words)
		if got.Outcome != reminder.TryLater || !strings.HasPrefix(got.Text, strconv.Itoa(status)) || elsewhere.Load() {
			t.Errorf("%d: got %+v, followed: %v", status, got, elsewhere.Load())
		}
	}
}

func TestWhatANameLeadsToIsCheckedWhenItIsConnectedTo(t *testing.T) {
	var reached atomic.Bool
	server := httptest.NewTLSServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { reached.Store(true) }))
	defer server.Close()
	for _, host := range []string{"localhost", "127.0.0.1"} {
		got := gatewayAt(t, server, func(c *Config) {
			c.URL = strings.Replace(server.URL, "127.0.0.1", host, 1)
			c.AllowPrivate = nil
		}).Send(t.Context(), reference, number, words)
		if got.Outcome != reminder.TryLater || !strings.Contains(got.Text, "not a public address") || reached.Load() {
			t.Errorf("%s: got %+v, reached: %v", host, got, reached.Load())
		}
	}
}

func TestEncryptionIsCheckedAgainstTheTrustedRoots(t *testing.T) {
	server := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(202) }))
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.StartTLS()
	defer server.Close()
	roots := x509.NewCertPool()
	roots.AddCert(server.Certificate())
	if got := gatewayAt(t, server, nil).Send(t.Context(), reference, number, words); got.Outcome != reminder.TryLater || got.Text == reminder.AnswerLost {
		t.Errorf("a stranger: %+v", got)
	}
	trusting := gatewayAt(t, server, func(c *Config) { c.TLS = &tls.Config{RootCAs: roots} })
	if got := trusting.Send(t.Context(), reference, number, words); got.Outcome != reminder.Accepted {
		t.Errorf("the gateway: %+v", got)
	}
}

func TestAMessageHandedOverWithoutAnAnswerMayHaveArrived(t *testing.T) {
	for name, end := range map[string]func(http.ResponseWriter, context.CancelFunc){
		"our time is over": func(_ http.ResponseWriter, cancel context.CancelFunc) { cancel() },
		"the connection breaks": func(w http.ResponseWriter, _ context.CancelFunc) {
			conn, _, err := http.NewResponseController(w).Hijack()
			if err == nil {
				conn.Close()
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			var requests atomic.Int32
			server := serve(t, func(w http.ResponseWriter, r *http.Request) {
				requests.Add(1)
				_, _ = io.Copy(io.Discard, r.Body)
				end(w, cancel)
				<-ctx.Done()
			})
			got := gatewayAt(t, server, nil).Send(ctx, reference, number, words)
			cancel()
			if got != (reminder.Attempt{Outcome: reminder.TryLater, Text: reminder.AnswerLost}) {
				t.Errorf("got %+v", got)
			}
			if n := requests.Load(); n != 1 {
				t.Errorf("it was sent %d times", n)
			}
		})
	}
}

func TestAGatewayThatIsNotThereIsForLater(t *testing.T) {
	server := httptest.NewServer(http.NotFoundHandler())
	g := gatewayAt(t, server, nil)
	server.Close()
	if got := g.Send(t.Context(), reference, number, words); got.Outcome != reminder.TryLater || got.Text == reminder.AnswerLost {
		t.Errorf("got %+v", got)
	}
}

func TestAnEndlessAnswerIsNotRead(t *testing.T) {
	server := serve(t, func(w http.ResponseWriter, r *http.Request) {
		for r.Context().Err() == nil {
			if _, err := w.Write([]byte(strings.Repeat("very well ", 1000))); err != nil {
				return
			}
		}
	})
	got := gatewayAt(t, server, nil).Send(t.Context(), reference, number, words)
	if got.Outcome != reminder.Accepted || len(got.Text) != mostAnswer {
		t.Errorf("got %d and %d characters", got.Outcome, len(got.Text))
	}
}

func TestWhatCannotBeSentIsRefusedWithoutAsking(t *testing.T) {
	server := serve(t, func(http.ResponseWriter, *http.Request) { t.Error("it was sent") })
	g := gatewayAt(t, server, nil)
	for _, c := range [][3]string{
		{"", number, words}, {"a.b", number, words}, {"a\nb", number, words}, {reference, "", words}, {reference, "01632 960983", words},
		{reference, "+0441632960983", words}, {reference, "+44163296098312345", words}, {reference, number, ""},
	} {
		if got := g.Send(t.Context(), c[0], c[1], c[2]); got.Outcome != reminder.RefusedIt || strings.Contains(got.Text, "960983") {
			t.Errorf("%q: got %+v", c, got)
		}
	}
}

func TestAnswersAreKeptWithoutNumbersAndWithoutTheMessage(t *testing.T) {
	for said, want := range map[string]string{
		"queued for +441632960983":              "queued for [number]",
		"(0044) 1632-960983 is not a mobile":    "[number] is not a mobile",
		"to=44.1632.960.983;":                   "to=[number];",
		"rate is 100 a minute, code 21610":      "rate is 100 a minute, code 21610",
		"a\r\n\tb\x00c":                         "a b c",
		`said "Tom \u0026 \"Ann\"" to 12345678`: `said "[message]" to [number]`,
		`said "Tom & \"Ann\""`:                  `said "[message]"`,
		`said Tom & "Ann"`:                      `said [message]`,
		"caf\xe9":                               "caf?",
	} {
		if got := clean(said, `Tom & "Ann"`); got != want {
			t.Errorf("%q is kept as %q, want %q", said, got, want)
		}
	}
	if got := clean("fine", ""); got != "fine" {
		t.Errorf("without a message: %q", got)
	}
}

func TestManyMessagesGoOutAtOnce(t *testing.T) {
	server := serve(t, func(w http.ResponseWriter, r *http.Request) { _, _ = w.Write([]byte(r.Header.Get("webhook-id"))) })
	g := gatewayAt(t, server, nil)
	answers := make(chan string, 20)
	var want []string
	for i := range 20 {
		id := "notice-" + string(rune('a'+i))
		want = append(want, "200 "+id)
		go func() { answers <- g.Send(t.Context(), id, number, words).Text }()
	}
	var got []string
	for range 20 {
		got = append(got, <-answers)
	}
	if slices.Sort(got); !slices.Equal(got, want) {
		t.Errorf("got %v", got)
	}
}
