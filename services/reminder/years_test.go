package reminder

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"halfshaft/services/vehicle"
)

// years are simulated years of two vehicles and the people behind them: passes
// come at random, work is recorded, messages fail and come back, people answer,
// opt out, move, die and sell. What must hold is checked with sums of its own,
// not with the code under test.
type years struct {
	t        *testing.T
	rnd      *rand.Rand
	now      time.Time
	vehicles []*car
	people   map[string]Recipient
	notices  []Notice
	arrived  []arrival
	seen     map[string]int // how often what happened, so that a test can tell that it did
	log      []string
}

// car is a vehicle with its people's ties, and what was told and answered.
type car struct {
	Vehicle
	ties    []Tie
	claims  []Claim
	answers []Answer
	out     map[string]bool
	noYear  map[string]bool
}

// arrival is a message that went out.
type arrival struct {
	notice Notice
	at     time.Time
	failed bool
	urgent bool // it holds a line of safety that was due
}

func (y *years) chance(n int) bool { return y.rnd.IntN(n) == 0 }

func (y *years) note(format string, args ...any) {
	y.log = append(y.log, y.now.Format("2006-01-02 15:04 ")+fmt.Sprintf(format, args...))
}

func (y *years) fail(format string, args ...any) {
	y.t.Helper()
	y.t.Fatalf("%s\n%s", fmt.Sprintf(format, args...), strings.Join(y.log[max(0, len(y.log)-40):], "\n"))
}

func newYears(t *testing.T, seed uint64) *years {
	y := &years{t: t, rnd: rand.New(rand.NewPCG(seed, 5)), now: at("2026-01-01T00:00:00Z"), people: map[string]Recipient{}, seen: map[string]int{}}
	for n := range 2 {
		c := &car{Vehicle: Vehicle{Serial: vehicle.Serial([]string{"AM0147P", "AM0100T"}[n])}, out: map[string]bool{}, noYear: map[string]bool{}}
		for k := range 2 + y.rnd.IntN(5) {
			i := Item{ID: fmt.Sprintf("I%d", k), Title: "Service", Class: Classes()[y.rnd.IntN(4)], ActBy: day("2026-01-01").AddDays(y.rnd.IntN(300))}
			i.Began = i.ActBy.AddDays(-60 - y.rnd.IntN(300))
			i.Cycle = i.ID + "." + i.Began.String()
			c.Items = append(c.Items, i)
		}
		c.Items = append(c.Items, Item{ID: "READ", Cycle: "READ.0", Reading: true, ActBy: day("2026-03-01").AddDays(y.rnd.IntN(300))}, YearItem(2025), YearItem(2026))
		y.vehicles = append(y.vehicles, c)
		y.arrives(c, "owner")
		if y.chance(2) {
			y.arrives(c, "caretaker")
		}
	}
	if y.chance(2) { // one person with both
		y.vehicles[1].ties = append(y.vehicles[1].ties, y.vehicles[0].ties...)
	}
	return y
}

// arrives ties somebody new to a vehicle.
func (y *years) arrives(c *car, role string) {
	from := y.rnd.IntN(23)
	r := Recipient{
		Person: fmt.Sprintf("p%d", len(y.people)), Ways: y.ways(), Zone: zone(zones[y.rnd.IntN(len(zones))]),
		Hours: Hours{from, from + 1 + y.rnd.IntN(24-from)}, Most: []int{0, 0, 1, 2}[y.rnd.IntN(4)], Yearly: y.chance(2),
	}
	r.YearWays = slices.DeleteFunc(slices.Clone(r.Ways), func(w Channel) bool { return w == Text })
	y.people[r.Person] = r
	c.ties = append(c.ties, Tie{Person: r.Person, Role: role, Notices: !y.chance(6), Start: vehicle.DateOf(y.now.AddDate(0, 0, -2))})
}

func (y *years) ways() []Channel {
	ways := []Channel{Mail, Text, Letter}
	y.rnd.Shuffle(3, func(a, b int) { ways[a], ways[b] = ways[b], ways[a] })
	return ways[:1+y.rnd.IntN(3)]
}

