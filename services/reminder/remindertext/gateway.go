// Package remindertext sends text messages through the operator's gateway and
// reads what the gateway reports.
//
// A message is one POST of JSON to the operator's address:
//
//	{
//	  "type": "message.send",
//	  "timestamp": "2026-05-01T09:00:00Z",
//	  "data": {"reference": "k3v…", "to": "+441632960983", "text": "…"}
//	}
//
// signed as the Standard Webhooks specification says: the headers webhook-id
// (the reference), webhook-timestamp and webhook-signature. The same reference
// always carries the same text, so that a gateway that saw it does not send it
// twice. What the gateway reports comes back in the same form: see ParseEvent.
package remindertext

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptrace"
	"strconv"
	"sync/atomic"
	"time"

	webhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"

	"halfshaft/services/fault"
	"halfshaft/services/internal/outgoing"
	"halfshaft/services/reminder"
)

// Config is the operator's gateway.
type Config struct {
	URL    string // "https://gateway.aldermoor.example/send"
	Secret string // "whsec_" and base64: signs what is sent
	// AllowPrivate names what may be reached though it is not public: hosts
	// ("gateway.lan"), which may then be private addresses or this machine, and
	// ranges ("10.1.0.0/16"). A host that is this machine and is named here may
	// be reached without encryption.
	AllowPrivate []string
	Timeout      time.Duration    // for connecting, sending and the answer; 0 is 30 s
	TLS          *tls.Config      // nil: the system's trust
	Clock        func() time.Time // dates the messages
}

// Gateway hands text messages to one gateway. It is safe for concurrent use.
type Gateway struct {
	url    string
	signer *webhooks.Webhook
	client *outgoing.Client
	clock  func() time.Time
}

const standardTimeout = 30 * time.Second

// New checks the settings. What may be reached, and how, package outgoing says.
func New(c Config) (*Gateway, error) {
	if c.Clock == nil {
		return nil, fault.InvalidField("text.clock", "", "a clock")
	}
	timeout := c.Timeout
	if timeout == 0 {
		timeout = standardTimeout
	}
	client, err := outgoing.New(outgoing.Config{
		Allow: c.AllowPrivate, Setting: "text.allow_private", Whole: timeout, Step: timeout, TLS: c.TLS,
	})
	if err != nil {
		return nil, err
	}
	u, err := client.Check("text.url", c.URL)
	if err != nil {
		return nil, err
	}
	signer, err := newSigner("text.secret", c.Secret)
	if err != nil {
		return nil, err
	}
	return &Gateway{url: u.String(), signer: signer, clock: c.Clock, client: client}, nil
}

// envelope is a message as the gateway gets it.
type envelope struct {
	Type      string       `json:"type"`
	Timestamp string       `json:"timestamp"`
	Data      envelopeData `json:"data"`
}

type envelopeData struct {
	Reference string `json:"reference"`
	To        string `json:"to"`
	Text      string `json:"text"`
}

// Send hands over one text message: to is a number in E.164 form. It always
// has an answer; a context that ends is TryLater, and AnswerLost when that was
// after the message was handed over.
func (g *Gateway) Send(ctx context.Context, reference, to, text string) reminder.Attempt {
	now := g.clock()
	switch {
	case !isReference(reference):
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "the notice has no usable reference"}
	case !isNumber(to):
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "the number is not in international form"}
	case text == "":
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "the message is empty"}
	}
	body, err := json.Marshal(envelope{"message.send", now.UTC().Format(time.RFC3339), envelopeData{reference, to, text}})
	if err != nil {
		return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "the message cannot be written as JSON"}
	}
	var written atomic.Bool
	ctx = httptrace.WithClientTrace(ctx, &httptrace.ClientTrace{
		WroteRequest: func(i httptrace.WroteRequestInfo) {
			if i.Err == nil {
				written.Store(true)
			}
		},
	})
	request, err := g.request(ctx, reference, body, now)
	if err != nil {
		return reminder.Attempt{Outcome: reminder.TryLater, Text: "the message cannot be signed"}
	}
	response, err := g.client.Do(request)
	if err != nil {
		if written.Load() {
			return reminder.Attempt{Outcome: reminder.TryLater, Text: reminder.AnswerLost}
		}
		return reminder.Attempt{Outcome: reminder.TryLater, Text: clean("the gateway cannot be reached: "+outgoing.Reason(err).Error(), text)}
	}
	defer response.Body.Close()
	// What cannot be read of the words changes nothing: the status has come.
	words, _ := io.ReadAll(io.LimitReader(response.Body, mostBody))
	return reminder.Attempt{
		Outcome:    outcomeOf(response.StatusCode),
		Text:       clean(strconv.Itoa(response.StatusCode)+" "+string(words), text),
		RetryAfter: retryAfter(response, now),
	}
}

func (g *Gateway) request(ctx context.Context, reference string, body []byte, now time.Time) (*http.Request, error) {
	signature, err := g.signer.Sign(reference, now, body)
	if err != nil {
		return nil, err
	}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, g.url, bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	r.Header.Set("Content-Type", "application/json")
	r.Header.Set("User-Agent", "halfshaft")
	r.Header.Set(webhooks.HeaderWebhookID, reference)
	r.Header.Set(webhooks.HeaderWebhookTimestamp, strconv.FormatInt(now.Unix(), 10))
	r.Header.Set(webhooks.HeaderWebhookSignature, signature)
	// The reference makes it safe to send again, but that is for our own
	// back-off to decide: without a way to read the body twice, net/http does
	// not try a second connection by itself.
	r.GetBody = nil
	return r, nil
}
