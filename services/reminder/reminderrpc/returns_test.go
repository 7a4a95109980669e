package reminderrpc

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
)

func TestWhatComesBackIsHandedOn(t *testing.T) {
	d := newDesk(t)
	message := []byte("From: a@b.example\r\nTo: c@d.example\r\nSubject: Hello\r\n\r\nA line.\r\n")
	r, err := d.TakeReturn(t.Context(), &reminderv1.TakeReturnRequest{Recipients: []string{"returns@aldermoor.example"}, Message: message})
	if err != nil || r.GetNotice() != "" {
		t.Errorf("somebody else's mail: %v, %v", r, err)
	}
	for name, bad := range map[string]*reminderv1.TakeReturnRequest{
		"recipients": {Message: message},
		"message":    {Recipients: []string{"a@b.example"}, Message: bytes.Repeat([]byte("x"), largestReturn+1)},
		"recipients of many": {
			Recipients: slices.Repeat([]string{"a@b.example"}, mostRecipients+1), Message: message,
		},
	} {
		_, err := d.TakeReturn(t.Context(), bad)
		if f, ok := err.(*fault.Error); !ok || f.Kind != fault.Invalid || len(f.Fields) != 1 || !strings.HasPrefix(name, f.Fields[0].Name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := d.TakeTextEvent(t.Context(), &reminderv1.TakeTextEventRequest{}); !fault.Is(err, fault.Invalid) {
		t.Errorf("an event without an identifier: %v", err)
	}
}
