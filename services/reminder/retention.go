package reminder

import (
	"time"

	"halfshaft/services/vehicle"
)

// How long messages and tasks are kept after they are done with.
const (
	MessageMonths = 24
	TaskMonths    = 12
)

// Ended gives when a notice was done with: sent, silenced, parked or told
// another way; false while it is to be sent.
func (n Notice) Ended() (time.Time, bool) {
	switch n.State {
	case Sent, Parked, Silenced, Rerouted:
	default:
		return time.Time{}, false
	}
	last := n.Claimed
	for _, t := range []time.Time{n.Printed, n.Sent, n.Retried} {
		if t.After(last) {
			last = t
		}
	}
	for _, r := range n.Returns {
		if r.Time.After(last) {
			last = r.Time
		}
	}
	return last, true
}

// Expired reports whether the message of a notice, and what came back of it, is
// past its time. That it was told is not: nobody is told twice.
func (n Notice) Expired(now time.Time) bool {
	last, ended := n.Ended()
	return ended && !last.IsZero() && !last.After(vehicle.MonthsBefore(now, MessageMonths))
}

// Bare gives the notice without what goes with its message. The stages, the
// state and the times stay, and so does the reference: whoever answers an old
// mail to be left alone is still heard.
func (n Notice) Bare() Notice {
	n.MessageID, n.ServerAnswer, n.Language = "", "", ""
	returns := make([]Return, len(n.Returns))
	for i, r := range n.Returns {
		r.Text = ""
		returns[i] = r
	}
	if n.Returns = returns; len(returns) == 0 {
		n.Returns = nil
	}
	return n
}

// Expired reports whether a task is past its time: it was done a year ago.
func (t Task) Expired(now time.Time) bool {
	return !t.Completed.IsZero() && !t.Completed.After(vehicle.MonthsBefore(now, TaskMonths))
}

// MessagesSince gives since when messages are kept at a moment.
func MessagesSince(now time.Time) time.Time { return vehicle.MonthsBefore(now, MessageMonths) }
