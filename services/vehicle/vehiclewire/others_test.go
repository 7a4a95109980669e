package vehiclewire_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func TestTheSerialsOfOtherVehiclesAreTakenOutOfAnAnswer(t *testing.T) {
	const own = "AM0147P"
	for _, c := range []struct{ name, text, want string }{
		{"their own", "vehicles/AM0147P/serviceEntries/x", "vehicles/AM0147P/serviceEntries/x"},
		{"a name", "vehicles/AM01058", ""},
		{"a name of a thing", "vehicles/AM01058/serviceEntries/9f3c", ""},
		{"a build", "builds/AM01058", ""},
		{"a fact", "AM01058", "another vehicle"},
		{"a sentence", "It came from AM01058, on 3 May 2024.", "It came from another vehicle, on 3 May 2024."},
		{"a name in a sentence", "See vehicles/AM01058 and builds/AM01058.", "See another vehicle and another vehicle."},
		{"both", "From AM01058 to AM0147P", "From another vehicle to AM0147P"},
		{"what only looks like one", "lot AM0999X, AM0105", "lot AM0999X, AM0105"},
		{"inside a longer word", "XAM01058Y", "XAM01058Y"},
		{"nothing", "", ""},
		{"beside letters of other scripts", "éAM01058é", "éanother vehicleé"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := &schedulev1.ItemStatus{LastDoneEntry: c.text, Reasons: []*vehiclev1.Reason{{Sentence: c.text, Facts: []*vehiclev1.Fact{{Name: "x", Value: c.text}}}},
				Item: &schedulev1.Item{Resets: []string{c.text}}}
			vehiclewire.Alone(t.Context(), own, m)
			want := &schedulev1.ItemStatus{LastDoneEntry: c.want, Reasons: []*vehiclev1.Reason{{Sentence: c.want, Facts: []*vehiclev1.Fact{{Name: "x", Value: c.want}}}},
				Item: &schedulev1.Item{Resets: []string{c.want}}}
			if !proto.Equal(m, want) {
				t.Errorf("got %v, want %v", m, want)
			}
		})
	}
}

func FuzzNoSerialOfAnotherVehicleIsLeft(f *testing.F) {
	f.Add("AM01058 AM0147P vehicles/AM01058/x")
	f.Fuzz(func(t *testing.T, text string) {
		m := &vehiclev1.Reason{Sentence: strings.ToValidUTF8(text, "")}
		vehiclewire.Alone(t.Context(), "AM0147P", m)
		for _, word := range strings.FieldsFunc(m.GetSentence(), func(r rune) bool { return (r < 'A' || r > 'Z') && (r < '0' || r > '9') }) {
			if s := vehicle.Serial(word); s.Valid() && s != "AM0147P" {
				t.Errorf("%q keeps %s", m.GetSentence(), word)
			}
		}
	})
}

// Whoever may write a text reads it again, and must not learn from it which
// serials there are.
func TestASerialIsTakenOutWhetherThereIsSuchAVehicleOrNot(t *testing.T) {
	for _, body := range []string{"AM0105", "AM0150", "AM0999", "AM9999"} {
		s, err := vehicle.NewSerial(body)
		if err != nil {
			t.Fatal(err)
		}
		m := &vehiclev1.Reason{Sentence: "Is there " + string(s) + "?"}
		vehiclewire.Alone(t.Context(), "AM0147P", m)
		if m.GetSentence() != "Is there another vehicle?" {
			t.Errorf("got %q", m.GetSentence())
		}
	}
}

// "DONE" has the check character of a serial: a rule that programs branch on
// stays as it is all the same, or an owner's page knows no reason any more.
func TestARuleIsNoSerial(t *testing.T) {
	if !vehicle.Serial("DONE").Valid() {
		t.Fatal("the word is no serial: the test shows nothing")
	}
	m := &vehiclev1.Reason{Rule: "LAST_DONE", Sentence: "It came from AM01058."}
	vehiclewire.Alone(t.Context(), "AM0147P", m)
	if m.GetRule() != "LAST_DONE" || m.GetSentence() != "It came from another vehicle." {
		t.Errorf("got %v", m)
	}
}
