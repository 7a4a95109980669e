package bulletin_test

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/bulletin"
	"halfshaft/services/vehicle"
)

func TestWhenOwnersAreWrittenTo(t *testing.T) {
	b, advice := relays(false), relays(false)
	advice.StopUse, advice.HoldDelivery = false, false
	once := advice
	once.Plan = bulletin.Plan{LetterDays: []int{3}, RepeatDays: bulletin.NoRepeat}
	monthly := b
	monthly.Plan = bulletin.Plan{LetterDays: []int{0, 10}, RepeatDays: 30}
	today := day(2029, 4, 1)
	for _, c := range []struct {
		name  string
		b     *bulletin.Bulletin
		began vehicle.Date
		steps []bulletin.Step
		on    vehicle.Date
		want  []string // those whose day has come, and the next
	}{
		{"on the first day", &b, entered, nil, entered, []string{"C-2026-02.1 2026-03-09", "C-2026-02.1-2 2026-04-08"}},
		{"the year after the third", &b, entered, nil, day(2028, 1, 1), []string{
			"C-2026-02.1 2026-03-09", "C-2026-02.1-2 2026-04-08", "C-2026-02.1-3 2026-06-07", "C-2026-02.1-4 2027-06-07", "C-2026-02.1-5 2028-06-07"}},
		{"each year on 29 February", &b, day(2027, 12, 1), nil, day(2032, 3, 1), []string{
			"C-2026-02.1 2027-12-01", "C-2026-02.1-2 2027-12-31", "C-2026-02.1-3 2028-02-29", "C-2026-02.1-4 2029-02-28", "C-2026-02.1-5 2030-02-28",
			"C-2026-02.1-6 2031-02-28", "C-2026-02.1-7 2032-02-29", "C-2026-02.1-8 2033-02-28"}},
		{"by a plan of its own", &monthly, entered, nil, day(2026, 4, 19), []string{"C-2026-02.1 2026-03-09", "C-2026-02.1-2 2026-03-19", "C-2026-02.1-3 2026-04-18", "C-2026-02.1-4 2026-05-18"}},
		{"once", &once, entered, nil, day(2027, 1, 1), []string{"C-2026-02.1 2026-03-12"}},
		{"a new round", &b, entered, []bulletin.Step{remedied(t, day(2026, 3, 20), "0.9 mm")}, day(2026, 4, 1), []string{"C-2026-02.2 2026-03-20", "C-2026-02.2-2 2026-04-19"}},
		{"done", &b, entered, []bulletin.Step{remedied(t, day(2026, 3, 20), "0.2 mm")}, day(2026, 4, 1), nil},
		{"done since, but asked of the day before", &b, entered, []bulletin.Step{remedied(t, day(2026, 3, 20), "0.2 mm")}, day(2026, 3, 19), []string{"C-2026-02.1 2026-03-09", "C-2026-02.1-2 2026-04-08"}},
		{"an unknown owner", &b, entered, []bulletin.Step{did(bulletin.StepOwnerUnknown, day(2026, 3, 20))}, day(2026, 5, 1), nil},
		{"an owner who refused, where somebody can be hurt", &b, entered, []bulletin.Step{did(bulletin.StepRefused, day(2026, 3, 20))}, day(2027, 7, 1), []string{"C-2026-02.1-4 2027-06-07", "C-2026-02.1-5 2028-06-07"}},
		{"an owner who refused, where nobody can", &advice, entered, []bulletin.Step{did(bulletin.StepRefused, day(2026, 3, 20))}, day(2027, 7, 1), nil},
		{"exported", &b, entered, []bulletin.Step{did(bulletin.StepExported, day(2026, 3, 20))}, day(2026, 7, 1), []string{"C-2026-02.1-4 2027-06-07"}},
		{"scrapped", &b, entered, []bulletin.Step{did(bulletin.StepScrapped, day(2026, 3, 20))}, day(2026, 7, 1), nil},
		{"no longer in the set", &b, entered, []bulletin.Step{{Kind: bulletin.StepNoLongerMeets, Date: day(2026, 3, 20)}}, day(2026, 7, 1), nil},
		{"at the end of the calendar", &monthly, day(9999, 12, 30), nil, day(9999, 12, 31), []string{"C-2026-02.1 9999-12-30", "C-2026-02.1-2 9999-12-31"}},
	} {
		f := entry(c.began)
		for _, s := range c.steps {
			if s.Kind == bulletin.StepNoLongerMeets {
				f.Steps = append(f.Steps, s)
				continue
			}
			f = record(t, f, today, s)
		}
		var got []string
		for _, l := range f.Letters(c.b, c.on) {
			got = append(got, l.Cycle+" "+l.Date.String())
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
}

func TestWhichLetterGoesOutOnADay(t *testing.T) {
	b := relays(false)
	booked := did(bulletin.StepBooked, day(2026, 5, 10))
	booked.Recorded = at(day(2026, 4, 20))
	far := did(bulletin.StepBooked, day(2026, 8, 1))
	far.Recorded = at(day(2026, 4, 20))
	for _, c := range []struct {
		name  string
		steps []bulletin.Step
		on    vehicle.Date
		want  string
	}{
		{"the first", nil, entered, "C-2026-02.1"},
		{"still the first, the day before the second", nil, day(2026, 4, 7), "C-2026-02.1"},
		{"the second", nil, day(2026, 4, 8), "C-2026-02.1-2"},
		{"who was forgotten gets the last alone", nil, day(2026, 6, 30), "C-2026-02.1-3"},
		{"none to whom was told of it", []bulletin.Step{did(bulletin.StepNotified, day(2026, 3, 11))}, day(2026, 4, 7), ""},
		{"the second to whom was told of the first", []bulletin.Step{did(bulletin.StepNotified, day(2026, 3, 11))}, day(2026, 4, 8), "C-2026-02.1-2"},
		{"none while a day is agreed", []bulletin.Step{booked}, day(2026, 5, 10), ""},
		{"again once it has passed", []bulletin.Step{booked}, day(2026, 5, 11), "C-2026-02.1-2"},
		{"before it was agreed", []bulletin.Step{booked}, day(2026, 4, 19), "C-2026-02.1-2"},
		{"all the same where it must not be driven and the day is far", []bulletin.Step{far}, day(2026, 7, 1), "C-2026-02.1-3"},
		{"none thirty days before it", []bulletin.Step{far}, day(2026, 7, 2), ""},
	} {
		f := entry(entered)
		f.Steps = append(f.Steps, c.steps...)
		l, ok := f.Tell(&b, c.on)
		if got := l.Cycle; ok != (c.want != "") || ok && got != c.want {
			t.Errorf("%s: got %q %v, want %q", c.name, got, ok, c.want)
		}
	}
	f := entry(entered)
	f.Steps = append(f.Steps, far)
	b.StopUse = false
	if l, ok := f.Tell(&b, day(2026, 7, 1)); ok {
		t.Errorf("%s goes out while a day is agreed, where the vehicle may be driven", l.Cycle)
	}
}

// TestHistoriesOfFollowUps holds for any history of reports and passes: rounds
// only grow, nothing that is settled is written about, a letter's name stands
// for one day of one round, and what was recorded stays.
func TestHistoriesOfFollowUps(t *testing.T) {
	b := relays(false)
	ready := prepare(t, b)
	rapid.Check(t, func(r *rapid.T) {
		f := entry(entered)
		days := map[string]vehicle.Date{}
		sent := map[string]int{}
		today := entered
		for range rapid.IntRange(1, 25).Draw(r, "events") {
			today = today.AddDays(rapid.IntRange(0, 60).Draw(r, "later"))
			before := f.Standing()
			was := slices.Clone(f.Steps)
			f = happens(t, r, f, ready, today)
			if !slices.EqualFunc(was, f.Steps[:len(was)], func(x, y bulletin.Step) bool { return fmt.Sprint(x) == fmt.Sprint(y) }) {
				r.Fatal("a step was changed")
			}
			st := f.Standing()
			if st.Round < before.Round {
				r.Fatalf("round %d after %d", st.Round, before.Round)
			}
			if then := f.StandingOn(today); then.State != st.State || then.Round != st.Round {
				r.Fatalf("on the day %+v, after all steps %+v", then, st)
			}
			if before.State.Settled() && !st.State.Settled() && st.Round == before.Round {
				r.Fatalf("%v was opened without a new round: %v", before, st)
			}
			letters := f.Letters(&b, today)
			if st.State.Settled() && len(letters) > 0 {
				r.Fatalf("settled, and written about: %v", letters)
			}
			for _, l := range letters {
				if d, known := days[l.Cycle]; known && d != l.Date {
					r.Fatalf("%s was of %v and is of %v", l.Cycle, d, l.Date)
				}
				days[l.Cycle] = l.Date
			}
			if l, ok := f.Tell(&b, today); ok { // the reminder pass claims it, and tells the service
				sent[l.Cycle]++
				if sent[l.Cycle] > 1 || l.Date.After(today) {
					r.Fatalf("%v goes out on %v for the %d. time", l, today, sent[l.Cycle])
				}
				f.Steps = append(f.Steps, did(bulletin.StepNotified, today))
			}
		}
	})
}

// happens lets one thing happen: a report of any kind, or a pass that sees the
// other records.
func happens(t *testing.T, r *rapid.T, f bulletin.FollowUp, ready *bulletin.Ready, today vehicle.Date) bulletin.FollowUp {
	if rapid.Bool().Draw(r, "pass") {
		seen := bulletin.Seen{OwnerUnknown: rapid.Bool().Draw(r, "no owner"), CalledOff: rapid.IntRange(0, 30).Draw(r, "called off") == 0}
		if rapid.IntRange(0, 9).Draw(r, "exported") == 0 {
			seen.Exported = today
		}
		seen.Match = &bulletin.Match{State: rapid.SampledFrom([]bulletin.MatchState{bulletin.In, bulletin.Unknown, bulletin.Near, bulletin.Out}).Draw(r, "match")}
		steps := f.Observe(seen, today, at(today))
		f.Steps = append(f.Steps, steps...)
		if again := f.Observe(seen, today, at(today)); len(again) > 0 {
			r.Fatalf("%+v, then the same pass again: %+v", steps, again)
		}
		return f
	}
	s := did(bulletin.StepKind(rapid.IntRange(0, 17).Draw(r, "kind")), today)
	switch s.Kind {
	case bulletin.StepBooked:
		s.Date, s.Recorded = today.AddDays(rapid.IntRange(0, 40).Draw(r, "ahead")), at(today)
	case bulletin.StepDone:
		s = remedied(t, today, rapid.SampledFrom([]string{"0.2 mm", "0.4 mm"}).Draw(r, "float"))
	}
	out, err := f.Record(ready, s, today)
	if err != nil && len(out.Steps) != len(f.Steps) {
		r.Fatal("refused, and kept")
	}
	return out
}
