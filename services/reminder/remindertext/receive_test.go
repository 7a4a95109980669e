package remindertext

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/reminder"
)

const otherSecret = "whsec_C2FVsBQIhrscChlQIMV+b5sSYspob7oD"

// signedBy signs by hand, as the Standard Webhooks specification says under
// "Signature scheme": HMAC-SHA256 over "id.timestamp.body".
func signedBy(secret, id, stamp, body string) string {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, "whsec_"))
	if err != nil {
		panic(err)
	}
	mac := hmac.New(sha256.New, key)
	fmt.Fprintf(mac, "%s.%s.%s", id, stamp, body)
	return "v1," + base64.StdEncoding.EncodeToString(mac.Sum(nil))
}

func headers(id, stamp, signature string) http.Header {
	h := http.Header{}
	h.Set("webhook-id", id)
	h.Set("webhook-timestamp", stamp)
	h.Set("webhook-signature", signature)
	return h
}

func TestTheSignatureIsThatOfThePublishedVector(t *testing.T) {
	// The test vector of the Standard Webhooks reference libraries
	// (TestWebhookSign in libraries/go, and the same in its other languages).
	const body, id, stamp = `{"test": 2432232314}`, "msg_p5jXN8AQM9LWM0D4loKWxJek", "1614265330"
	const want = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="
	if got := signedBy(secret, id, stamp, body); got != want {
		t.Errorf("by hand: %s", got)
	}
	key, err := newSigner("secret", secret)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := key.Sign(id, time.Unix(1614265330, 0), []byte(body)); got != want || err != nil {
		t.Errorf("got %s, %v, want %s", got, err, want)
	}
	r, err := NewReceiver(otherSecret, secret)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Verify(headers(id, stamp, want), []byte(body), time.Unix(1614265330, 0)); err != nil {
		t.Error(err)
	}
}

