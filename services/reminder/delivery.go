package reminder

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/vehicle"
)

// Outcome is what became of one attempt to send.
type Outcome int

// The outcomes.
const (
	Accepted  Outcome = iota + 1 // the mail server took it
	TryLater                     // it asked to try later, or could not be reached
	RefusedIt                    // it refused this message or this recipient for good
)

// Attempt is what one attempt to send came to.
type Attempt struct {
	Outcome    Outcome
	Text       string        // what the server said, without addresses; AnswerLost when it said nothing at the end
	Recipient  bool          // with RefusedIt: it refused the address, before it had seen the message
	RetryAfter time.Duration // with TryLater: how long it asked us to wait; 0 when it did not ask
}

// The back-off. The days are those of RFC 5321 section 4.5.4.1 ("the give-up
// time generally needs to be at least 4-5 days").
const (
	firstPause = 5 * time.Minute
	lastPause  = 6 * time.Hour
	giveUp     = 5 * 24 * time.Hour
)

// pauseAfter gives how long to wait after that many attempts.
func pauseAfter(attempts int) time.Duration {
	pause := firstPause
	for range attempts - 1 {
		if pause *= 2; pause >= lastPause {
			return lastPause
		}
	}
	return pause
}

// After gives the notice after an attempt that ended at now.
func (n Notice) After(a Attempt, now time.Time) Notice {
	n.Attempts++
	n.ServerAnswer = a.Text
	n.NextAttempt = time.Time{}
	switch a.Outcome {
	case Accepted:
		n.State, n.Sent = Sent, now
	case RefusedIt:
		n.State = Parked
	default:
		since := n.Claimed
		if n.Retried.After(since) {
			since = n.Retried
		}
		n.State, n.NextAttempt = Waiting, now.Add(max(pauseAfter(n.Attempts), a.RetryAfter))
		if now.Sub(since) >= giveUp {
			n.State, n.NextAttempt = Parked, time.Time{}
		}
	}
	return n
}

// ReadyToSend reports whether the notice is to be tried at now.
func (n Notice) ReadyToSend(now time.Time) bool {
	return n.State == Claimed || n.State == Waiting && !now.Before(n.NextAttempt)
}

// TakenUp gives a parked notice as a person takes it up again. A text message
// gets another reference, for a gateway that had it under the first would take
// it for the same and not send it. A mail keeps its own, which is rendered into
// it.
func (n Notice) TakenUp(now time.Time) Notice {
	n.State, n.Retried, n.NextAttempt = Waiting, now, now
	if n.Channel == Text && n.Reference != "" {
		n.Reference = nextReference(n.Reference)
	}
	return n
}

// nextReference gives the reference of the next sending: "k3v…-2" after "k3v…",
// then "k3v…-3". Base32 has no hyphen.
func nextReference(reference string) string {
	first, count, _ := strings.Cut(reference, "-")
	n, err := strconv.Atoi(count)
	if err != nil {
		n = 1
	}
	return first + "-" + strconv.Itoa(n+1)
}

// Reroute gives a parked notice as it is when another way is left: its state is
// Rerouted, its claims are to be marked as failed, and the next pass tells its
// stages by that way. Otherwise it stays parked, and a person may take it up
// again.
func (n Notice) Reroute(to Recipient, claims []Claim) Notice {
	if n.State == Parked && n.wayLeft(to, claims) {
		n.State = Rerouted
	}
	return n
}

// wayLeft says whether each line of the notice can be told by another channel:
// one that the person can be reached by and that has not failed for it.
func (n Notice) wayLeft(to Recipient, claims []Claim) bool {
	if n.Purpose == Confirm || n.Purpose == Changed {
		return false // whoever asked asks again; and what was replaced is not told elsewhere
	}
	for _, l := range n.Lines {
		if _, left := n.next(l, to, claims); !left {
			return false
		}
	}
	return true
}

// next gives the first channel that is left for a line.
func (n Notice) next(l ToldLine, to Recipient, claims []Claim) (Channel, bool) {
	for _, way := range to.waysFor(n.Purpose) {
		if way != n.Channel && !failed(claims, n.Person, l.Cycle, l.Stage, way) {
			return way, true
		}
	}
	return "", false
}

