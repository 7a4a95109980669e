package schedule_test

import (
	"strings"
	"testing"

	"halfshaft/services/schedule"
)

// behind lists the explanations of the last mark, the likeliest first.
func behind(w *world) string {
	l := w.ledger()
	var found []string
	for _, e := range l.Explain(len(w.Marks) - 1) {
		found = append(found, string(e.Rule))
	}
	return strings.Join(found, " ")
}

func TestWhatMayBeBehindADoubtWhereLittleIsKnown(t *testing.T) {
	// From zero, with a dial of which nobody recorded how many digits it has: that
	// another one was put in is no likelier than with five digits, where a misread
	// digit comes first.
	w := delivered(t, "2020-01-01")
	w.Segments[0].Dial.Digits = 0
	if got := behind(w.read("2020-02-01", miles(9123))); !strings.HasPrefix(got, "DIGIT_WRONG") {
		t.Errorf("from zero: %s", got)
	}

	// A person vouched for 3,300 miles in four days, which is more than anybody
	// drives. The reading between, with a digit left out, is weighed all the same.
	w = delivered(t, "2020-01-01").read("2020-06-01", miles(400)).read("2021-06-01", miles(1500))
	w.read("2021-06-05", miles(4800))
	w.Marks[2].Settlement = &schedule.Settlement{Verdict: schedule.AsRead}
	if got := behind(w.read("2021-06-03", miles(313))); !strings.Contains(got, "DIGIT_MISSING") {
		t.Errorf("before what cannot be: %s", got)
	}
}
