package reminder

import "time"

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

// TakenUp gives a parked notice as a person takes it up again.
func (n Notice) TakenUp(now time.Time) Notice {
	n.State, n.Retried, n.NextAttempt = Waiting, now, now
	return n
}

// ParkedTask gives the task that tells the works of a parked notice. nth
// counts from 1: a notice may be parked again after somebody took it up.
func (n Notice) ParkedTask(nth int, now time.Time) Task {
	id := n.ID + "." + NoticeParked.word()
	if nth > 1 {
		id += "." + itoa(nth)
	}
	return Task{
		ID: id, Serial: n.Serial, Kind: NoticeParked, Notice: n.ID, Created: now,
		Text: "A notice about " + string(n.Serial) + " could not be delivered (" + n.ServerAnswer +
			"). Correct the address, or reach the person another way, and take the notice up again.",
	}
}

// Covered says which of a notice's rounds are over.
type Covered int

// How much of a notice is over.
const (
	NothingCovered Covered = iota
	PartlyCovered
	AllCovered
)

// CoveredBy compares a notice with the vehicle's schedule as it is now: a
// round that the schedule no longer has is done.
func (n Notice) CoveredBy(v Vehicle) Covered {
	open := map[string]bool{}
	for _, i := range v.Items {
		if !i.ActBy.IsZero() {
			open[i.Cycle] = true
		}
	}
	over := 0
	for _, l := range n.Lines {
		if !open[l.Cycle] {
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

// LastLook decides, just before sending, whether a notice still goes out.
//
// A notice of which a part is done is withdrawn, and the rest told anew, as
// long as it cannot have arrived. When it may have, the same bytes go out
// again, because a lost notice is worse than one that names finished work.
func LastLook(covered Covered, receiver, reachable, mayHaveArrived bool) Verdict {
	gone := covered == AllCovered || !receiver
	switch {
	case gone && mayHaveArrived:
		return Silence
	case gone, covered == PartlyCovered && !mayHaveArrived:
		return Withdraw
	case !reachable:
		return Hold
	}
	return Send
}
