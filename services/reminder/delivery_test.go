package reminder

import (
	"cmp"
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
	for _, c := range []struct {
		channel      Channel
		before, want string
	}{{Text, "k3v", "k3v-2"}, {Text, "k3v-2", "k3v-3"}, {Text, "k3v-9", "k3v-10"}, {Text, "", ""}, {Mail, "k3v", "k3v"}, {Letter, "k3v", "k3v"}} {
		parked.Channel, parked.Reference = c.channel, c.before
		if got := parked.TakenUp(claimed).Reference; got != c.want {
			t.Errorf("by %s after %q: the reference %q, want %q", c.channel, c.before, got, c.want)
		}
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
		{"a letter that waits to be printed", Notice{Channel: Letter, State: Claimed}, false},
		{"a letter that was printed", Notice{Channel: Letter, State: Claimed, Printed: at("2027-05-01T12:00:00Z")}, true},
		{"a printed letter taken up again", Notice{Channel: Letter, State: Waiting, ServerAnswer: "no window", Printed: at("2027-05-01T12:00:00Z")}, true},
		{"a letter that was posted unprinted", Notice{Channel: Letter, State: Sent}, true},
	} {
		if got := c.n.MayHaveArrived(); got != c.want {
			t.Errorf("%s: got %v", c.name, got)
		}
	}
}

