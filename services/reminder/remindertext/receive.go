package remindertext

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"time"

	webhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"halfshaft/services/fault"
	"halfshaft/services/reminder"
)

// tolerance is how far the time of a request may be from ours, either way.
const tolerance = 5 * time.Minute

// mostEvent bounds a request of the gateway, in bytes.
const mostEvent = 64 << 10

// Receiver proves that what arrives comes from the gateway. It is safe for
// concurrent use.
type Receiver struct{ keys []*webhooks.Webhook }

// NewReceiver takes the gateway's secrets, "whsec_" and base64: while one is
// replaced, the old and the new.
func NewReceiver(secrets ...string) (*Receiver, error) {
	if len(secrets) == 0 {
		return nil, fault.InvalidField("text.receive_secrets", "", "one secret or more")
	}
	r := &Receiver{}
	for _, s := range secrets {
		key, err := newSigner("text.receive_secrets", s)
		if err != nil {
			return nil, err
		}
		r.keys = append(r.keys, key)
	}
	return r, nil
}

// newSigner reads a secret, of which no message tells anything. The Standard
// Webhooks specification wants 24 to 64 bytes.
func newSigner(field, secret string) (*webhooks.Webhook, error) {
	coded, found := strings.CutPrefix(secret, "whsec_")
	key, err := base64.StdEncoding.DecodeString(coded)
	if !found || err != nil || len(key) < 24 || len(key) > 64 {
		return nil, fault.InvalidField(field, "something else", `"whsec_" and the base64 of 24 to 64 bytes`)
	}
	return webhooks.NewWebhookRaw(key)
}

// Verify proves a request by its signature with one of the secrets and by its
// time, which is within five minutes of now. Refusals are Unauthenticated. It
// tells no difference in how long a wrong signature takes.
func (r *Receiver) Verify(header http.Header, body []byte, now time.Time) error {
	refuse := func(reason, format string, args ...any) error {
		return fault.New(fault.Unauthenticated, reason, format, args...)
	}
	for _, name := range []string{webhooks.HeaderWebhookID, webhooks.HeaderWebhookTimestamp, webhooks.HeaderWebhookSignature} {
		if got := len(header.Values(name)); got != 1 || header.Get(name) == "" {
			return refuse("TEXT_SIGNATURE", "%s: got it %d times, want it once", name, got)
		}
	}
	stamp := header.Get(webhooks.HeaderWebhookTimestamp)
	// The library reads "+5" as 5 and signs "5"; here only the plain form is taken.
	seconds, err := strconv.ParseInt(stamp, 10, 64)
	if err != nil || strconv.FormatInt(seconds, 10) != stamp {
		return refuse("TEXT_SIGNATURE", "%s: want seconds since 1970", webhooks.HeaderWebhookTimestamp)
	}
	if off := now.Sub(time.Unix(seconds, 0)); off.Abs() > tolerance {
		return refuse("TEXT_SIGNATURE_TIME", "%s: it is %s off, at most %s is taken", webhooks.HeaderWebhookTimestamp, off.Round(time.Second), tolerance)
	}
	good := false
	for _, key := range r.keys {
		if key.VerifyIgnoringTimestamp(body, header) == nil {
			good = true
		}
	}
	if !good {
		return refuse("TEXT_SIGNATURE", "%s: no signature is right", webhooks.HeaderWebhookSignature)
	}
	return nil
}

// EventKind is what the gateway reports.
type EventKind int

// The kinds.
const (
	Receipt EventKind = iota + 1 // what became of a message of ours
	Message                      // what somebody wrote
)

// Event is one report of the gateway.
type Event struct {
	Kind      EventKind
	Time      time.Time
	Reference string              // of the message it is about; "" where a message answers none
	Status    reminder.ReturnKind // of a receipt
	From      string              // who wrote, E.164
	Text      string              // what they wrote, or the receipt's detail without numbers
}

// statuses are the words of a receipt.
var statuses = map[string]reminder.ReturnKind{
	"delivered": reminder.Delivered, // the telephone has it
	"relayed":   reminder.Relayed,   // it went on into a network that reports nothing
	"delayed":   reminder.Delayed,   // under way still
	"expired":   reminder.GivenUp,   // not in time: the telephone was off
	"failed":    reminder.Failed,    // it never will be delivered
}

// ParseEvent reads the body of a request whose signature was proved:
//
//	{"type": "receipt", "timestamp": "2026-05-01T09:00:03Z",
//	 "data": {"reference": "k3v…", "status": "delivered", "detail": "…"}}
//
//	{"type": "message", "timestamp": "2026-05-01T09:10:00Z",
//	 "data": {"from": "+441632960983", "text": "STOP", "reference": "k3v…"}}
//
// timestamp is RFC 3339. status is delivered, relayed, delayed, expired or
// failed; detail may be left out, and so may the reference of a message. Other
// fields are passed over. Refusals are Invalid, name the field, and tell
// neither number nor text.
func ParseEvent(body []byte) (Event, error) {
	if len(body) > mostEvent {
		return Event{}, fault.InvalidField("body", strconv.Itoa(len(body))+" bytes", "at most "+strconv.Itoa(mostEvent))
	}
	var in struct {
		Type      string `json:"type"`
		Timestamp string `json:"timestamp"`
		Data      struct {
			Reference string `json:"reference"`
			Status    string `json:"status"`
			Detail    string `json:"detail"`
			From      string `json:"from"`
			Text      string `json:"text"`
		} `json:"data"`
	}
	d := json.NewDecoder(bytes.NewReader(body))
	if err := d.Decode(&in); err != nil {
		return Event{}, fault.InvalidField("body", "something else", "an event as JSON")
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return Event{}, fault.InvalidField("body", "more behind the event", "one event")
	}
	at, err := time.Parse(time.RFC3339, in.Timestamp)
	if err != nil || at.Year() < 1970 || at.Year() > 9999 {
		return Event{}, fault.InvalidField("timestamp", in.Timestamp, "a time as in 2026-05-01T09:00:00Z")
	}
	e := Event{Time: at.UTC(), Reference: in.Data.Reference}
	switch in.Type {
	case "receipt":
		e.Kind, e.Status, e.Text = Receipt, statuses[in.Data.Status], clean(in.Data.Detail, "")
		if !isReference(e.Reference) {
			return Event{}, fault.InvalidField("data.reference", e.Reference, "the reference of the message")
		}
		if e.Status == 0 {
			return Event{}, fault.InvalidField("data.status", in.Data.Status, "delivered, relayed, delayed, expired or failed")
		}
	case "message":
		e.Kind, e.From, e.Text = Message, in.Data.From, in.Data.Text
		if e.Reference != "" && !isReference(e.Reference) {
			return Event{}, fault.InvalidField("data.reference", e.Reference, "the reference of a message, or nothing")
		}
		if !isNumber(e.From) {
			return Event{}, fault.InvalidField("data.from", "something else", "a number in international form")
		}
	default:
		return Event{}, fault.InvalidField("type", in.Type, "receipt or message")
	}
	return e, nil
}

var (
	// aReference is what webhook-id may be: the specification only forbids the
	// full stop.
	aReference = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)
	// e164 is a number in international form (ITU-T E.164 section 6: at most 15
	// digits).
	e164 = regexp.MustCompile(`^\+[1-9][0-9]{1,14}$`)
)

func isReference(s string) bool { return aReference.MatchString(s) }

func isNumber(s string) bool { return e164.MatchString(s) }