// NextWay gives the channel by which a notice that failed is told instead, for what
// no pass selects.
func (n Notice) NextWay(to Recipient, claims []Claim) (Channel, bool) {
	if len(n.Lines) == 0 {
		return "", false
	}
	return n.next(n.Lines[0], to, claims)
}

// Effect is what a return asks for beside the change of its notice.
type Effect struct {
	AddressDead bool     // mark the way as undeliverable
	OptOut      bool     // the recipient wants no more of it: an OptOut by "complaint"
	Task        TaskKind // for the works; "" for none: see Notice.Task
}

// AfterReturn gives the notice after something came back of it. Only Failed
// and GivenUp change the state, and only of a notice that may be on its way:
// to Rerouted where another way is left (see Reroute), else to Parked. What is
// under way still, went on, arrived, or was answered by a machine is kept and
// changes nothing (RFC 3464 section 2.3.3, RFC 3834). The same return again is
// not kept twice and asks for the same.
func (n Notice) AfterReturn(r Return, to Recipient, claims []Claim) (Notice, Effect) {
	if !slices.ContainsFunc(n.Returns, func(old Return) bool { return old.Kind == r.Kind && old.Text == r.Text }) {
		n.Returns = append(slices.Clip(n.Returns), r)
	}
	switch r.Kind {
	case Complaint:
		return n, Effect{OptOut: n.Purpose.Ends(), Task: Complained}
	case Reply:
		return n, Effect{Task: Answered}
	case Failed, GivenUp:
	default:
		return n, Effect{}
	}
	if n.Open() || n.State == Sent {
		n.State, n.NextAttempt = Parked, time.Time{}
		n = n.Reroute(to, claims)
	}
	switch {
	case n.Purpose == Changed: // it was replaced because it leads nowhere
		return n, Effect{}
	case r.Kind == Failed:
		return n, Effect{AddressDead: true, Task: AddressDead}
	case n.State == Parked:
		return n, Effect{Task: NoticeParked}
	}
	return n, Effect{}
}

// Task gives a task that comes of a notice. nth counts from 1: a notice may be
// parked again after somebody took it up.
func (n Notice) Task(kind TaskKind, nth int, now time.Time) Task {
	id := n.ID + "." + kind.word()
	if nth > 1 {
		id += "." + itoa(nth)
	}
	return Task{ID: id, Serial: n.Serial, Kind: kind, Notice: n.ID, Created: now, Text: n.taskText(kind)}
}

func (n Notice) taskText(kind TaskKind) string {
	about := "A notice about " + string(n.Serial) + " "
	switch kind {
	case AddressDead:
		text := about + "came back for good: the " + n.Channel.address() + " of people/" + n.Person + " leads nowhere. "
		if n.State == Rerouted {
			text += "It is told another way. "
		}
		return text + "Ask the person how to reach them and correct it."
	case Complained:
		return about + "was called unwanted by its recipient, who gets no more of them. Look whether they are still the right person, " +
			"and speak to whoever looks after the vehicle."
	case LetterIncomplete:
		return "The letter about " + string(n.Serial) + " to people/" + n.Person + " has characters for which the printer has no sign: \"□\" stands in their place. " +
			"Look at it before it is posted and write them in, or correct the name or the address."
	case Answered:
		return "Somebody answered a notice about " + string(n.Serial) + " to an address that only machines read. Find the answer in the mailbox of returns and see to it."
	}
	about += "could not be delivered (" + n.failure() + "). "
	if n.State == Rerouted {
		return about + "It is told another way. Look whether the " + n.Channel.address() + " of people/" + n.Person + " is right."
	}
	return about + "Correct the address, or reach the person another way, and take the notice up again."
}

// failure gives what was said last of why the notice did not arrive.
func (n Notice) failure() string {
	for _, r := range slices.Backward(n.Returns) {
		if r.Kind == Failed || r.Kind == GivenUp {
			return r.Text
		}
	}
	return n.ServerAnswer
}

// Covered says which of a notice's rounds are over.
type Covered int

// How much of a notice is over.
const (
	NothingCovered Covered = iota
	PartlyCovered
	AllCovered
)

