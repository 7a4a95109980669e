package ownerpages

import (
	"context"
	"errors"
	"io"
	"net/http"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/internal/webguard"
)

// TextReceiver proves that a report comes from the text-message gateway.
type TextReceiver interface {
	// Verify checks the signature of a report's header and body, and that it
	// was made near the time given.
	Verify(header http.Header, body []byte, now time.Time) error
}

// maxEvent is the longest report, in bytes.
const maxEvent = 64 << 10

// webhookID is the header that says which report it is; the same again when it
// is sent again (Standard Webhooks 1.0.0, "Webhook Headers").
const webhookID = "webhook-id"

// text takes in what the gateway reports. It answers as Standard Webhooks asks:
// 2xx for what is taken in, 400 and 413 for what never can be read, and 503 with
// a Retry-After for everything that may be mended on our side: a STOP that is
// not reported again is lost.
func (p *pages) text(w http.ResponseWriter, r *http.Request) {
	if p.Text == nil || p.TextEvent == nil {
		p.tell(w, r, http.StatusNotFound, "nowhere")
		return
	}
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxEvent))
	if tooLong := new(http.MaxBytesError); errors.As(err, &tooLong) {
		http.Error(w, "The report is too long.", http.StatusRequestEntityTooLarge)
		return
	}
	if err != nil {
		notNow(w, 0)
		return
	}
	if err := p.Text.Verify(r.Header, body, p.Clock()); err != nil {
		// Only what is not signed is limited: the gateway may have much to say.
		if wait, ok := p.posts.Take(p.Proxies.Sender(r), p.Clock()); !ok {
			w.Header().Set("Retry-After", webguard.RetryAfter(wait))
			http.Error(w, "Too often.", http.StatusTooManyRequests)
			return
		}
		http.Error(w, "The signature is not right.", http.StatusUnauthorized)
		return
	}
	event, err := p.TextEvent(r.Header.Get(webhookID), body)
	if err != nil {
		http.Error(w, "The report cannot be read.", http.StatusBadRequest)
		return
	}
	taken, err := p.Reminders.TakeTextEvent(p.AsService(r.Context()), event)
	switch f := rpcerr.FromStatus(err); {
	case f == nil:
	case f.Kind == fault.Invalid && f.Reason != "REQUEST_ID_REUSED":
		p.Logger.Error("a report of the gateway cannot be used", "reason", f.Reason)
		http.Error(w, "The report cannot be used.", http.StatusBadRequest)
		return
	default:
		p.Logger.Error("a report of the gateway could not be taken in", "reason", f.Reason)
		notNow(w, f.RetryAfter)
		return
	}
	p.reply(r.Context(), event, taken.GetReply())
	w.WriteHeader(http.StatusNoContent)
}

// againAfter is the shortest time after which a report is to come again.
const againAfter = time.Minute

// notNow asks the gateway to report again.
func notNow(w http.ResponseWriter, after time.Duration) {
	w.Header().Set("Retry-After", webguard.RetryAfter(max(after, againAfter)))
	http.Error(w, "Not now.", http.StatusServiceUnavailable)
}

// reply answers somebody's text message. What they asked for is done by then,
// so that an answer that does not go out is no reason to report it again.
func (p *pages) reply(ctx context.Context, event *reminderv1.TakeTextEventRequest, text string) {
	if text == "" || event.GetSaid() == nil || p.TextReply == nil {
		return
	}
	if err := p.TextReply(ctx, event.GetEventId(), event.GetSaid().GetPhone(), text); err != nil {
		p.Logger.Error("a text message could not be answered", "error", err)
	}
}