// happens lets something happen to a vehicle or its people.
func (y *years) happens(c *car) {
	today := vehicle.DateOf(y.now)
	n := y.rnd.IntN(1000)
	if n >= 100 && n < 130 { // work is recorded
		y.works(c)
	}
	switch n {
	case 5, 6:
		y.answers(c)
	case 9:
		for n := range c.answers {
			c.answers[n].Withdrawn = y.now
		}
	case 10:
		out := []map[string]bool{c.out, c.noYear}[y.rnd.IntN(2)]
		person := c.ties[y.rnd.IntN(len(c.ties))].Person
		out[person] = y.chance(3)
		y.note("%s %s opted out: %v", c.Serial, person, out[person])
	case 12: // sold
		for n := range c.ties {
			if c.ties[n].End.IsZero() {
				c.ties[n].End = today
			}
		}
		y.note("%s sold", c.Serial)
		if !y.chance(8) {
			y.arrives(c, "owner")
		}
	case 13:
		id := c.ties[y.rnd.IntN(len(c.ties))].Person
		if r := y.people[id]; y.chance(4) {
			r.Deceased = true
			y.people[id] = r
			y.note("%s died", id)
		}
	case 14, 15: // another address, or none
		id := c.ties[y.rnd.IntN(len(c.ties))].Person
		r := y.people[id]
		r.Ways = y.ways()[y.rnd.IntN(2):]
		r.YearWays = slices.DeleteFunc(slices.Clone(r.Ways), func(w Channel) bool { return w == Text })
		y.people[id] = r
		y.note("%s is reached by %v", id, r.Ways)
	case 16, 17: // laid up
		if c.LayUpFrom.IsZero() || !c.LayUpTo.IsZero() && c.LayUpTo.Before(today) {
			y.layUp(c, today)
		}
	case 18: // another occasion to ask for a reading
		for n := range c.Items {
			if c.Items[n].Reading {
				c.Items[n].Cycle += "x"
				c.Items[n].ActBy = today.AddDays(y.rnd.IntN(60))
			}
		}
	case 19, 20, 21, 22:
		c.Scrapped = y.chance(12)
	case 23, 24, 25, 26, 27, 28:
		y.takesUp(c)
	}
}

// takesUp takes a parked notice up again, if there is one.
func (y *years) takesUp(c *car) {
	n := slices.IndexFunc(y.notices, func(n Notice) bool { return n.Serial == c.Serial && n.State == Parked })
	if n < 0 {
		return
	}
	y.seen["taken up"]++
	if y.notices[n].Overtaken(c.claims) {
		y.seen["overtaken"]++
	}
	y.note("%s is taken up", y.notices[n].ID)
	y.keep(c, n, y.notices[n].TakenUp(y.now))
}

// works records work on one item: its next round begins.
func (y *years) works(c *car) {
	n := y.rnd.IntN(len(c.Items))
	i := &c.Items[n]
	if i.Reading || i.Year != 0 {
		return
	}
	y.note("%s %s is done", c.Serial, i.Cycle)
	i.Began = vehicle.DateOf(y.now)
	i.ActBy, i.MovedTo = i.Began.AddDays(20+y.rnd.IntN(300)), vehicle.Date{}
	i.Cycle = fmt.Sprintf("%s.%s-%d", i.ID, i.Began, len(y.log))
	y.place(c, i)
}

// layUp lays a vehicle up and moves what falls into it.
func (y *years) layUp(c *car, today vehicle.Date) {
	c.LayUpFrom = today.AddDays(y.rnd.IntN(50))
	c.LayUpTo = c.LayUpFrom.AddDays(y.rnd.IntN(120))
	y.note("%s is laid up from %v to %v", c.Serial, c.LayUpFrom, c.LayUpTo)
	for n := range c.Items {
		y.place(c, &c.Items[n])
	}
}

// place moves work whose day falls into the lay-up before it, after it, or
// leaves it.
func (y *years) place(c *car, i *Item) {
	if c.LayUpFrom.IsZero() || i.ActBy.Before(c.LayUpFrom) || i.ActBy.After(c.LayUpTo) || i.Reading || i.Year != 0 {
		return
	}
	switch y.rnd.IntN(4) {
	case 0:
		i.ActBy = c.LayUpFrom.AddDays(-1)
	case 1, 2:
		i.ActBy = c.LayUpTo.AddDays(1)
		i.MovedTo = i.ActBy
	}
}

