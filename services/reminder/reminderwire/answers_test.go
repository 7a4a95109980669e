package reminderwire

import (
	"errors"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

func TestAnAnswerIsReadAsItWasWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := reminder.Answer{
			ID: "0192f0", Serial: "AM0147P", Person: rapid.SampledFrom([]string{"", "p0031"}).Draw(t, "person"),
			Kind:   reminder.AnswerKind(rapid.IntRange(1, 3).Draw(t, "kind")),
			Cycles: rapid.SliceOfN(rapid.SampledFrom([]string{"E01.2026-05-01", "B02.2026-01-01"}), 1, 3).Draw(t, "cycles"),
			Day:    vehicle.MustDate(2026, 5, 1).AddDays(rapid.IntRange(0, 400).Draw(t, "day")), Workshop: rapid.SampledFrom([]string{"", "Harbour Garage"}).Draw(t, "workshop"),
			Note:         rapid.SampledFrom([]string{"", "ask for Jonas"}).Draw(t, "note"),
			ServiceEntry: rapid.SampledFrom([]string{"", "vehicles/AM0147P/serviceEntries/0192f0"}).Draw(t, "entry"),
			Notice:       rapid.SampledFrom([]string{"", "AM0147P.E01.2026-05-01.early.mail.p0031"}).Draw(t, "notice"),
			Created:      genTime.Draw(t, "created"), Withdrawn: genTime.Draw(t, "withdrawn"), RecordedBy: "front desk",
		}
		got, err := Answer(AnswerProto(a))
		if diff := cmp.Diff(a, got); diff != "" || err != nil {
			t.Fatalf("%v\n%s", err, diff)
		}
		a.Sealed = rapid.SampledFrom([][]byte{nil, {1, 2}}).Draw(t, "sealed")
		kept, err := KeptAnswer(KeptAnswerProto(a))
		if a.Person != "" { // their words are kept sealed or not at all
			a.Workshop, a.Note = "", ""
		}
		if diff := cmp.Diff(a, kept); diff != "" || err != nil {
			t.Fatalf("kept: %v\n%s", err, diff)
		}
	})
}

func TestTheKindsOfAnswersAreTheAPIs(t *testing.T) {
	for kind, want := range map[reminder.AnswerKind]reminderv1.AnswerKind{
		reminder.Booked: reminderv1.AnswerKind_ANSWER_KIND_BOOKED, reminder.Snoozed: reminderv1.AnswerKind_ANSWER_KIND_SNOOZED,
		reminder.Done: reminderv1.AnswerKind_ANSWER_KIND_DONE,
	} {
		if got := AnswerProto(reminder.Answer{Kind: kind}).GetKind(); got != want {
			t.Errorf("%d is written as %v", kind, got)
		}
	}
}

func TestTheUsualCadencesAreWithinTheRanges(t *testing.T) {
	for _, class := range reminder.Classes() {
		got, c, err := Cadence(CadenceProto(class, reminder.Usual(class)))
		if err != nil || got != class || c != reminder.Usual(class) {
			t.Errorf("%s: %s, %+v, %v", class, got, c, err)
		}
	}
}

func TestEachNumberOfACadenceHasItsRange(t *testing.T) {
	good := CadenceProto(reminder.Routine, reminder.Usual(reminder.Routine))
	for _, c := range []struct {
		field       string
		least, most int32
		set         func(*reminderv1.Cadence, int32)
	}{ // the ranges that reminder.proto states
		{"early_days", 0, 120, func(p *reminderv1.Cadence, n int32) { p.EarlyDays = n }},
		{"overdue_days", 1, 365, func(p *reminderv1.Cadence, n int32) { p.OverdueDays = n }},
		{"second_overdue_days", 0, 365, func(p *reminderv1.Cadence, n int32) { p.SecondOverdueDays = n }},
		{"works_days", 1, 365, func(p *reminderv1.Cadence, n int32) { p.WorksDays = n }},
		{"apart_days", 1, 90, func(p *reminderv1.Cadence, n int32) { p.ApartDays = n }},
	} {
		for _, n := range []int32{c.least - 1, c.least, c.most, c.most + 1} {
			p := proto.CloneOf(good)
			c.set(p, n)
			_, _, err := Cadence(p)
			if within := c.least <= n && n <= c.most; within != (err == nil) {
				t.Errorf("%s %d: %v", c.field, n, err)
			} else if refusal := new(fault.Error); err != nil && (!errors.As(err, &refusal) || len(refusal.Fields) != 1 || refusal.Fields[0].Name != c.field) {
				t.Errorf("%s %d: the refusal names %v", c.field, n, err)
			}
		}
	}
	if _, _, err := Cadence(&reminderv1.Cadence{Name: "cadences/weekly"}); !fault.Is(err, fault.Invalid) {
		t.Errorf("a class that is none: %v", err)
	}
}

func TestAnOptOutsNameSaysWhatItIsFor(t *testing.T) {
	for id, want := range map[string]reminder.OptOut{
		"AM0147P.p0031":             {Serial: "AM0147P", Person: "p0031", Purpose: reminder.Service},
		"AM0147P.p0031.year-letter": {Serial: "AM0147P", Person: "p0031", Purpose: reminder.YearLetter},
	} {
		got, ok := reminder.ParseOptOut(id)
		if !ok || got != want || got.ID() != id {
			t.Errorf("%s: %+v, %v", id, got, ok)
		}
	}
	for _, id := range []string{"", "AM0147P", "AM0147P.", "AM0147Q.p1", "AM0147P.p1.safety", "AM0147P.p1.", "AM0147P.p1.year-letter.x"} {
		if o, ok := reminder.ParseOptOut(id); ok {
			t.Errorf("%q reads as %+v", id, o)
		}
	}
}
