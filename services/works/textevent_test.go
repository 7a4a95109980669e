package works

import (
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
)

// TestWhatTheGatewaySendsReachesTheReminderServiceWhole: a consent that a STOP
// takes back is of the time when it was written.
func TestWhatTheGatewaySendsReachesTheReminderServiceWhole(t *testing.T) {
	at := timestamppb.New(time.Date(2026, 5, 1, 9, 10, 0, 0, time.UTC))
	for body, want := range map[string]*reminderv1.TakeTextEventRequest{
		`{"type": "message", "timestamp": "2026-05-01T09:10:00Z", "data": {"from": "+441632960983", "text": "STOP"}}`: {
			EventId: "m1", Event: &reminderv1.TakeTextEventRequest_Said{Said: &reminderv1.TextSaid{Phone: "+441632960983", Text: "STOP", EventTime: at}},
		},
		`{"type": "receipt", "timestamp": "2026-05-01T10:10:00+01:00", "data": {"reference": "k3v-2", "status": "expired", "detail": "off"}}`: {
			EventId: "m1", Event: &reminderv1.TakeTextEventRequest_Receipt{
				Receipt: &reminderv1.TextReceipt{Reference: "k3v-2", Status: "expired", Detail: "off", EventTime: at},
			},
		},
	} {
		if got, err := textEvent("m1", []byte(body)); err != nil || !proto.Equal(got, want) {
			t.Errorf("%s: got %v, %v", body, got, err)
		}
	}
	if _, err := textEvent("m1", []byte("{}")); err == nil {
		t.Error("no event was taken for one")
	}
}