// answers lets somebody answer, as far as the domain lets them.
func (y *years) answers(c *car) {
	today := vehicle.DateOf(y.now)
	a := Answer{ID: fmt.Sprint(len(y.log)), Serial: c.Serial, Kind: AnswerKind(1 + y.rnd.IntN(3)), Created: y.now, Day: today.AddDays(y.rnd.IntN(70) - 2)}
	for _, i := range c.Items {
		if y.chance(2) && i.Year == 0 && !i.Reading {
			a.Cycles = append(a.Cycles, i.Cycle)
		}
	}
	if a.Check(c.Vehicle, today) == nil {
		c.answers = append(c.answers, a)
		y.seen["answer"]++
		y.note("%s answer %d for %v: %v", c.Serial, a.Kind, a.Day, a.Cycles)
	}
}

// caseOf puts together what a decision rests on, as the job does.
func (y *years) caseOf(c *car) Case {
	recent := map[string][]time.Time{}
	for _, a := range y.arrived {
		if !a.failed && a.notice.Purpose == Service {
			recent[a.notice.Person] = append(recent[a.notice.Person], a.at)
		}
	}
	for _, n := range y.notices {
		if n.Open() && n.Printed.IsZero() && n.Purpose == Service {
			recent[n.Person] = append(recent[n.Person], y.now)
		}
	}
	return Case{
		Vehicle: c.Vehicle, People: Tied(c.ties, y.people, y.now), Claims: c.claims, Answers: c.answers,
		Recent: recent, OptOuts: c.out, NoYear: c.noYear, Now: y.now,
	}
}

// pass does what a pass of the job does for one vehicle. Between the claim and
// the sending something may happen.
func (y *years) pass(c *car) {
	for n := range y.notices {
		if y.notices[n].Serial == c.Serial && y.notices[n].ReadyToSend(y.now) {
			y.send(c, n)
		}
	}
	plan := Select(y.caseOf(c))
	for _, d := range plan.Drafts {
		id := d.NoticeID(1)
		for nth := 2; slices.ContainsFunc(y.notices, func(n Notice) bool { return n.ID == id }); nth++ {
			id = d.NoticeID(nth)
		}
		y.notices = append(y.notices, d.ToClaimed(id, "", nil, y.now))
		for _, l := range d.Lines {
			key := Claim{Cycle: l.Item.Cycle, Stage: l.Stage, Channel: d.Channel, Person: d.To.Person}
			if slices.ContainsFunc(c.claims, func(k Claim) bool {
				return k.Task == "" && k.Cycle == key.Cycle && k.Stage == key.Stage && k.Channel == key.Channel && k.Person == key.Person
			}) {
				y.fail("claimed again: %+v", key)
			}
			key.Time, key.Notice, key.State = y.now, id, Claimed
			c.claims = append(c.claims, key)
		}
		y.note("claimed %s: %s", id, toldText(d))
	}
	y.explained(c, plan)
	for _, task := range plan.Tasks {
		for _, cycle := range task.Cycles {
			if slices.ContainsFunc(c.claims, func(k Claim) bool { return k.Task == task.Kind && k.Cycle == cycle }) {
				y.fail("the works was told twice: %s %s", cycle, task.Kind)
			}
			c.claims = append(c.claims, Claim{Cycle: cycle, Task: task.Kind, Time: y.now})
			y.seen[string(task.Kind)]++
		}
		y.note("task %s %s", task.Kind, task.Cycles)
	}
	for range 3 {
		y.happens(c)
	}
	for n := range y.notices {
		if y.notices[n].Serial == c.Serial && y.notices[n].State == Claimed {
			y.send(c, n)
		}
	}
}

