package enquirystore

import (
	"testing"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/internal/projection"
)

// What is removed leaves the index too, with every word of it.
func TestWhatIsRemovedLeavesTheIndex(t *testing.T) {
	s := newState()
	e := enquiry.Enquiry{Serial: "AM0147P", ID: "e1", Channel: enquiry.Mail, Asker: enquiry.Buyer, Symptom: "weep"}
	n := enquiry.Note{ID: "drip", Title: "A weep", Text: "Is normal."}
	var events []projection.Event
	for key, m := range map[string]proto.Message{enquiryKey(e.Serial, e.ID): enquirywire.KeptProto(e, nil), noteKey(n.ID): enquirywire.NoteProto(n)} {
		value, err := proto.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, projection.Event{Key: key, Value: value, ModRevision: 7})
	}
	found := func() int {
		q := enquiry.Question{Text: "weep"}
		return len(s.asked.Like(q, nil)) + len(s.answers.Like(q, nil))
	}
	if err := s.Apply(events, 7); err != nil || found() != 2 {
		t.Fatalf("%d are found, %v", found(), err)
	}
	for i := range events {
		events[i].Deleted, events[i].Value, events[i].ModRevision = true, nil, 8
	}
	if err := s.Apply(events, 8); err != nil || found() != 0 {
		t.Errorf("%d are still found, %v", found(), err)
	}
}
