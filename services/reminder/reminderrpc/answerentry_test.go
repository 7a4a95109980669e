package reminderrpc

import (
	"testing"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
)

func TestARoundThatTheEntryEndedMayStillBeSaidToBeDone(t *testing.T) {
	d := newAnswerDesk(t)
	d.town.schedules[serial1].Items[0].Cycle = "E01.2026-05-18" // the next round has begun
	d.town.entry(serial1, "other", "B02")
	d.town.entry(serial1, "this", "E01")
	d.town.entry(serial1, "out", "E01").VoidReason = "entered twice"
	d.town.entry(serial2, "theirs", "E01")
	const entries = "vehicles/" + serial1 + "/serviceEntries/"
	done := func(entry string, cycles ...string) *reminderv1.Answer {
		return &reminderv1.Answer{Kind: reminderv1.AnswerKind_ANSWER_KIND_DONE, Cycles: cycles, AnswerDate: on(today), ServiceEntry: entry}
	}
	withEntry := booked(brakes)
	withEntry.ServiceEntry = entries + "other"
	for _, c := range []struct {
		name   string
		answer *reminderv1.Answer
		field  string // that the refusal names; "" for none
	}{
		{"the round that the entry ended", done(entries+"this", oil), ""},
		{"the round that has begun since", done(entries+"this", "E01.2026-05-18"), ""},
		{"without the entry", done("", oil), "answer.cycles[0]"},
		{"an entry that is not there", done(entries+"nosuch", oil), "answer.service_entry"},
		{"an entry that was struck out", done(entries+"out", oil), "answer.service_entry"},
		{"an entry of another vehicle", done("vehicles/"+serial2+"/serviceEntries/theirs", oil), "answer.service_entry"},
		{"a round of an item that the entry is not about", done(entries+"other", oil), "answer.cycles[0]"},
		{"an open round of an item that the entry is not about", done(entries+"this", oil, brakes), "answer.cycles[1]"},
		{"a round that begins tomorrow", done(entries+"this", "E01.2026-05-19"), "answer.cycles[0]"},
		{"a round of years to come", done(entries+"this", "E01.2031-01-01"), "answer.cycles[0]"},
		{"a round of an item that the programme has not", done(entries+"this", "X99.2025-05-01"), "answer.cycles[0]"},
		{"an entry of work that is only booked", withEntry, "answer.service_entry"},
	} {
		_, err := d.CreateAnswer(d.as(t, "p1"), &reminderv1.CreateAnswerRequest{Parent: "vehicles/" + serial1, Answer: c.answer})
		f, _ := err.(*fault.Error)
		switch {
		case c.field == "" && err != nil:
			t.Errorf("%s: %v", c.name, err)
		case c.field != "" && (f == nil || f.Kind != fault.Invalid || len(f.Fields) != 1 || f.Fields[0].Name != c.field):
			t.Errorf("%s: got %v, want a refusal of %s alone", c.name, err, c.field)
		}
	}
	if _, err := d.CreateAnswer(d.as(t, "p1"), &reminderv1.CreateAnswerRequest{
		Parent: "vehicles/" + serial1, Answer: done(entries+"nosuch", "B02.2031-01-01"),
	}); err == nil {
		t.Error("a round of 2031 is silenced on the strength of an entry that is not there")
	}
}
