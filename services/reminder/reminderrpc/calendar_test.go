package reminderrpc

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/vehicle"
)

// shownEvent is what a subscriber's program remembers of an event.
type shownEvent struct {
	content  string
	sequence int32
	changed  time.Time
	live     bool
}

// TestTheNumberOfChangesRisesExactlyWhenAnEventChanges plays random calendars
// to a subscriber that remembers every event it was shown (RFC 5545 section
// 3.8.7.4: the sequence number rises with each revision; section 3.8.4.7: an
// identifier is unique and stays).
func TestTheNumberOfChangesRisesExactlyWhenAnEventChanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kept := &reminderv1.KeptCalendar{}
		seen := map[string]shownEvent{}
		at := now
		plan := randomPlan(t, vehicle.DateOf(at))
		past := [][]occasion{plan}
		for step := range rapid.IntRange(2, 12).Draw(t, "steps") {
			today := vehicle.DateOf(at)
			before := plan
			switch rapid.IntRange(0, 8).Draw(t, "what happens") {
			case 0: // nothing
			case 1:
				plan = moved(t, plan)
			case 2:
				plan = done(t, plan, today)
			case 3:
				plan = randomPlan(t, today)
			case 4:
				plan = plan[:rapid.IntRange(0, len(plan)).Draw(t, "left")]
			case 5:
				at = at.AddDate(0, 0, rapid.IntRange(1, 40).Draw(t, "days"))
			case 6: // what was planned before
				plan = past[rapid.IntRange(0, len(past)-1).Draw(t, "back to")]
			case 7: // nothing for a while
				plan = nil
			case 8:
				plan = slices.Clone(plan)
				for i := range plan {
					plan[i].booked = rapid.Bool().Draw(t, "booked")
				}
			}
			past = append(past, plan)
			today = vehicle.DateOf(at)
			events, next := following(kept, plan, "AM0147P/p1", today, at)
			if len(events) != len(plan) {
				t.Fatalf("step %d: %d events for %d occasions", step, len(events), len(plan))
			}
			for uid, e := range seen {
				e.live = false
				seen[uid] = e
			}
			now := map[string]bool{}
			for _, e := range events {
				if now[e.uid] {
					t.Fatalf("step %d: the identifier %s twice", step, e.uid)
				}
				now[e.uid] = true
			}
			lived := map[string]bool{}
			for _, k := range kept.GetEvents() {
				lived[k.GetUid()] = !k.GetGone()
			}
			for _, e := range events {
				content := fmt.Sprint(e.day, e.booked, e.summary, e.description)
				was, known := seen[e.uid]
				want := shownEvent{content, was.sequence, was.changed, true}
				switch {
				case !known:
					want.sequence, want.changed = 0, at
				case was.content != content || !lived[e.uid]:
					want.sequence, want.changed = was.sequence+1, at
				}
				if got := (shownEvent{content, e.sequence, e.changed, true}); got.sequence != want.sequence || !got.changed.Equal(want.changed) {
					t.Fatalf("step %d: event %s is number %d of %v, want %d of %v\nwas %q\nis  %q",
						step, e.uid, got.sequence, got.changed, want.sequence, want.changed, was.content, content)
				}
				seen[e.uid] = want
			}
			again, same := following(next, plan, "AM0147P/p1", today, at.Add(time.Minute))
			if !proto.Equal(next, same) || !slices.EqualFunc(events, again, func(a, b event) bool {
				return a.uid == b.uid && a.sequence == b.sequence && a.changed.Equal(b.changed) && a.day == b.day
			}) {
				t.Fatalf("step %d: read again a minute later it is another calendar", step)
			}
			keepsIdentifiers(t, kept, before, plan, events)
			kept = next
		}
	})
}

// keepsIdentifiers says that work that is in the plan before and after, alone
// with itself, stands in the same event.
func keepsIdentifiers(t *rapid.T, kept *reminderv1.KeptCalendar, before, after []occasion, events []event) {
	for _, b := range before {
		for _, a := range after {
			if !slices.Equal(a.rounds, b.rounds) {
				continue
			}
			for _, k := range kept.GetEvents() {
				for _, e := range events {
					if !k.GetGone() && slices.Equal(k.GetRounds(), b.rounds) && slices.Equal(e.rounds, a.rounds) && k.GetUid() != e.uid {
						t.Fatalf("%v was event %s and is %s", a.rounds, k.GetUid(), e.uid)
					}
				}
			}
		}
	}
}

// randomPlan is a plan of the rounds of a few items, some done together.
func randomPlan(t *rapid.T, today vehicle.Date) []occasion {
	var out []occasion
	for i := range rapid.IntRange(0, 4).Draw(t, "items") {
		cycle := today.AddDays(-rapid.IntRange(1, 300).Draw(t, "begun"))
		for round := 1; round <= rapid.IntRange(1, 3).Draw(t, "rounds"); round++ {
			day := today.AddDays(rapid.IntRange(0, 700).Draw(t, "day"))
			key := roundKey(fmt.Sprintf("I%d.%s", i, cycle), round)
			if len(out) > 0 && rapid.Bool().Draw(t, "together") {
				last := &out[len(out)-1]
				if !slices.Contains(last.rounds, key) {
					last.rounds = append(slices.Clone(last.rounds), key)
					last.summary += " and more"
				}
				continue
			}
			out = append(out, occasion{day: day, late: day == today, rounds: []string{key}, summary: key, description: "d"})
		}
	}
	return out
}