// CoveredBy compares a notice with its vehicle as it is now: a round that the
// schedule no longer has is done, one that somebody answered is to be silent,
// and of one that was told in a later stage the earlier is not told any more.
// For a letter about a campaign see over. Nothing covers the letter of a year, or
// a handbook; a link that works for a short time is not sent after it.
func (n Notice) CoveredBy(c Case, to Recipient, today vehicle.Date) Covered {
	switch n.Purpose {
	case YearLetter, Handbook:
		return NothingCovered
	case Confirm:
		if c.Now.Sub(n.Claimed) >= ConfirmLasts {
			return AllCovered // its link is dead
		}
		return NothingCovered
	}
	over := 0
	for _, l := range n.Lines {
		if n.Purpose == Safety {
			if c.over(l.Cycle, to, today) {
				over++
			}
			continue
		}
		at := slices.IndexFunc(c.Vehicle.Items, func(i Item) bool { return i.Cycle == l.Cycle && !i.ActBy.IsZero() })
		if at < 0 || c.answered(l.Cycle, today) != nil || n.overtaken(l, c.Claims) {
			over++
		}
	}
	switch over {
	case 0:
		return NothingCovered
	case len(n.Lines):
		return AllCovered
	}
	return PartlyCovered
}

// overtaken reports whether a line's person was told its round in a later
// stage, or is about to be. What failed or is parked did not reach them.
func (n Notice) overtaken(l ToldLine, claims []Claim) bool {
	return slices.ContainsFunc(claims, func(c Claim) bool {
		return c.Task == "" && c.Person == n.Person && c.Cycle == l.Cycle && c.Stage > l.Stage && !c.Failed && c.State != Parked
	})
}

// Overtaken reports whether each round of the notice was told to its person in
// a later stage, by whatever notice: sent now, it would say less than they know.
func (n Notice) Overtaken(claims []Claim) bool {
	return !slices.ContainsFunc(n.Lines, func(l ToldLine) bool { return !n.overtaken(l, claims) })
}

// Verdict is what a last look before sending decides.
type Verdict int

// The verdicts.
const (
	Send Verdict = iota
	Hold
	// Silence: it is not sent; its stages stay told, for it may have arrived.
	Silence
	// Withdraw: it is not sent and cannot have arrived; its stages are open
	// again for another notice.
	Withdraw
)

// LastLook decides, just before sending, whether a notice still goes out, and
// to whom. It goes to nobody who left, died, opted out or can no longer be
// reached by its channel, to nobody who was told a later stage meanwhile, to
// nobody about a scrapped vehicle, and not into a lay-up (see asleep).
//
// A notice of which a part is done is withdrawn, and the rest told anew, as
// long as it cannot have arrived. When it may have, the same bytes go out
// again, because a lost notice is worse than one that names finished work.
//
// A letter about a campaign waits where nobody knows whether it is still open. A
// mail that was asked for waits for no hours: it wakes nobody, and is looked for.
// That an address was replaced is told there, whatever became of its reader: a
// thief who has it replaced may have the vehicle taken over next.
func (c Case) LastLook(n Notice, mayHaveArrived bool) (Recipient, Verdict) {
	if n.Purpose == Changed {
		return Recipient{Person: n.Person}, Send
	}
	at := slices.IndexFunc(c.People, func(r Recipient) bool { return r.Person == n.Person })
	if at < 0 {
		return Recipient{}, lastLook(AllCovered, false, mayHaveArrived)
	}
	to := c.People[at]
	covered := n.CoveredBy(c, to, vehicle.DateOf(to.Local(c.Now)))
	unknown := n.Purpose == Safety && c.Unasked
	if unknown {
		covered = NothingCovered
	}
	asleep := n.Purpose <= Service && slices.ContainsFunc(c.Vehicle.Items, func(i Item) bool {
		return i.Cycle == n.Lines[0].Cycle && c.Vehicle.asleep(i, vehicle.DateOf(to.Local(c.Now)))
	})
	if _, ok := c.Allowed(to, n.Purpose); !ok || asleep || !slices.Contains(to.waysFor(n.Purpose), n.Channel) {
		covered = AllCovered
	}
	anyHour := n.Channel == Letter || n.Purpose == Confirm || n.Channel == Mail && n.Purpose == Handbook
	return to, lastLook(covered, !unknown && (to.Reachable(c.Now) || anyHour), mayHaveArrived)
}

func lastLook(covered Covered, reachable, mayHaveArrived bool) Verdict {
	switch {
	case covered == AllCovered && mayHaveArrived:
		return Silence
	case covered == AllCovered, covered == PartlyCovered && !mayHaveArrived:
		return Withdraw
	case !reachable:
		return Hold
	}
	return Send
}