// send looks once more and sends a notice.
func (y *years) send(c *car, n int) {
	cs := y.caseOf(c)
	before := y.notices[n]
	may := (before.State == Waiting || before.Channel == Letter) && before.MayHaveArrived()
	_, verdict := cs.LastLook(before, may)
	after := before
	switch verdict {
	case Hold:
		y.seen["hold"]++
		return
	case Silence, Withdraw:
		after.State = Silenced
		y.seen["silenced"]++
		if !before.Printed.IsZero() {
			y.seen["silenced after printing"]++
		}
		if verdict == Withdraw {
			c.claims = slices.DeleteFunc(c.claims, func(k Claim) bool { return k.Notice == after.ID })
		}
	default:
		if before.Channel == Letter && !y.posts(c, cs, &after) {
			break
		}
		answer := Attempt{Outcome: Accepted, Text: "250 ok"}
		switch {
		case y.chance(12):
			answer = Attempt{Outcome: TryLater, Text: "451 later"}
		case y.chance(12):
			answer = Attempt{Outcome: RefusedIt, Text: "550 no"}
		}
		after = before.After(answer, y.now).Reroute(y.people[before.Person], c.claims)
		if answer.Outcome == Accepted {
			y.arrives1(c, cs, after)
		}
	}
	y.note("%s is %d", after.ID, after.State)
	y.keep(c, n, after)
}

// posts prints a letter, and some passes later says that it was posted. It may
// arrive from the day on which it is printed. Some are refused before: true.
func (y *years) posts(c *car, cs Case, n *Notice) (more bool) {
	switch {
	case n.Printed.IsZero() && y.chance(6):
		return true
	case n.Printed.IsZero():
		n.Printed = y.now
		y.arrives1(c, cs, *n)
	case y.chance(20):
		*n = n.After(Attempt{Outcome: Accepted, Text: "posted"}, y.now)
	}
	return false
}

// keep writes a notice and what its claims say of it.
func (y *years) keep(c *car, n int, after Notice) {
	y.notices[n] = after
	for k := range c.claims {
		if c.claims[k].Notice == after.ID {
			c.claims[k].State, c.claims[k].Failed = after.State, after.State == Rerouted
		}
	}
	if after.State == Rerouted {
		y.seen["rerouted"]++
	}
}

// bounces lets a message that went out come back.
func (y *years) bounces() {
	if len(y.arrived) == 0 || !y.chance(60) {
		return
	}
	a := &y.arrived[y.rnd.IntN(len(y.arrived))]
	at := slices.IndexFunc(y.notices, func(n Notice) bool { return n.ID == a.notice.ID })
	n := y.notices[at]
	if n.Channel == Letter && n.State != Sent {
		return // nothing comes back of what was not posted
	}
	c := y.vehicles[slices.IndexFunc(y.vehicles, func(c *car) bool { return c.Serial == n.Serial })]
	kind := ReturnKind(1 + y.rnd.IntN(8))
	after, effect := n.AfterReturn(Return{Kind: kind, Time: y.now, Text: "5.1.1"}, y.people[n.Person], c.claims)
	y.note("return %d of %s", kind, n.ID)
	if (kind == Failed || kind == GivenUp) && n.State == Sent {
		a.failed = true
	} else if after.State != n.State {
		y.fail("a return of kind %d changed the state from %d to %d", kind, n.State, after.State)
	}
	if effect.OptOut {
		c.out[n.Person] = true
	}
	if effect.AddressDead {
		r := y.people[n.Person]
		gone := func(w Channel) bool { return w == n.Channel }
		r.Ways, r.YearWays = slices.DeleteFunc(slices.Clone(r.Ways), gone), slices.DeleteFunc(slices.Clone(r.YearWays), gone)
		y.people[n.Person] = r
	}
	y.keep(c, at, after)
}

