package schedule_test

import (
	"strings"
	"testing"

	"halfshaft/services/schedule"
)

func TestAReadingIsAskedForWhenItMayChangeADate(t *testing.T) {
	oil := schedule.Item{ID: "E01", Title: "Oil change", Every: limit(3000, 12)}
	// Driven 4,000 miles a year, now more, now less: distance comes first,
	// some time in spring.
	busy := func() *world {
		w := delivered(t, "2020-01-01", oil)
		for i, mi := range []int64{1800, 4600, 6300, 9100, 11500, 14200, 15900, 18000} {
			w.read(w.Delivered.AddDays(180*(i+1)).String(), miles(mi))
		}
		return w.done("2023-12-11", "E01")
	}
	for _, c := range []struct {
		name, on string
		prepare  func(w *world)
		cycle    string
	}{
		{"not soon after a reading", "2024-02-01", func(*world) {}, ""},
		{"when the notice is near", "2024-05-01", func(*world) {}, "READ.2023-12-11"},
		{"the same occasion a month later", "2024-06-01", func(*world) {}, "READ.2023-12-11"},
		{"not after the answer", "2024-05-20", func(w *world) { w.read("2024-05-18", miles(19400)) }, ""},
		{"not while it is laid up", "2024-05-01", func(w *world) { w.use(schedule.LaidUp, "2024-04-01", "2024-09-30") }, ""},
	} {
		w := busy()
		c.prepare(w)
		ask, ok := w.at(c.on).Ask()
		if ok != (c.cycle != "") || ask.Cycle != c.cycle {
			t.Errorf("%s: got %v %q, want %q", c.name, ok, ask.Cycle, c.cycle)
		}
		if ok && (!strings.Contains(ask.Reason.Sentence, "Oil change may be due by distance any day between ") || !strings.Contains(ask.Reason.Sentence, "2024")) {
			t.Errorf("%s: the sentence does not say it: %s", c.name, ask.Reason.Sentence)
		}
	}
	quiet := delivered(t, "2020-01-01", oil)
	for i := range int64(8) {
		quiet.read(quiet.Delivered.AddDays(int(180*(i+1))).String(), miles(150*(i+1)))
	}
	if ask, ok := quiet.done("2023-12-11", "E01").at("2024-10-20").Ask(); ok {
		t.Errorf("time decides, and still it is asked: %s", ask.Reason.Sentence)
	}
}

func TestARequestReadsWellWhateverTheTitleAndTheRange(t *testing.T) {
	for _, title := range []string{"SU damper oil", "Ölwechsel"} {
		// Some 200 miles a year, and laid up for good before 700 are likely.
		w := delivered(t, "2020-01-01", schedule.Item{ID: "E01", Title: title, Every: limit(700, 0)})
		w.read("2020-07-02", miles(100)).read("2021-01-02", miles(300)).use(schedule.LaidUp, "2022-12-01", "")
		ask, ok := w.at("2022-01-01").Ask()
		want := title + " may be due by distance any day from 1 January 2022 on, or not for years; a new reading tells."
		if !ok || ask.Reason.Sentence != want {
			t.Errorf("%v: %s, want %s", ok, ask.Reason.Sentence, want)
		}
	}
}
