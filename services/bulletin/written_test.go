package bulletin_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/bulletin"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// wrote is that a letter went out on a day.
func wrote(letter string, on vehicle.Date) bulletin.Step {
	return bulletin.Step{Kind: bulletin.StepWritten, Date: on, Letter: letter, Text: "It went out by mail.", RecordedBy: "reminder", Recorded: at(on)}
}

func TestALetterThatWentOutTellsTheOwnerAndMovesNoLetter(t *testing.T) {
	b, today := relays(false), day(2026, 11, 25)
	first, later := day(2026, 3, 10), day(2026, 4, 10)
	for _, c := range []struct {
		name  string
		steps []bulletin.Step
		state bulletin.FollowUpState
		told  vehicle.Date
		says  string
	}{
		{"a letter", []bulletin.Step{wrote("C-2026-02.1", first)}, bulletin.Notified, first, "the last letter went out on 10 March 2026"},
		{"two", []bulletin.Step{wrote("C-2026-02.1", first), wrote("C-2026-02.1-2", later)}, bulletin.Notified, first, "the last letter went out on 10 April 2026"},
		{"the second recorded first", []bulletin.Step{wrote("C-2026-02.1-2", later), wrote("C-2026-02.1", first)}, bulletin.Notified, first, "the last letter went out on 10 April 2026"},
		{"a letter, and told since", []bulletin.Step{wrote("C-2026-02.1", first), did(bulletin.StepNotified, later)}, bulletin.Notified, first, "last told on 10 April 2026"},
		{"booked meanwhile", []bulletin.Step{did(bulletin.StepRefused, first), wrote("C-2026-02.1", first)}, bulletin.Refused, first, "The owner refused"},
		{"done meanwhile", []bulletin.Step{remedied(t, later, "0.2 mm"), wrote("C-2026-02.1", first)}, bulletin.Done, first, "The remedy was carried out on 10 April 2026."},
		{"done wrong, and a letter of the round before", []bulletin.Step{remedied(t, later, "0.9 mm"), wrote("C-2026-02.1", first)}, bulletin.DoneWrong, first, "found wrong"},
		{"reopened, and a letter of the round before", []bulletin.Step{did(bulletin.StepRefused, first), did(bulletin.StepReopened, later), wrote("C-2026-02.1", first)}, bulletin.Open, first, "the owner has not been told"},
	} {
		f := record(t, entry(entered), today, c.steps...)
		st := f.Standing()
		if st.State != c.state || st.NotifiedFirst != c.told || !strings.Contains(f.Sentence(today), c.says) {
			t.Errorf("%s: state %d, told %s, %q", c.name, st.State, st.NotifiedFirst, f.Sentence(today))
		}
		var unwritten []bulletin.Step
		for _, s := range c.steps {
			if s.Kind != bulletin.StepWritten {
				unwritten = append(unwritten, s)
			}
		}
		without := record(t, entry(entered), today, unwritten...)
		for n := range 120 {
			on := entered.AddDays(n)
			with, ok := f.Tell(&b, on)
			want, wanted := without.Tell(&b, on)
			if with != want || ok != wanted {
				t.Fatalf("%s, on %s: the letter %v %v, without what was written %v %v", c.name, on, with, ok, want, wanted)
			}
		}
	}
}