// arrives1 checks a message as it goes out.
func (y *years) arrives1(c *car, cs Case, n Notice) {
	y.seen["sent"]++
	r := y.people[n.Person]
	local := y.now.In(r.Zone)
	today := vehicle.DateOf(local)
	if n.Channel != Letter && (local.Hour() < r.Hours.From || local.Hour() >= r.Hours.Until) {
		y.fail("%s went out at %v, outside %v", n.ID, local, r.Hours)
	}
	tied := slices.ContainsFunc(c.ties, func(t Tie) bool {
		return t.Person == n.Person && !today.Before(t.Start) && (t.End.IsZero() || today.Before(t.End)) && (t.Notices || n.Purpose == YearLetter)
	})
	if !tied || r.Deceased || c.Scrapped {
		y.fail("%s went to somebody former, dead or of no vehicle", n.ID)
	}
	if n.Purpose == Service && c.out[n.Person] || n.Purpose == YearLetter && (c.noYear[n.Person] || !r.Yearly) {
		y.fail("%s went to somebody who does not want it", n.ID)
	}
	if !slices.Contains(r.Ways, n.Channel) {
		y.fail("%s went by a way that is not theirs: %v", n.ID, r.Ways)
	}
	a := arrival{notice: n, at: y.now}
	for _, l := range n.Lines {
		at := slices.IndexFunc(c.Items, func(i Item) bool { return i.Cycle == l.Cycle })
		if at < 0 {
			y.fail("%s tells of %s, which is done", n.ID, l.Cycle)
		}
		i := c.Items[at]
		a.urgent = a.urgent || i.Class == Vital && !i.ActBy.After(today)
		if (l.Stage == Overdue || l.Stage == SecondOverdue) && !i.ActBy.Before(today) && n.Attempts == 1 {
			y.fail("%s calls %s overdue, to be done by %v", n.ID, l.Cycle, i.ActBy)
		}
		y.answeredOrTold(c, n, l, today)
	}
	y.limited(n, a, r)
	if !c.LayUpFrom.IsZero() && !today.Before(c.LayUpFrom) && !today.After(c.LayUpTo) && n.Purpose == Service {
		lead := c.Items[slices.IndexFunc(c.Items, func(i Item) bool { return i.Cycle == n.Lines[0].Cycle })]
		back := !lead.MovedTo.IsZero() || lead.Class == Seasonal && lead.ActBy.After(c.LayUpTo)
		stays := !lead.ActBy.Before(c.LayUpFrom) && !lead.ActBy.After(c.LayUpTo)
		if lead.Reading || !back && !stays {
			y.fail("%s went into a lay-up", n.ID)
		}
		y.seen["in a lay-up"]++
	}
	y.arrived = append(y.arrived, a)
}

// answeredOrTold checks that no answer holds and that nobody is told a stage
// twice, nor two stages too soon after one another.
func (y *years) answeredOrTold(c *car, n Notice, l ToldLine, today vehicle.Date) {
	for _, a := range c.answers {
		holds := a.Kind == Done || a.Kind == Snoozed && today.Before(a.Day) || a.Kind == Booked && today.Before(a.Day.AddDays(7))
		if a.Withdrawn.IsZero() && holds && slices.Contains(a.Cycles, l.Cycle) {
			y.fail("%s tells of %s, which is answered: %+v", n.ID, l.Cycle, a)
		}
	}
	for _, old := range y.arrived {
		if old.failed || old.notice.Person != n.Person || old.notice.Serial != n.Serial {
			continue
		}
		for _, o := range old.notice.Lines {
			if o.Cycle == l.Cycle && o.Stage == l.Stage {
				y.fail("%s tells %s %v again, after %s", n.ID, l.Cycle, l.Stage, old.notice.ID)
			}
			if o.Cycle == l.Cycle && o.Stage > l.Stage {
				y.fail("%s tells %s %v after %v was told by %s", n.ID, l.Cycle, l.Stage, o.Stage, old.notice.ID)
			}
			if apart := n.Claimed.Sub(old.notice.Claimed); o.Cycle == l.Cycle && n.Retried.IsZero() && (apart < 6*24*time.Hour || old.at.After(n.Claimed)) {
				y.fail("%s tells of %s again %v after %s", n.ID, l.Cycle, apart, old.notice.ID)
			}
		}
	}
}

// limited checks the limit of 30 days, when the message was claimed.
func (y *years) limited(n Notice, a arrival, r Recipient) {
	if n.Purpose != Service || a.urgent || !n.Claimed.Equal(y.now) {
		return
	}
	count := 0
	for _, old := range y.arrived {
		if old.notice.Person == n.Person && old.notice.Purpose == Service && !old.failed && y.now.Sub(old.at) < 30*24*time.Hour {
			count++
		}
	}
	most := 4
	if r.Most > 0 {
		most = r.Most
	}
	if count >= most {
		y.fail("%s is message %d of 30 days, and %d are the most", n.ID, count+1, most)
	}
}