func TestOnlyWhatTheGatewaySignedIsTaken(t *testing.T) {
	const id, body = "evt_1", `{"type":"message"}`
	stamp := strconv.FormatInt(now.Unix(), 10)
	at := func(d time.Duration) string { return strconv.FormatInt(now.Add(d).Unix(), 10) }
	sign := func(stamp string) string { return signedBy(secret, id, stamp, body) }
	receiver, err := NewReceiver(secret, otherSecret)
	if err != nil {
		t.Fatal(err)
	}
	with := func(h http.Header, name string, values ...string) http.Header {
		h[http.CanonicalHeaderKey(name)] = values
		return h
	}
	for name, c := range map[string]struct {
		header http.Header
		body   string
		reason string // "" when it is taken
	}{
		"the first secret":            {headers(id, stamp, sign(stamp)), body, ""},
		"the second secret":           {headers(id, stamp, signedBy(otherSecret, id, stamp, body)), body, ""},
		"several signatures":          {headers(id, stamp, "v1a,xyz v1,AAAA "+sign(stamp)), body, ""},
		"five minutes ago":            {headers(id, at(-5*time.Minute), sign(at(-5*time.Minute))), body, ""},
		"five minutes ahead":          {headers(id, at(5*time.Minute), sign(at(5*time.Minute))), body, ""},
		"a second older":              {headers(id, at(-301*time.Second), sign(at(-301*time.Second))), body, "TEXT_SIGNATURE_TIME"},
		"a second further ahead":      {headers(id, at(301*time.Second), sign(at(301*time.Second))), body, "TEXT_SIGNATURE_TIME"},
		"another body":                {headers(id, stamp, sign(stamp)), body + " ", "TEXT_SIGNATURE"},
		"another identifier":          {headers("evt_2", stamp, sign(stamp)), body, "TEXT_SIGNATURE"},
		"another time":                {headers(id, at(time.Second), sign(stamp)), body, "TEXT_SIGNATURE"},
		"another secret":              {headers(id, stamp, signedBy("whsec_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", id, stamp, body)), body, "TEXT_SIGNATURE"},
		"another version":             {headers(id, stamp, "v2"+strings.TrimPrefix(sign(stamp), "v1")), body, "TEXT_SIGNATURE"},
		"no signature":                {headers(id, stamp, ""), body, "TEXT_SIGNATURE"},
		"no identifier":               {headers("", stamp, sign(stamp)), body, "TEXT_SIGNATURE"},
		"no time":                     {headers(id, "", sign(stamp)), body, "TEXT_SIGNATURE"},
		"a time that is none":         {headers(id, "today", sign("today")), body, "TEXT_SIGNATURE"},
		"a time with a sign":          {headers(id, "+"+stamp, sign(stamp)), body, "TEXT_SIGNATURE"},
		"a time before all":           {headers(id, "-9223372036854775808", sign("-9223372036854775808")), body, "TEXT_SIGNATURE_TIME"},
		"a time after all":            {headers(id, "9223372036854775807", sign("9223372036854775807")), body, "TEXT_SIGNATURE_TIME"},
		"a header twice":              {with(headers(id, stamp, sign(stamp)), "webhook-id", id, "evt_2"), body, "TEXT_SIGNATURE"},
		"the signature twice":         {with(headers(id, stamp, ""), "webhook-signature", "v1,AAAA", sign(stamp)), body, "TEXT_SIGNATURE"},
		"a signature that was cut":    {headers(id, stamp, sign(stamp)[:20]), body, "TEXT_SIGNATURE"},
		"a signature without version": {headers(id, stamp, strings.TrimPrefix(sign(stamp), "v1,")), body, "TEXT_SIGNATURE"},
	} {
		err := receiver.Verify(c.header, []byte(c.body), now)
		if c.reason == "" {
			if err != nil {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if !fault.Is(err, fault.Unauthenticated) || err.(*fault.Error).Reason != c.reason {
			t.Errorf("%s: got %v, want %s", name, err, c.reason)
		}
	}
}

func TestAReceiverNeedsSecrets(t *testing.T) {
	for _, secrets := range [][]string{nil, {""}, {secret, "whsec_!"}, {"whsec_"}} {
		if _, err := NewReceiver(secrets...); !fault.Is(err, fault.Invalid) || strings.Contains(err.Error(), "MfKQ") {
			t.Errorf("%q: got %v", secrets, err)
		}
	}
}

func TestEventsAreRead(t *testing.T) {
	at := time.Date(2026, 5, 1, 9, 0, 3, 0, time.UTC)
	for body, want := range map[string]Event{
		`{"type":"receipt","timestamp":"2026-05-01T11:00:03+02:00","data":{"reference":"k3v","status":"delivered","other":1},"more":[]}`: {
			Kind: Receipt, Time: at, Reference: "k3v", Status: reminder.Delivered},
		`{"type":"receipt","timestamp":"2026-05-01T09:00:03Z","data":{"reference":"k3v","status":"failed","detail":"+44 1632 960983 is barred"}}`: {
			Kind: Receipt, Time: at, Reference: "k3v", Status: reminder.Failed, Text: "[number] is barred"},
		`{"type":"receipt","timestamp":"2026-05-01T09:00:03Z","data":{"reference":"k3v","status":"expired"}}`: {
			Kind: Receipt, Time: at, Reference: "k3v", Status: reminder.GivenUp},
		`{"type":"receipt","timestamp":"2026-05-01T09:00:03Z","data":{"reference":"k3v","status":"delayed"}}`: {
			Kind: Receipt, Time: at, Reference: "k3v", Status: reminder.Delayed},
		`{"type":"receipt","timestamp":"2026-05-01T09:00:03Z","data":{"reference":"k3v","status":"relayed"}}`: {
			Kind: Receipt, Time: at, Reference: "k3v", Status: reminder.Relayed},
		` {"type":"message","timestamp":"2026-05-01T09:00:03Z","data":{"from":"+441632960983","text":" Stop\n"}} `: {
			Kind: Message, Time: at, From: number, Text: " Stop\n"},
		`{"type":"message","timestamp":"2026-05-01T09:00:03Z","data":{"from":"+441632960983","text":"","reference":"k3v"}}`: {
			Kind: Message, Time: at, From: number, Reference: "k3v"},
	} {
		if got, err := ParseEvent([]byte(body)); err != nil || got != want {
			t.Errorf("%s\ngot %+v, %v", body, got, err)
		}
	}
}

func TestEventsThatAreWrongAreRefusedByField(t *testing.T) {
	const stamp = `"timestamp":"2026-05-01T09:00:03Z"`
	for body, field := range map[string]string{
		``:                     "body",
		`[]`:                   "body",
		`{`:                    "body",
		`{"type":"message"} x`: "body",
		`{"type":7}`:           "body",
		`{"type":"receipt","data":{"reference":"k3v","status":"failed"}}`:                                    "timestamp",
		`{"type":"receipt","timestamp":"yesterday","data":{"reference":"k3v","status":"failed"}}`:            "timestamp",
		`{"type":"receipt","timestamp":"0001-01-01T00:00:00Z","data":{"reference":"k3v","status":"failed"}}`: "timestamp",
		`{` + stamp + `}`:                   "type",
		`{"type":"messages",` + stamp + `}`: "type",
		`{"type":"receipt",` + stamp + `,"data":{"status":"failed"}}`:                                      "data.reference",
		`{"type":"receipt",` + stamp + `,"data":{"reference":"../x","status":"failed"}}`:                   "data.reference",
		`{"type":"receipt",` + stamp + `,"data":{"reference":"k3v"}}`:                                      "data.status",
		`{"type":"receipt",` + stamp + `,"data":{"reference":"k3v","status":"lost"}}`:                      "data.status",
		`{"type":"message",` + stamp + `,"data":{"text":"STOP"}}`:                                          "data.from",
		`{"type":"message",` + stamp + `,"data":{"from":"01632 960983","text":"STOP"}}`:                    "data.from",
		`{"type":"message",` + stamp + `,"data":{"from":"+441632960983","text":"STOP","reference":"a b"}}`: "data.reference",
		strings.Repeat(" ", mostEvent+1):                                                                   "body",
	} {
		_, err := ParseEvent([]byte(body))
		if !fault.Is(err, fault.Invalid) || !strings.HasPrefix(err.Error(), field+":") {
			t.Errorf("%.120s: got %v, want a complaint about %s", body, err, field)
		}
		if err != nil && strings.Contains(err.Error(), "960983") {
			t.Errorf("%v tells the number", err)
		}
	}
}

func FuzzParseEvent(f *testing.F) {
	f.Add([]byte(`{"type":"receipt","timestamp":"2026-05-01T11:00:03+02:00","data":{"reference":"k3v","status":"delivered"}}`))
	f.Add([]byte(`{"type":"message","timestamp":"2026-05-01T09:00:03Z","data":{"from":"+441632960983","text":"STOP"}}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		e, err := ParseEvent(body)
		if err != nil {
			if !fault.Is(err, fault.Invalid) || e != (Event{}) {
				t.Fatalf("got %+v, %v", e, err)
			}
			return
		}
		if e.Kind == Receipt && (e.Status == 0 || !isReference(e.Reference) || e.From != "") ||
			e.Kind == Message && (!isNumber(e.From) || e.Status != 0) || e.Kind == 0 || e.Time.Location() != time.UTC {
			t.Fatalf("got %+v", e)
		}
		CommandOf(e.Text)
		Segments(e.Text)
	})
}

func FuzzVerify(f *testing.F) {
	stamp := strconv.FormatInt(now.Unix(), 10)
	f.Add("evt_1", stamp, signedBy(secret, "evt_1", stamp, "{}"), []byte("{}"))
	f.Add("evt_1", stamp, "v1,AAAA v1,", []byte("{}"))
	r, err := NewReceiver(secret)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, id, stamp, signature string, body []byte) {
		if r.Verify(headers(id, stamp, signature), body, now) != nil {
			return
		}
		// What is taken bears the right signature among its words.
		want := signedBy(secret, id, stamp, string(body))
		for word := range strings.SplitSeq(signature, " ") {
			if strings.HasPrefix(word, want) {
				return
			}
		}
		t.Fatalf("%q %q %q %q is taken", id, stamp, signature, body)
	})
}