// moved puts one occasion on another day.
func moved(t *rapid.T, plan []occasion) []occasion {
	if len(plan) == 0 {
		return plan
	}
	plan = slices.Clone(plan)
	o := &plan[rapid.IntRange(0, len(plan)-1).Draw(t, "which")]
	o.day, o.late = o.day.AddDays(rapid.IntRange(-30, 30).Draw(t, "by")), false
	return plan
}

// done begins the rounds of the first occasion's items anew.
func done(t *rapid.T, plan []occasion, today vehicle.Date) []occasion {
	if len(plan) == 0 {
		return plan
	}
	out := slices.Clone(plan[1:])
	for i := range out {
		out[i].rounds = slices.Clone(out[i].rounds)
		for r := range out[i].rounds {
			out[i].rounds[r] = fmt.Sprintf("%.2s.%s#%d", out[i].rounds[r], today, i+1)
		}
		slices.Sort(out[i].rounds)
		out[i].rounds = slices.Compact(out[i].rounds)
	}
	return out
}

func TestWhatIsOverdueMovesOnceAWeek(t *testing.T) {
	kept := &reminderv1.KeptCalendar{}
	var days []vehicle.Date
	var numbers []int32
	for n := range 16 {
		at := now.AddDate(0, 0, n)
		today := vehicle.DateOf(at)
		var events []event
		events, kept = following(kept, []occasion{{day: today, late: true, rounds: []string{"E01.2025-05-01#1"}, summary: "s"}}, "o", today, at)
		days, numbers = append(days, events[0].day), append(numbers, events[0].sequence)
	}
	for n, day := range days {
		if want := vehicle.DateOf(now).AddDays(n / 7 * 7); day != want || numbers[n] != int32(n/7) {
			t.Errorf("after %d days it stands on %s as number %d, want %s and %d", n, day, numbers[n], want, n/7)
		}
	}
}

func TestAnEventOfWorkThatWasDoneGoesOnWithTheNextRound(t *testing.T) {
	first := []occasion{
		{day: today.AddDays(10), rounds: []string{"E01.2025-05-01#1"}, summary: "this year"},
		{day: today.AddDays(375), rounds: []string{"E01.2025-05-01#2"}, summary: "next year"},
	}
	events, kept := following(&reminderv1.KeptCalendar{}, first, "o", today, now)
	// The work was done today: the next round is the present one.
	after, _ := following(kept, []occasion{{day: today.AddDays(365), rounds: []string{"E01.2026-05-18#1"}, summary: "next year"}}, "o", today, now)
	if after[0].uid != events[1].uid || after[0].sequence != 1 {
		t.Errorf("got %s number %d, want that of next year, %s number 1", after[0].uid, after[0].sequence, events[1].uid)
	}
}

func TestAnIdentifierIsNeverGivenTwice(t *testing.T) {
	one, two := "E01.2025-05-01#1", "B02.2025-05-01#1"
	plan := func(rounds ...[]string) (out []occasion) {
		for _, r := range rounds {
			out = append(out, occasion{day: today.AddDays(9), rounds: r})
		}
		return out
	}
	kept := &reminderv1.KeptCalendar{}
	var events []event
	for _, p := range [][]occasion{
		plan([]string{one}), plan([]string{two, one}), plan([]string{two}), // the event of the one is that of the other now
		plan([]string{one}, []string{two}),
	} {
		events, kept = following(kept, p, "o", today, now)
	}
	if len(events) != 2 || events[0].uid == events[1].uid || len(kept.GetEvents()) != 2 {
		t.Errorf("events %+v, kept %v", events, kept)
	}
}

func TestAnEventThatComesBackIsTheOneThatWasGone(t *testing.T) {
	oil, fluid := []string{"E01.2025-05-01#1"}, []string{"E01.2024-05-01#1"} // two rounds of one item
	kept := &reminderv1.KeptCalendar{}
	first, kept := following(kept, []occasion{{day: today, rounds: oil}}, "o", today, now)
	_, kept = following(kept, nil, "o", today, now)
	other, kept := following(kept, []occasion{{day: today, rounds: fluid}}, "o", today, now)
	if other[0].uid == first[0].uid {
		t.Error("another round took the event of one that was gone")
	}
	_, kept = following(kept, nil, "o", today, now)
	back, _ := following(kept, []occasion{{day: today, rounds: oil}}, "o", today, now)
	if back[0].uid != first[0].uid || back[0].sequence != first[0].sequence+1 {
		t.Errorf("came back as %s number %d, was %s number %d", back[0].uid, back[0].sequence, first[0].uid, first[0].sequence)
	}
}

func TestAGoneEventIsForgottenInTheEnd(t *testing.T) {
	_, kept := following(&reminderv1.KeptCalendar{}, []occasion{{day: today, rounds: []string{"E01.2025-05-01#1"}}}, "o", today, now)
	_, kept = following(kept, nil, "o", today, now)
	if len(kept.GetEvents()) != 1 || !kept.GetEvents()[0].GetGone() {
		t.Fatalf("kept %v", kept)
	}
	later := now.AddDate(0, 0, keepGone)
	if _, kept = following(kept, nil, "o", vehicle.DateOf(later), later); len(kept.GetEvents()) != 0 {
		t.Errorf("kept for ever: %v", kept)
	}
}