func TestTheLastLook(t *testing.T) {
	const yes, no = true, false
	ab := Vehicle{Serial: "AM0147P", Items: []Item{{Cycle: "a", ActBy: day("2027-05-01")}, {Cycle: "b", ActBy: day("2027-05-01")}}}
	with := func(change func(c *Case)) Case {
		c := Case{Vehicle: ab, People: []Recipient{margaret}, Now: at("2027-05-01T12:00:00Z")}
		c.Vehicle.Items = slices.Clone(ab.Items)
		change(&c)
		return c
	}
	done := func(left ...Item) func(c *Case) { return func(c *Case) { c.Vehicle.Items = left } }
	owner := func(change func(r *Recipient)) func(c *Case) {
		return func(c *Case) { r := margaret; change(&r); c.People = []Recipient{r} }
	}
	answered := func(cycles ...string) func(c *Case) {
		return func(c *Case) { c.Answers = []Answer{{Kind: Snoozed, Cycles: cycles, Day: day("2027-05-02")}} }
	}
	notice := Notice{Serial: "AM0147P", Person: margaret.Person, Channel: Mail, Lines: []ToldLine{{Cycle: "a", Stage: Early}, {Cycle: "b", Stage: Early}}}
	told := func(a, b Claim) func(c *Case) {
		return func(c *Case) {
			for cycle, claim := range map[string]Claim{"a": a, "b": b} {
				claim.Cycle, claim.Channel, claim.Notice = cycle, Text, "later"
				claim.Person = cmp.Or(claim.Person, margaret.Person)
				c.Claims = append(c.Claims, claim)
			}
		}
	}
	due := Claim{Stage: Due}
	safety, letter, year := notice, notice, notice
	letter.Channel, year.Purpose = Letter, YearLetter
	safety.Purpose, safety.Lines = Safety, []ToldLine{{Cycle: "C-2026-02.1", Stage: Due}}
	campaign := func(change func(c *Case, i *Campaign)) Case {
		i := Item{ID: "C-2026-02", Cycle: "C-2026-02.1", ActBy: day("2027-04-20"), Campaign: &Campaign{Round: 1, Letter: 1}}
		return with(func(c *Case) {
			change(c, i.Campaign)
			if !c.Unasked {
				c.Vehicle.Items = append(slices.Clone(c.Vehicle.Items), i)
			}
			c.People = slices.Clone(c.People)
			for n := range c.People {
				c.People[n].Safety = []Channel{Mail, Letter}
			}
		})
	}
	onPaper := safety
	onPaper.Channel = Letter
	for _, c := range []struct {
		name           string
		c              Case
		n              Notice
		mayHaveArrived bool
		want           Verdict
	}{
		{"nothing changed", with(func(*Case) {}), notice, no, Send},
		{"a crash left it open", with(func(*Case) {}), notice, yes, Send},
		{"it is night there", with(func(c *Case) { c.Now = at("2027-05-01T03:00:00Z") }), notice, no, Hold},
		{"at night a letter may go", with(func(c *Case) { c.Now = at("2027-05-01T03:00:00Z") }), letter, no, Send},
		{"the work was recorded", with(done()), notice, no, Withdraw},
		{"the next round began", with(done(Item{Cycle: "c", ActBy: day("2028-05-01")})), notice, no, Withdraw},
		{"there is nothing to do any more", with(done(Item{Cycle: "a"}, Item{Cycle: "b"})), notice, no, Withdraw},
		{"the work was recorded after a crash", with(done()), notice, yes, Silence},
		{"the work was recorded and it is night", with(func(c *Case) { c.Vehicle.Items = nil; c.Now = at("2027-05-01T03:00:00Z") }), notice, yes, Silence},
		{"a part of it was recorded: the rest is told anew", with(done(ab.Items[0])), notice, no, Withdraw},
		{"a part of it, after a crash: the same bytes", with(done(ab.Items[0])), notice, yes, Send},
		{"it was put off", with(answered("a", "b")), notice, no, Withdraw},
		{"a part of it was put off", with(answered("b")), notice, no, Withdraw},
		{"another round was put off", with(answered("c")), notice, no, Send},
		{"it was put off after a crash", with(answered("a", "b")), notice, yes, Silence},
		{"the person left", with(func(c *Case) { c.People = nil }), notice, no, Withdraw},
		{"the person left after a crash", with(func(c *Case) { c.People = nil }), notice, yes, Silence},
		{"the person died", with(owner(func(r *Recipient) { r.Deceased = true })), notice, no, Withdraw},
		{"the person died, also for safety", with(owner(func(r *Recipient) { r.Deceased = true })), safety, no, Withdraw},
		{"the vehicle was scrapped", with(func(c *Case) { c.Vehicle.Scrapped = true }), safety, yes, Silence},
		{"the person opted out", with(func(c *Case) { c.OptOuts = map[string]bool{margaret.Person: true} }), notice, no, Withdraw},
		{"which does not stop safety", campaign(func(c *Case, _ *Campaign) { c.OptOuts = map[string]bool{margaret.Person: true} }), safety, no, Send},
		{"nor does an answer, to the same letter either", campaign(func(c *Case, _ *Campaign) { answered("a", "b", "C-2026-02.1")(c) }), safety, no, Send},
		{"nor a lay-up", campaign(func(c *Case, _ *Campaign) { c.Vehicle.LayUpFrom = day("2027-04-01") }), safety, no, Send},
		{"nor that every consent was taken back", campaign(func(c *Case, _ *Campaign) { owner(func(r *Recipient) { r.Refused, r.Ways = true, nil })(c) }), safety, no, Send},
		{"the remedy was carried out", with(func(*Case) {}), safety, no, Withdraw},
		{"the remedy was carried out after a crash", with(func(*Case) {}), safety, yes, Silence},
		{"a day was agreed for the remedy", campaign(func(_ *Case, i *Campaign) { i.Booked = day("2027-05-01") }), safety, no, Withdraw},
		{"a day that was agreed has passed", campaign(func(_ *Case, i *Campaign) { i.Booked = day("2027-04-30") }), safety, no, Send},
		{"the owner was told on the telephone", campaign(func(_ *Case, i *Campaign) { i.Notified = day("2027-04-21") }), safety, no, Withdraw},
		{"the owner before was", campaign(func(c *Case, i *Campaign) {
			i.Notified = day("2027-04-21")
			owner(func(r *Recipient) { r.Since = day("2027-04-25") })(c)
		}), safety, no, Send},
		{"whether it is open cannot be asked", campaign(func(c *Case, _ *Campaign) { c.Unasked = true }), safety, no, Hold},
		{"nor for a letter on paper", campaign(func(c *Case, _ *Campaign) { c.Unasked = true }), onPaper, yes, Hold},
		{"which keeps other notices from nothing", with(func(c *Case) { c.Unasked = true }), notice, no, Send},
		{"the person left, and campaigns cannot be asked", campaign(func(c *Case, _ *Campaign) { c.Unasked, c.People = true, nil }), safety, no, Withdraw},
		{"the address went meanwhile", with(owner(func(r *Recipient) { r.Ways = []Channel{Letter} })), notice, no, Withdraw},
		{"the vehicle was laid up meanwhile", with(func(c *Case) { c.Vehicle.LayUpFrom, c.Vehicle.Items[0].ActBy = day("2027-04-29"), day("2027-04-20") }), notice, no, Withdraw},
		{"a later stage was told", with(told(due, due)), notice, no, Withdraw},
		{"a later stage was told, and this one may have arrived", with(told(due, due)), notice, yes, Silence},
		{"a later stage is about to be told", with(told(Claim{Stage: Due, State: Claimed}, due)), notice, no, Withdraw},
		{"a later stage of a part of it was told: the rest is told anew", with(told(due, Claim{})), notice, no, Withdraw},
		{"the same stage was told, by another channel", with(told(Claim{Stage: Early}, Claim{Stage: Early})), notice, no, Send},
		{"a later stage failed", with(told(Claim{Stage: Due, Failed: true}, Claim{Stage: Due, Failed: true})), notice, no, Send},
		{"a later stage is parked", with(told(Claim{Stage: Due, State: Parked}, Claim{Stage: Due, State: Parked})), notice, no, Send},
		{"a later stage was told to somebody else", with(told(Claim{Stage: Due, Person: "p9"}, Claim{Stage: Due, Person: "p9"})), notice, no, Send},
		{"the works was told", with(told(Claim{Stage: Works, Task: OwnerSilent}, Claim{Stage: Works, Task: OwnerSilent})), notice, no, Send},
		{"the consent to the letter of the year was taken back", with(func(*Case) {}), year, no, Withdraw},
		{"and was not", with(owner(func(r *Recipient) { r.Yearly, r.YearWays = true, []Channel{Mail} })), year, no, Send},
	} {
		to, got := c.c.LastLook(c.n, c.mayHaveArrived)
		if got != c.want || got == Send && to.Address != margaret.Address {
			t.Errorf("%s: got %v to %+v, want %v", c.name, got, to, c.want)
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
		{"a letter of eight days", 29 + 8*24, Pass{Letter: start.Add(29 * time.Hour), Sent: 1}, 0},
		{"a letter of more than eight days", 30 + 8*24, Pass{Letter: start.Add(29 * time.Hour), Sent: 1}, 1},
		{"a notice of more than a day", 29, Pass{Oldest: start.Add(5*time.Hour - time.Second), Sent: 1}, 1},
	} {
		got := w.After(c.pass, start.Add(time.Duration(c.hour)*time.Hour))
		if len(got) != c.want {
			t.Errorf("%s: got %v, want %d", c.name, got, c.want)
		}
		for _, a := range got {
			want := NothingSent
			switch {
			case !c.pass.Oldest.IsZero():
				want = Backlog
			case !c.pass.Letter.IsZero():
				want = Unposted
			}
			if a.Kind != want || a.Sentence == "" {
				t.Errorf("%s: got %+v, want %s", c.name, a, want)
			}
		}
	}
	stands := Alarm{NothingSent, "something was due for a day and nothing went out", start}
	task := stands.Task("AM0147P", start.Add(30*time.Hour))
	if want := "AM0147P.standstill.nothing-sent.2026-05-18"; task.ID != want || !strings.Contains(task.Text, stands.Sentence) {
		t.Errorf("got %+v, want %s", task, want)
	}
	if later := stands.Task("AM0147P", start.Add(60*time.Hour)); later.ID != task.ID {
		t.Errorf("one standstill made %s and %s", task.ID, later.ID)
	}
}