// explained checks after a pass that each item that has come up is told or
// explained to each person, once, and that the explanation is true.
func (y *years) explained(c *car, plan Plan) {
	for _, r := range Tied(c.ties, y.people, y.now) {
		for _, i := range c.Items {
			if i.Year != 0 || !r.Notices || i.ActBy.Ordinal()-vehicle.DateOf(y.now.In(r.Zone)).Ordinal() > 120 {
				continue
			}
			var found []Pending
			for _, p := range plan.Lines {
				if p.Person == r.Person && p.Item.Cycle == i.Cycle {
					found = append(found, p)
				}
			}
			if len(found) != 1 {
				y.fail("%s has %d lines for %s", i.Cycle, len(found), r.Person)
			}
			y.seen[found[0].Reason]++
			y.truth(c, r, i, found[0])
		}
	}
}

// truth checks one explanation against what happened.
func (y *years) truth(c *car, r Recipient, i Item, p Pending) {
	local := y.now.In(r.Zone)
	today := vehicle.DateOf(local)
	answered := func(kind AnswerKind) bool {
		return slices.ContainsFunc(c.answers, func(a Answer) bool {
			return a.Kind == kind && a.Withdrawn.IsZero() && slices.Contains(a.Cycles, i.Cycle)
		})
	}
	told, failed, late, soon := false, false, false, false
	for _, k := range c.claims {
		if k.Task != "" || k.Person != r.Person || !strings.HasPrefix(k.Cycle, i.ID+".") {
			continue
		}
		soon = soon || !k.Failed && i.Reading && y.now.Sub(k.Time) < 92*24*time.Hour
		if k.Cycle != i.Cycle {
			continue
		}
		told = told || !k.Failed
		failed = failed || k.Failed
		late = late || !k.Failed && k.Stage >= Due
		soon = soon || !k.Failed && y.now.Sub(k.Time) < 15*24*time.Hour || !k.Failed && k.Stage == Overdue && y.now.Sub(k.Time) < 31*24*time.Hour
	}
	laidUp := !c.LayUpFrom.IsZero() && !today.Before(c.LayUpFrom) && !today.After(c.LayUpTo)
	true1 := map[string]bool{
		Told: told, WorksTold: told, WaitingToSend: told || failed, LetterToPrint: told, IsParked: told,
		NotYet:       today.Before(i.ActBy) && !told || laidUp,
		OutsideHours: local.Hour() < r.Hours.From || local.Hour() >= r.Hours.Until,
		MonthlyLimit: true, TooSoonAfter: soon, IsBooked: answered(Booked), IsSnoozed: answered(Snoozed), IsSaidDone: answered(Done),
		OptedOut: c.out[r.Person], NoWay: len(r.Ways) == 0 || failed, Deceased: r.Deceased, Scrapped: c.Scrapped,
	}[p.Reason]
	if !true1 {
		y.fail("%s to %s: %s is not so: %s", i.Cycle, r.Person, p.Reason, p.Sentence)
	}
	if due := !today.Before(i.ActBy) && !i.Reading; due && p.Reason == Told && !late && today.Ordinal()-i.ActBy.Ordinal() > 15 {
		y.fail("%s was to be done by %v and %s was told nothing since: %s", i.Cycle, i.ActBy, r.Person, p.Sentence)
	}
}

func TestYearsOfPassesBreakNoPromise(t *testing.T) {
	seen := map[string]int{}
	for seed := range uint64(40) {
		y := newYears(t, seed)
		for y.now.Before(at("2027-07-01T00:00:00Z")) {
			y.now = y.now.Add(time.Duration(1+y.rnd.IntN(20)) * time.Hour)
			for _, c := range y.vehicles {
				y.pass(c)
			}
			y.bounces()
		}
		for k, n := range y.seen {
			seen[k] += n
		}
	}
	t.Log(seen)
	// A test of promises that nothing puts to the test says nothing.
	for _, k := range []string{
		"sent", "hold", "silenced", "silenced after printing", "rerouted", "taken up", "overtaken", "answer", "in a lay-up", "OWNER_SILENT", "NO_CONTACT", Told, NotYet, OutsideHours, MonthlyLimit, TooSoonAfter,
		IsBooked, IsSnoozed, IsSaidDone, OptedOut, NoWay, Deceased, Scrapped, WaitingToSend, LetterToPrint, IsParked, WorksTold,
	} {
		if seen[k] == 0 {
			t.Errorf("%s never came up", k)
		}
	}
}
