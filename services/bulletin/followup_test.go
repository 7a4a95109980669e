package bulletin_test

import (
	"strings"
	"testing"
	"time"

	"halfshaft/services/bulletin"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

var entered = day(2026, 3, 9)

// entry is a vehicle that came on the list of the relays.
func entry(on vehicle.Date) bulletin.FollowUp {
	b := relays(false)
	m := bulletin.Match{Serial: "AM0147P", State: bulletin.In, Reasons: []vehicle.Reason{{Rule: "SET_LISTED", Sentence: "It is on the list of the bulletin."}}}
	return b.Enter(m, on, at(on))
}

func at(d vehicle.Date) time.Time { return time.Date(d.Year, d.Month, d.Day, 9, 0, 0, 0, time.UTC) }

func quantity(t testing.TB, text string) vehicle.Quantity {
	t.Helper()
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// did is a step of somebody on a day.
func did(k bulletin.StepKind, on vehicle.Date) bulletin.Step {
	return bulletin.Step{Kind: k, Date: on, Text: "seen at the bench", RecordedBy: "staff", Recorded: at(on)}
}

// remedied is the remedy with all its evidence.
func remedied(t testing.TB, on vehicle.Date, float string) bulletin.Step {
	s := did(bulletin.StepDone, on)
	s.Evidence = "vehicles/AM0147P/serviceEntries/e1"
	s.Parts = []bulletin.PartUsed{{Part: "ap 3009", Lot: "M1"}}
	s.Measured = []bulletin.Measurement{{Characteristic: "end-float", Value: quantity(t, float)}}
	return s
}

func record(t testing.TB, f bulletin.FollowUp, today vehicle.Date, steps ...bulletin.Step) bulletin.FollowUp {
	t.Helper()
	ready := prepare(t, relays(false))
	for _, s := range steps {
		next, err := f.Record(ready, s, today)
		if err != nil {
			t.Fatal(err)
		}
		f = next
	}
	return f
}

func TestWhereAVehicleOfACampaignStands(t *testing.T) {
	today := day(2026, 11, 25)
	booked := did(bulletin.StepBooked, day(2026, 12, 1))
	booked.Recorded = at(day(2026, 4, 10))
	type steps []bulletin.Step
	for _, c := range []struct {
		name  string
		steps steps
		want  bulletin.FollowUpState
		round int
		says  string
	}{
		{"entered", nil, bulletin.Open, 1, "Open since 9 March 2026; the owner has not been told."},
		{"told", steps{did(bulletin.StepNotified, day(2026, 3, 20))}, bulletin.Notified, 1, "the owner was last told on 20 March 2026"},
		{"told twice", steps{did(bulletin.StepNotified, day(2026, 3, 20)), did(bulletin.StepNotified, day(2026, 4, 20))}, bulletin.Notified, 1, "last told on 20 April 2026"},
		{"booked", steps{booked}, bulletin.Booked, 1, "It is booked for 1 December 2026."},
		{"done", steps{booked, remedied(t, day(2026, 5, 2), "0.2 mm")}, bulletin.Done, 1, "The remedy was carried out on 2 May 2026."},
		{"done before the bulletin", steps{remedied(t, day(2026, 1, 2), "0.2 mm")}, bulletin.Done, 1, "carried out on 2 January 2026."},
		{"done, and looked at again", steps{remedied(t, day(2026, 5, 2), "0.2 mm"), did(bulletin.StepReinspected, day(2026, 9, 2))}, bulletin.Done, 1, "and was looked at again on 2 September 2026."},
		{"done wrong by its own evidence", steps{remedied(t, day(2026, 5, 2), "0.4 mm")}, bulletin.DoneWrong, 2, "The work was found wrong on 2 May 2026: it is open again. This is round 2."},
		{"done, and found wrong", steps{remedied(t, day(2026, 5, 2), "0.2 mm"), did(bulletin.StepFoundWrong, day(2026, 6, 1))}, bulletin.DoneWrong, 2, "found wrong on 1 June 2026"},
		{"and done again", steps{remedied(t, day(2026, 5, 2), "0.2 mm"), did(bulletin.StepFoundWrong, day(2026, 6, 1)), remedied(t, day(2026, 6, 1), "0.2 mm")}, bulletin.Done, 2, "carried out on 1 June 2026."},
		{"looked at, without need", steps{did(bulletin.StepNotNeeded, day(2026, 5, 2))}, bulletin.NotNeeded, 1, "needs no remedy"},
		{"the part not there", steps{did(bulletin.StepPartNotThere, day(2026, 5, 2))}, bulletin.NotNeeded, 1, "needs no remedy"},
		{"refused", steps{did(bulletin.StepRefused, day(2026, 5, 2))}, bulletin.Refused, 1, "The owner refused on 2 May 2026."},
		{"refused, and willing", steps{did(bulletin.StepRefused, day(2026, 5, 2)), did(bulletin.StepReopened, day(2026, 7, 2))}, bulletin.Open, 2, "This is round 2."},
		{"nobody knows whose", steps{did(bulletin.StepOwnerUnknown, day(2026, 5, 2))}, bulletin.OwnerUnknown, 1, "Nobody knows whose it is since 2 May 2026."},
		{"a vehicle of an unknown owner that a dealer put right", steps{did(bulletin.StepOwnerUnknown, day(2026, 5, 2)), remedied(t, day(2026, 6, 2), "0.2 mm")}, bulletin.Done, 1, ""},
		{"exported", steps{did(bulletin.StepExported, day(2026, 5, 2))}, bulletin.Exported, 1, "left the country"},
		{"scrapped", steps{did(bulletin.StepScrapped, day(2026, 5, 2))}, bulletin.Scrapped, 1, "scrapped"},
	} {
		f := record(t, entry(entered), today, c.steps...)
		st := f.Standing()
		if st.State != c.want || st.Round != c.round || !strings.Contains(f.Sentence(today), c.says) {
			t.Errorf("%s: state %d, round %d, %q; want %d, %d, %q", c.name, st.State, st.Round, f.Sentence(today), c.want, c.round, c.says)
		}
		if before := f.StandingOn(entered.AddDays(-1)); before.State != bulletin.NoFollowUpState {
			t.Errorf("%s: it stood at %d before it came on the list", c.name, before.State)
		}
		if then := f.StandingOn(today); then != st {
			t.Errorf("%s: on the day %+v, after all steps %+v", c.name, then, st)
		}
	}
}

func TestWhatIsRefusedOfAStep(t *testing.T) {
	today := day(2026, 11, 25)
	without := func(change func(*bulletin.Step)) bulletin.Step {
		s := remedied(t, day(2026, 5, 2), "0.2 mm")
		change(&s)
		return s
	}
	done := []bulletin.Step{remedied(t, day(2026, 5, 2), "0.2 mm")}
	wrong := append(done, did(bulletin.StepFoundWrong, day(2026, 6, 1)))
	for _, c := range []struct {
		name   string
		before []bulletin.Step
		step   bulletin.Step
		kind   fault.Kind
		says   string
	}{
		{"a remedy without its entry", nil, without(func(s *bulletin.Step) { s.Evidence = "" }), fault.Invalid, "step.service_entry: got nothing"},
		{"a remedy without its part", nil, without(func(s *bulletin.Step) { s.Parts = nil }), fault.Invalid, `step.parts: got "0 of AP-3009", want 1, as the remedy of C1 asks`},
		{"a part without its lot", nil, without(func(s *bulletin.Step) { s.Parts[0].Lot = " " }), fault.Invalid, "step.parts[0].lot"},
		{"a remedy that was not measured", nil, without(func(s *bulletin.Step) { s.Measured = nil }), fault.Invalid, "end-float in mm"},
		{"a value in another unit", nil, without(func(s *bulletin.Step) { s.Measured[0].Value = quantity(t, "0.2 in") }), fault.Invalid, "end-float in mm"},
		{"everything at once", nil, bulletin.Step{Kind: bulletin.StepDone}, fault.Invalid, "step.step_date: got nothing, want the day it happened; step.service_entry"},
		{"tomorrow's remedy", nil, remedied(t, today.AddDays(1), "0.2 mm"), fault.Invalid, "not after 2026-11-25"},
		{"yesterday's booking", nil, did(bulletin.StepBooked, today.AddDays(-1)), fault.Invalid, "not before 2026-11-25"},
		{"a letter before the list", nil, did(bulletin.StepNotified, entered.AddDays(-1)), fault.Invalid, "not before 2026-03-09"},
		{"the same remedy again, once it was found wrong", wrong, remedied(t, day(2026, 5, 31), "0.2 mm"), fault.Invalid, "not before 2026-06-01"},
		{"a refusal without words", nil, bulletin.Step{Kind: bulletin.StepRefused, Date: today}, fault.Invalid, "step.text"},
		{"an entry on the list", nil, did(bulletin.StepEntered, today), fault.Invalid, "step.kind"},
		{"a calling-off", nil, did(bulletin.StepCalledOff, today), fault.Invalid, "step.kind"},
		{"no kind", nil, did(0, today), fault.Invalid, "step.kind"},
		{"a refusal of what is done", done, did(bulletin.StepRefused, today), fault.FailedPrecondition, "A refusal cannot be recorded now. The remedy was carried out on 2 May 2026."},
		{"a remedy of what is done", done, done[0], fault.FailedPrecondition, "cannot be recorded now"},
		{"wrong work before any", nil, did(bulletin.StepFoundWrong, today), fault.FailedPrecondition, "cannot be recorded now"},
		{"another look before any", nil, did(bulletin.StepReinspected, today), fault.FailedPrecondition, "cannot be recorded now"},
		{"wrong work from before it was done", done, did(bulletin.StepFoundWrong, day(2026, 5, 1)), fault.Invalid, "not before 2026-05-02"},
	} {
		f := record(t, entry(entered), today, c.before...)
		n := len(f.Steps)
		got, err := f.Record(prepare(t, relays(false)), c.step, today)
		if !fault.Is(err, c.kind) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want %q", c.name, err, c.says)
		}
		if len(got.Steps) != n || len(f.Steps) != n {
			t.Errorf("%s: a step was kept none the less", c.name)
		}
	}
}

func TestAPartOfTheCondemnedLotIsNoRemedy(t *testing.T) {
	s := remedied(t, day(2026, 5, 2), "0.2 mm")
	s.Parts = append(s.Parts, bulletin.PartUsed{Part: "AP-3001", Lot: "L-07", Position: "steering-relay"})
	f := record(t, entry(entered), day(2026, 11, 25), s)
	last := f.Steps[len(f.Steps)-1]
	if f.Standing().State != bulletin.DoneWrong || !strings.Contains(last.Text, "AP-3001 of lot L-07 is one of those that the bulletin is about.") {
		t.Errorf("got %+v", last)
	}
}

func TestWhatOtherRecordsSayIsRecordedOnce(t *testing.T) {
	today := day(2026, 11, 25)
	in, out := &bulletin.Match{State: bulletin.In}, &bulletin.Match{State: bulletin.Near, Reasons: []vehicle.Reason{{Sentence: "It moved."}}}
	cured := &bulletin.Match{State: bulletin.In, Cure: &bulletin.Cure{Date: day(2026, 5, 1), Record: "builds/AM0147P/changes/c4"}}
	letters := did(bulletin.StepOwnerUnknown, day(2026, 6, 1)) // they came back, as staff found
	for _, c := range []struct {
		name   string
		before []bulletin.Step
		seen   bulletin.Seen
		want   []bulletin.StepKind
		state  bulletin.FollowUpState
	}{
		{"nothing new", nil, bulletin.Seen{Match: in}, nil, bulletin.Open},
		{"no owner", nil, bulletin.Seen{OwnerUnknown: true}, []bulletin.StepKind{bulletin.StepOwnerUnknown}, bulletin.OwnerUnknown},
		{"scrapped before anything else", nil, bulletin.Seen{OwnerUnknown: true, Exported: today, Scrapped: today}, []bulletin.StepKind{bulletin.StepScrapped}, bulletin.Scrapped},
		{"to be scrapped tomorrow", nil, bulletin.Seen{Scrapped: today.AddDays(1)}, nil, bulletin.Open},
		{"exported", nil, bulletin.Seen{Exported: today}, []bulletin.StepKind{bulletin.StepExported}, bulletin.Exported},
		{"called off", nil, bulletin.Seen{CalledOff: true}, []bulletin.StepKind{bulletin.StepCalledOff}, bulletin.CalledOff},
		{"called off, but done", []bulletin.Step{remedied(t, day(2026, 5, 2), "0.2 mm")}, bulletin.Seen{CalledOff: true}, nil, bulletin.Done},
		{"out of the set", nil, bulletin.Seen{Match: out}, []bulletin.StepKind{bulletin.StepNoLongerMeets}, bulletin.Open},
		{"the remedy in the build record", nil, bulletin.Seen{Match: cured}, []bulletin.StepKind{bulletin.StepDone}, bulletin.Done},
		{"a remedy from before it was found wrong", []bulletin.Step{remedied(t, day(2026, 5, 2), "0.2 mm"), did(bulletin.StepFoundWrong, day(2026, 6, 1))},
			bulletin.Seen{Match: cured}, nil, bulletin.DoneWrong},
		{"an owner on record whose letters came back", []bulletin.Step{letters}, bulletin.Seen{}, nil, bulletin.OwnerUnknown},
		{"a new owner since", []bulletin.Step{letters}, bulletin.Seen{OwnerSince: day(2026, 6, 2)}, []bulletin.StepKind{bulletin.StepReopened}, bulletin.Open},
		{"a new owner of a vehicle whose last one refused", []bulletin.Step{did(bulletin.StepRefused, day(2026, 6, 1))}, bulletin.Seen{OwnerSince: day(2026, 7, 2)}, []bulletin.StepKind{bulletin.StepReopened}, bulletin.Open},
		{"the owner who refused", []bulletin.Step{did(bulletin.StepRefused, day(2026, 6, 1))}, bulletin.Seen{OwnerSince: day(2020, 7, 2)}, nil, bulletin.Refused},
	} {
		f := record(t, entry(entered), today, c.before...)
		steps := f.Observe(c.seen, today, at(today))
		var got []bulletin.StepKind
		for _, s := range steps {
			got = append(got, s.Kind)
		}
		f.Steps = append(f.Steps, steps...)
		if len(got) != len(c.want) || len(got) > 0 && got[0] != c.want[0] || f.Standing().State != c.state {
			t.Errorf("%s: got %v and state %d, want %v and %d", c.name, got, f.Standing().State, c.want, c.state)
		}
		if again := f.Observe(c.seen, today, at(today)); len(again) > 0 {
			t.Errorf("%s: the next pass records %+v once more", c.name, again)
		}
	}
	f := entry(entered)
	for i, seen := range []bulletin.Seen{{OwnerUnknown: true}, {}, {OwnerUnknown: true}, {}} {
		f.Steps = append(f.Steps, f.Observe(seen, entered.AddDays(10*(i+1)), at(entered.AddDays(10*(i+1))))...)
	}
	if st := f.Standing(); st.State != bulletin.Open || st.Round != 3 || st.RoundBegan != entered.AddDays(40) {
		t.Errorf("an owner who is lost and found twice: %+v", st)
	}
}

func TestALookAgainIsDueAfterTheRemedy(t *testing.T) {
	b := relays(false)
	b.Remedy = append(b.Remedy, bulletin.RemedyItem{ID: "C2", Reinspection: bulletin.Reinspection{Days: 30}})
	f := record(t, entry(entered), day(2026, 11, 25), remedied(t, day(2026, 5, 2), "0.2 mm"))
	by, after := f.Reinspection(&b)
	if by != day(2026, 6, 1) || after != 1_000*vehicle.Mile {
		t.Errorf("got %v and %s", by, after.Text(vehicle.Miles))
	}
	f = record(t, f, day(2026, 11, 25), did(bulletin.StepReinspected, day(2026, 6, 1)))
	if by, after = f.Reinspection(&b); !by.IsZero() || after != 0 {
		t.Errorf("after the look: %v and %v", by, after)
	}
	open := entry(entered)
	if by, after = open.Reinspection(&b); !by.IsZero() || after != 0 {
		t.Errorf("before the remedy: %v and %v", by, after)
	}
}
