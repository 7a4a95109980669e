package reminder

import (
	"slices"
	"strings"
	"testing"
	"time"
)

func TestBackOffDoublesFromFiveMinutesToSixHours(t *testing.T) {
	// common practice, no source
	want := []string{"5m0s", "10m0s", "20m0s", "40m0s", "1h20m0s", "2h40m0s", "5h20m0s", "6h0m0s", "6h0m0s"}
	var got []string
	for n := range want {
		got = append(got, pauseAfter(n+1).String())
	}
	if !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}

func TestAnAnswerMovesANotice(t *testing.T) {
	claimed := at("2026-05-18T12:00:00Z")
	n := Notice{ID: "AM0147P.E01.early.mail.p1", Serial: "AM0147P", State: Claimed, Claimed: claimed}
	later := Attempt{Outcome: TryLater, Text: "451 4.3.0 try later"}
	for _, c := range []struct {
		name   string
		n      Notice
		answer Attempt
		after  time.Duration
		want   State
		next   time.Duration // after the attempt; 0 for none
	}{
		{"accepted is sent", n, Attempt{Outcome: Accepted, Text: "250 ok"}, 0, Sent, 0},
		{"refused for good is parked", n, Attempt{Outcome: RefusedIt, Text: "550 no"}, 0, Parked, 0},
		{"try later waits", n, later, 0, Waiting, 5 * time.Minute},
		{"try later a fourth time waits longer", Notice{State: Waiting, Claimed: claimed, Attempts: 3}, later, time.Hour, Waiting, 40 * time.Minute},
		{"try later is as late as it asks", n, Attempt{Outcome: TryLater, Text: "429", RetryAfter: 2 * time.Hour}, 0, Waiting, 2 * time.Hour},
		{"and never sooner than our own pause", n, Attempt{Outcome: TryLater, Text: "429", RetryAfter: time.Second}, 0, Waiting, 5 * time.Minute},
		// RFC 5321 section 4.5.4.1: give up after 4 to 5 days at least.
		{"a second before five days it still waits", Notice{State: Waiting, Claimed: claimed, Attempts: 20}, later, 5*24*time.Hour - time.Second, Waiting, 6 * time.Hour},
		{"after five days it is parked", Notice{State: Waiting, Claimed: claimed, Attempts: 20}, later, 5 * 24 * time.Hour, Parked, 0},
		{"taken up again it has five days more", Notice{State: Waiting, Claimed: claimed, Retried: claimed.Add(9 * 24 * time.Hour), Attempts: 20}, later, 10 * 24 * time.Hour, Waiting, 6 * time.Hour},
	} {
		now := claimed.Add(c.after)
		got := c.n.After(c.answer, now)
		var next time.Time
		if c.next > 0 {
			next = now.Add(c.next)
		}
		if got.State != c.want || !got.NextAttempt.Equal(next) || got.Attempts != c.n.Attempts+1 || got.ServerAnswer != c.answer.Text {
			t.Errorf("%s: got %+v", c.name, got)
		}
	}
	parked := n.After(Attempt{Outcome: RefusedIt, Text: "550 no"}, claimed)
	again := parked.TakenUp(claimed.Add(time.Hour))
	if !again.ReadyToSend(claimed.Add(time.Hour)) || again.MayHaveArrived() {
		t.Errorf("taken up: %+v", again)
	}
	if first, second := parked.ParkedTask(1, claimed), parked.ParkedTask(2, claimed); first.ID == second.ID || !strings.HasPrefix(second.ID, parked.ID) || first.Notice != parked.ID {
		t.Errorf("got %s and %s", first.ID, second.ID)
	}
}

func TestOnlyWhatWasHandedOverWithoutAnAnswerMayHaveArrived(t *testing.T) {
	for _, c := range []struct {
		name string
		n    Notice
		want bool
	}{
		{"claimed by a process that died", Notice{State: Claimed}, true},
		{"no answer after the final dot", Notice{State: Waiting, ServerAnswer: AnswerLost}, true},
		{"the server said to come later", Notice{State: Waiting, ServerAnswer: "451 4.3.0 try later"}, false},
		{"the server was not reached", Notice{State: Waiting, ServerAnswer: "the mail server cannot be reached: no route"}, false},
		{"refused", Notice{State: Parked, ServerAnswer: "550 no"}, false},
	} {
		if got := c.n.MayHaveArrived(); got != c.want {
			t.Errorf("%s: got %v", c.name, got)
		}
	}
}

func TestTheLastLook(t *testing.T) {
	const yes, no = true, false
	for _, c := range []struct {
		name                            string
		covered                         Covered
		receiver, reachable, mayHaveArr bool
		want                            Verdict
	}{
		{"nothing changed", NothingCovered, yes, yes, no, Send},
		{"a crash left it open", NothingCovered, yes, yes, yes, Send},
		{"it is night there", NothingCovered, yes, no, no, Hold},
		{"the work was recorded", AllCovered, yes, yes, no, Withdraw},
		{"the work was recorded after a crash", AllCovered, yes, yes, yes, Silence},
		{"the work was recorded and it is night", AllCovered, yes, no, yes, Silence},
		{"a part of it was recorded: the rest is told anew", PartlyCovered, yes, yes, no, Withdraw},
		{"a part of it, after a crash: the same bytes", PartlyCovered, yes, yes, yes, Send},
		{"the person left", NothingCovered, no, yes, no, Withdraw},
		{"the person left after a crash", NothingCovered, no, yes, yes, Silence},
	} {
		if got := LastLook(c.covered, c.receiver, c.reachable, c.mayHaveArr); got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, got, c.want)
		}
	}
	n := Notice{Lines: []ToldLine{{Cycle: "a"}, {Cycle: "b"}}}
	for _, c := range []struct {
		open []Item
		want Covered
	}{
		{[]Item{{Cycle: "a", ActBy: day("2026-01-01")}, {Cycle: "b", ActBy: day("2026-01-01")}}, NothingCovered},
		{[]Item{{Cycle: "a", ActBy: day("2026-01-01")}, {Cycle: "c", ActBy: day("2026-01-01")}}, PartlyCovered},
		{[]Item{{Cycle: "a"}, {Cycle: "c", ActBy: day("2026-01-01")}}, AllCovered},
	} {
		if got := n.CoveredBy(Vehicle{Items: c.open}); got != c.want {
			t.Errorf("%v: got %v, want %v", c.open, got, c.want)
		}
	}
}

func TestAlarms(t *testing.T) {
	start := at("2026-05-18T12:00:00Z")
	var w Watch
	for _, c := range []struct {
		name string
		hour int
		pass Pass
		want int
	}{
		{"nothing to do", 0, Pass{}, 0},
		{"something to do and nothing sent", 1, Pass{Wanted: true}, 0},
		{"still nothing after 23 hours", 24, Pass{Wanted: true}, 0},
		{"nothing for a day", 25, Pass{Wanted: true}, 1},
		{"and it stays an alarm", 26, Pass{Wanted: true}, 1},
		{"one mail ends it", 27, Pass{Wanted: true, Sent: 1}, 0},
		{"a day begins anew", 28, Pass{Wanted: true}, 0},
		{"a notice of a day", 29, Pass{Oldest: start.Add(5 * time.Hour), Sent: 1}, 0},
		{"a notice of more than a day", 29, Pass{Oldest: start.Add(5*time.Hour - time.Second), Sent: 1}, 1},
	} {
		if got := w.After(c.pass, start.Add(time.Duration(c.hour)*time.Hour)); len(got) != c.want {
			t.Errorf("%s: got %v, want %d", c.name, got, c.want)
		}
	}
}