func TestALetterIsRecordedOnceAndOnlyOneOfTheRounds(t *testing.T) {
	today, ready := day(2026, 11, 25), prepare(t, relays(false))
	f := record(t, entry(entered), today, wrote("C-2026-02.1", day(2026, 3, 10)))
	for name, c := range map[string]struct {
		step bulletin.Step
		kind fault.Kind
	}{
		"again":                  {wrote("C-2026-02.1", day(2026, 3, 12)), fault.AlreadyExists},
		"of a round to come":     {wrote("C-2026-02.2", day(2026, 3, 12)), fault.Invalid},
		"of another campaign":    {wrote("C-2026-03.1-2", day(2026, 3, 12)), fault.Invalid},
		"of no letter":           {wrote("", day(2026, 3, 12)), fault.Invalid},
		"of a letter none is":    {wrote("C-2026-02.1-02", day(2026, 3, 12)), fault.Invalid},
		"of the first by number": {wrote("C-2026-02.1-1", day(2026, 3, 12)), fault.Invalid},
		"of a day to come":       {wrote("C-2026-02.1-2", today.AddDays(1)), fault.Invalid},
		"before its entry":       {wrote("C-2026-02.1-2", entered.AddDays(-1)), fault.Invalid},
		"with another step": {func() bulletin.Step {
			s := did(bulletin.StepNotified, day(2026, 3, 12))
			s.Letter = "C-2026-02.1-2"
			return s
		}(), fault.Invalid},
	} {
		if _, err := f.Record(ready, c.step, today); !fault.Is(err, c.kind) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestLettersThatWentOutAreToldInReports(t *testing.T) {
	b := relays(false)
	b.Issued, b.Reported = entered, entered
	list := []bulletin.FollowUp{
		record(t, entry(entered), day(2026, 11, 25), wrote("C-2026-02.1", day(2026, 3, 10))),
		record(t, entry(entered), day(2026, 11, 25), wrote("C-2026-02.1", day(2026, 6, 10)), remedied(t, day(2026, 4, 2), "0.2 mm")),
		entry(entered),
	}
	for on, want := range map[vehicle.Date][2]int{entered: {0, 0}, day(2026, 3, 10): {1, 1}, day(2026, 6, 9): {1, 1}, day(2026, 6, 10): {2, 1}} {
		if r := bulletin.ReportOn(&b, list, on); r.Counts.Notified != want[0] || r.NotifiedBy != want[1] {
			t.Errorf("on %s: %d told, %d by %s; want %v", on, r.Counts.Notified, r.NotifiedBy, r.NotifyBy, want)
		}
	}
	q := bulletin.QuarterReport(&b, list, bulletin.Quarter{Year: 2026, Number: 2})
	if q.Counts.Notified != 2 || q.InQuarter.Notified != 1 {
		t.Errorf("the second quarter: %+v, %+v", q.Counts, q.InQuarter)
	}
	rules := map[string]int{}
	for _, m := range q.Missing {
		rules[m.Why.Rule]++
	}
	if rules["NO_ANSWER"] != 1 || rules["NOT_TOLD"] != 1 || len(q.Missing) != 2 {
		t.Errorf("missing: %v", rules)
	}
}

// issuedVersions are versions of a campaign as they were issued, a month apart,
// each changed from the one before.
func issuedVersions(changes ...func(*bulletin.Bulletin)) []*bulletin.Bulletin {
	b := relays(false)
	b.StopUse, b.HoldDelivery, b.State, b.Issued = false, false, bulletin.Issued, entered
	all := []*bulletin.Bulletin{&b}
	for i, change := range changes {
		last := all[len(all)-1]
		next := *last
		next.Remedy = slices.Clone(last.Remedy)
		last.State = bulletin.Superseded
		next.Version, next.Issued = last.Version+1, entered.AddMonths(i+1)
		change(&next)
		all = append(all, &next)
	}
	return all
}

func words(b *bulletin.Bulletin) {
	b.Title, b.Fault, b.Consequence = "Said better", "And clearer.", "And shorter."
	b.Remedy[0].Title, b.Remedy[0].Caution, b.Remedy[0].Minutes = "Fit a relay", "Mind your hands.", 120
}

func TestAVersionThatAsksMoreBeginsARoundAndOneOfOtherWordsDoesNot(t *testing.T) {
	stop := func(b *bulletin.Bulletin) { b.StopUse = true }
	drive := func(b *bulletin.Bulletin) { b.StopUse = false }
	hold := func(b *bulletin.Bulletin) { b.HoldDelivery = true }
	part := func(b *bulletin.Bulletin) {
		b.Remedy[0].Parts = []bulletin.RemedyPart{{Position: "steering-relay", Part: "AP-3010", Quantity: 1}}
	}
	separators := func(b *bulletin.Bulletin) {
		b.Remedy[0].Parts = []bulletin.RemedyPart{{Position: "steering-relay", Part: "ap 3009", Quantity: 1}}
	}
	again := func(b *bulletin.Bulletin) { b.Remedy[0].Reinspection.Days = 30 }
	today := day(2026, 9, 1)
	booked := did(bulletin.StepBooked, day(2026, 9, 10))
	booked.Recorded = at(day(2026, 3, 20))
	for _, c := range []struct {
		name    string
		changes []func(*bulletin.Bulletin)
		steps   []bulletin.Step
		says    string // "" for no round
		state   bulletin.FollowUpState
		letter  string // that is to go out
	}{
		{"one version", nil, nil, "", bulletin.Open, "C-2026-02.1-3"},
		{"other words", []func(*bulletin.Bulletin){words}, nil, "", bulletin.Open, "C-2026-02.1-3"},
		{"a part written otherwise", []func(*bulletin.Bulletin){separators}, nil, "", bulletin.Open, "C-2026-02.1-3"},
		{"stop-use", []func(*bulletin.Bulletin){stop}, nil, "By version 2 the vehicle is not to be driven before the remedy.", bulletin.Open, "C-2026-02.2"},
		{"stop-use in the version before", []func(*bulletin.Bulletin){stop, words}, nil, "By version 3 the vehicle is not to be driven before the remedy.", bulletin.Open, "C-2026-02.2"},
		{"stop-use, and taken back before anybody looked", []func(*bulletin.Bulletin){stop, drive}, nil, "", bulletin.Open, "C-2026-02.1-3"},
		{"hold and another remedy", []func(*bulletin.Bulletin){hold, part}, nil, "By version 3 it is not to leave the works before the remedy, and the remedy is another.", bulletin.Open, "C-2026-02.2"},
		{"to be looked at again sooner", []func(*bulletin.Bulletin){again}, nil, "By version 2 the remedy is another.", bulletin.Open, "C-2026-02.2"},
		{"told", []func(*bulletin.Bulletin){stop}, []bulletin.Step{wrote("C-2026-02.1", day(2026, 3, 9))}, "By version 2 the vehicle is not", bulletin.Open, "C-2026-02.2"},
		{"booked", []func(*bulletin.Bulletin){stop}, []bulletin.Step{booked}, "It was booked for 10 September 2026: agree a day anew", bulletin.Open, "C-2026-02.2"},
		{"refused", []func(*bulletin.Bulletin){stop}, []bulletin.Step{did(bulletin.StepRefused, day(2026, 3, 20))}, "By version 2", bulletin.Open, "C-2026-02.2"},
		{"exported", []func(*bulletin.Bulletin){stop}, []bulletin.Step{did(bulletin.StepExported, day(2026, 3, 20))}, "By version 2", bulletin.Exported, "C-2026-02.2"},
		{"done wrong", []func(*bulletin.Bulletin){stop}, []bulletin.Step{remedied(t, day(2026, 3, 20), "0.9 mm")}, "By version 2", bulletin.DoneWrong, "C-2026-02.3"},
		{"done wrong after the version", []func(*bulletin.Bulletin){stop}, []bulletin.Step{remedied(t, day(2026, 5, 20), "0.9 mm")}, "", bulletin.DoneWrong, "C-2026-02.2-3"},
		{"an unknown owner", []func(*bulletin.Bulletin){stop}, []bulletin.Step{did(bulletin.StepOwnerUnknown, day(2026, 3, 20))}, "By version 2", bulletin.OwnerUnknown, ""},
		{"done", []func(*bulletin.Bulletin){stop}, []bulletin.Step{remedied(t, day(2026, 3, 20), "0.2 mm")}, "", bulletin.Done, ""},
		{"in no need", []func(*bulletin.Bulletin){part}, []bulletin.Step{did(bulletin.StepNotNeeded, day(2026, 3, 20))}, "", bulletin.NotNeeded, ""},
		{"scrapped", []func(*bulletin.Bulletin){stop}, []bulletin.Step{did(bulletin.StepScrapped, day(2026, 3, 20))}, "", bulletin.Scrapped, ""},
	} {
		versions := issuedVersions(c.changes...)
		f := record(t, entry(entered), today, c.steps...)
		seen := bulletin.Seen{Versions: versions, OwnerUnknown: f.Standing().State == bulletin.OwnerUnknown}
		steps := f.Observe(seen, today, at(today))
		switch {
		case c.says == "" && len(steps) > 0, c.says != "" && (len(steps) != 1 || steps[0].Kind != bulletin.StepNewVersion || !strings.Contains(steps[0].Text, c.says)):
			t.Errorf("%s: %+v", c.name, steps)
		case len(steps) == 1 && steps[0].Evidence != versions[len(versions)-1].Name():
			t.Errorf("%s: it names %q", c.name, steps[0].Evidence)
		}
		f.Steps = append(f.Steps, steps...)
		if again := f.Observe(seen, today.AddDays(1), at(today.AddDays(1))); len(again) > 0 {
			t.Errorf("%s: a second look makes %+v", c.name, again)
		}
		l, _ := f.Tell(versions[len(versions)-1], today)
		if st := f.Standing(); st.State != c.state || l.Cycle != c.letter {
			t.Errorf("%s: it stands at %d, letter %q; want %d, %q", c.name, st.State, l.Cycle, c.state, c.letter)
		}
	}
}

func TestEachVersionThatAsksMoreBeginsARoundOfItsOwn(t *testing.T) {
	stop := func(b *bulletin.Bulletin) { b.StopUse = true }
	drive := func(b *bulletin.Bulletin) { b.StopUse = false }
	versions := issuedVersions(stop, drive, words, stop)
	f, rounds := entry(entered), []int{}
	for n := range versions {
		for _, day := range []int{0, 3} { // the pass of the day, and one later
			on := versions[n].Issued.AddDays(day)
			f.Steps = append(f.Steps, f.Observe(bulletin.Seen{Versions: versions[:n+1]}, on, at(on))...)
		}
		rounds = append(rounds, f.Standing().Round)
	}
	if want := []int{1, 2, 2, 2, 3}; !slices.Equal(rounds, want) {
		t.Errorf("rounds %v, want %v", rounds, want)
	}
}

func TestWhatWasCalledOffComesBackOnceWithAVersionThatIsForIt(t *testing.T) {
	versions := issuedVersions(words)
	versions[0].State, versions[0].WithdrawReason = bulletin.Withdrawn, "a slip"
	off, on := day(2026, 5, 1), day(2026, 6, 1)
	in, out := bulletin.Match{Serial: "AM0147P", State: bulletin.In}, bulletin.Match{Serial: "AM0147P", State: bulletin.Out}
	called := func(steps ...bulletin.Step) bulletin.FollowUp {
		f := record(t, entry(entered), off, steps...)
		f.Steps = append(f.Steps, f.Observe(bulletin.Seen{CalledOff: true, Match: &in, Versions: versions[:1]}, off, at(off))...)
		if f.Standing().State != bulletin.CalledOff {
			t.Fatalf("it stands at %d", f.Standing().State)
		}
		return f
	}
	for _, c := range []struct {
		name  string
		f     bulletin.FollowUp
		seen  bulletin.Seen
		kinds []bulletin.StepKind
	}{
		{"still withdrawn", called(), bulletin.Seen{CalledOff: true, Match: &in, Versions: versions[:1]}, nil},
		{"issued again", called(), bulletin.Seen{Match: &in, Versions: versions}, []bulletin.StepKind{bulletin.StepReopened}},
		{"issued again, for others", called(), bulletin.Seen{Match: &out, Versions: versions}, nil},
		{"issued again, and scrapped", called(), bulletin.Seen{Match: &in, Versions: versions, Scrapped: on}, nil},
		{"issued again, and exported before", called(did(bulletin.StepExported, day(2026, 4, 1))), bulletin.Seen{Match: &in, Versions: versions, Exported: day(2026, 4, 1)},
			[]bulletin.StepKind{bulletin.StepReopened, bulletin.StepExported}},
		{"issued again, of an unknown owner", called(), bulletin.Seen{Match: &in, Versions: versions, OwnerUnknown: true}, []bulletin.StepKind{bulletin.StepReopened, bulletin.StepOwnerUnknown}},
	} {
		var kinds []bulletin.StepKind
		steps := c.f.Observe(c.seen, on, at(on))
		for _, s := range steps {
			kinds = append(kinds, s.Kind)
		}
		if !slices.Equal(kinds, c.kinds) {
			t.Errorf("%s: %v, want %v", c.name, kinds, c.kinds)
		}
		c.f.Steps = append(c.f.Steps, steps...)
		if again := c.f.Observe(c.seen, on.AddDays(9), at(on.AddDays(9))); len(again) > 0 {
			t.Errorf("%s: a second look makes %+v", c.name, again)
		}
		if len(kinds) == 1 && (steps[0].Evidence != "bulletins/C-2026-02/versions/2" || !strings.Contains(steps[0].Text, "called off, and holds again")) {
			t.Errorf("%s: %+v", c.name, steps[0])
		}
	}
}

func TestSinceWhenDeliveryIsHeldBack(t *testing.T) {
	hold := func(b *bulletin.Bulletin) { b.HoldDelivery = true }
	let := func(b *bulletin.Bulletin) { b.HoldDelivery = false }
	for _, c := range []struct {
		name string
		all  []*bulletin.Bulletin
		want vehicle.Date
	}{
		{"none", nil, vehicle.Date{}},
		{"no hold", issuedVersions(words), vehicle.Date{}},
		{"from the second", issuedVersions(hold), entered.AddMonths(1)},
		{"from the second, with other words since", issuedVersions(hold, words), entered.AddMonths(1)},
		{"let go", issuedVersions(hold, let), vehicle.Date{}},
		{"let go and held again", issuedVersions(hold, let, hold), entered.AddMonths(3)},
	} {
		if got := bulletin.HoldFrom(c.all); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	all := issuedVersions(hold, words)
	all[1].State, all[1].WithdrawReason = bulletin.Withdrawn, "a slip"
	if got := bulletin.HoldFrom(all); got != entered.AddMonths(2) {
		t.Errorf("after a withdrawal: %s", got)
	}
	if all[2].State = bulletin.Withdrawn; !bulletin.HoldFrom(all).IsZero() {
		t.Errorf("withdrawn: %s", bulletin.HoldFrom(all))
	}
}
