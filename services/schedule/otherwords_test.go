package schedule_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/internal/locale"
	"halfshaft/services/reminder/reminderwords"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

// TestReasonsCanBeSaidInAnotherLanguage lets the words of notices say every
// reason of any history: a rule or a fact that they do not know is printed in
// English and marked as such.
func TestReasonsCanBeSaidInAnotherLanguage(t *testing.T) {
	words, err := reminderwords.New(aldermoor.Words())
	if err != nil {
		t.Fatal(err)
	}
	habit := locale.For("de", "de-DE", vehicle.Kilometres)
	check := func(f interface{ Fatalf(string, ...any) }, s *schedule.Schedule) (said int) {
		for i := range s.Statuses {
			st := &s.Statuses[i]
			if !st.Open() {
				continue
			}
			said++
			reasons, sentence := s.Explain(st)
			text := words.Reason(habit, "", reasons, sentence)
			if strings.Contains(text, "Englisch") || strings.ContainsAny(text, "[]") || text == "" {
				f.Fatalf("%q is said as %q: %v", sentence, text, reasons)
			}
		}
		return said
	}
	w, said := packhorse(t), 0
	for _, day := range []string{"2014-05-01", "2019-11-20", "2025-05-20", "2026-01-15"} {
		said += check(t, w.at(day))
	}
	if said < 200 {
		t.Errorf("only %d reasons were said", said)
	}
	rapid.Check(t, func(r *rapid.T) {
		v := history(r)
		var s schedule.Schedule
		s.Evaluate(everyKind(), v, v.Delivered.AddDays(rapid.IntRange(0, 5000).Draw(r, "days")))
		check(r, &s)
	})
}
