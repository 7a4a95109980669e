package ownerpages_test

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/ownerpages"
)

// gateway signs with a word.
type gateway struct{}

func (gateway) Verify(header http.Header, body []byte, at time.Time) error {
	if header.Get("webhook-signature") != "v1,"+string(body) || !at.Equal(now) {
		return errors.New("no")
	}
	return nil
}

func withGateway(c *ownerpages.Config) {
	c.Text = gateway{}
	c.TextEvent = func(id string, body []byte) (*reminderv1.TakeTextEventRequest, error) {
		if string(body) == "rubbish" {
			return nil, errors.New("rubbish")
		}
		event := &reminderv1.TakeTextEventRequest{EventId: id}
		if string(body) == "STOP" {
			event.Event = &reminderv1.TakeTextEventRequest_Said{Said: &reminderv1.TextSaid{Phone: "+441632960983", Text: "STOP"}}
		}
		return event, nil
	}
}

func TestWhatTheGatewayReportsIsTakenIn(t *testing.T) {
	d, server := newDesk(t)
	address := server.URL + "/in/text"
	report := func(body, signature string) answer {
		return do(t, "POST", address, "application/json", body, "webhook-id", "msg_1", "webhook-signature", signature)
	}
	if a := report("{}", "v1,{}"); a.StatusCode != http.StatusNotFound {
		t.Errorf("without a gateway: got %d", a.StatusCode)
	}
	server.Config.Handler = handler(t, d, withGateway)
	if a := report("{}", "v1,{}"); a.StatusCode != http.StatusNoContent || len(d.events) != 1 || d.events[0].GetEventId() != "msg_1" {
		t.Errorf("got %d, %v", a.StatusCode, d.events)
	}
	for _, c := range []struct {
		name, body, signature string
		refuse                error
		want                  int
	}{
		{"a wrong signature", "{}", "v1,x", nil, http.StatusUnauthorized},
		{"no signature", "{}", "", nil, http.StatusUnauthorized},
		{"nothing that can be read", "rubbish", "v1,rubbish", nil, http.StatusBadRequest},
		{"far too long", strings.Repeat("x", 65<<10), "v1,x", nil, http.StatusRequestEntityTooLarge},
		{"a service that is away: to be sent again", "{}", "v1,{}", status503, http.StatusServiceUnavailable},
		{"a record that is not there yet: to be sent again", "{}", "v1,{}", status.Error(codes.NotFound, ""), http.StatusServiceUnavailable},
		{"a fault of ours: to be sent again", "{}", "v1,{}", status.Error(codes.Internal, ""), http.StatusServiceUnavailable},
		{"a request id of ours that was another's: to be sent again", "{}", "v1,{}", reused(), http.StatusServiceUnavailable},
		{"what never can be read", "{}", "v1,{}", status.Error(codes.InvalidArgument, ""), http.StatusBadRequest},
	} {
		d.refuse = c.refuse
		if a := report(c.body, c.signature); a.StatusCode != c.want || len(d.events) != 1 || (a.Header.Get("Retry-After") != "") != (c.want == http.StatusServiceUnavailable) {
			t.Errorf("%s: got %d, want %d; %d events", c.name, a.StatusCode, c.want, len(d.events))
		}
	}
	d.refuse, d.reply = nil, "You get no more text messages."
	var replied []string
	server.Config.Handler = handler(t, d, func(c *ownerpages.Config) {
		withGateway(c)
		c.TextReply = func(_ context.Context, report, to, text string) error {
			replied = append(replied, report+" "+to+" "+text)
			return errors.New("the line is down")
		}
	})
	// A receipt is answered to nobody; a message is, and once it is taken in it is
	// not to be reported again because of that.
	report("{}", "v1,{}")
	if a := report("STOP", "v1,STOP"); a.StatusCode != http.StatusNoContent || len(replied) != 1 || replied[0] != "msg_1 +441632960983 You get no more text messages." {
		t.Errorf("got %d, replied %q", a.StatusCode, replied)
	}
	if a := get(t, address); a.StatusCode != http.StatusNotFound {
		t.Errorf("GET: got %d", a.StatusCode)
	}
}
