package reminderstore

import (
	"testing"
	"time"

	"halfshaft/services/reminder"
)

// TestWhatBecameOfANoticeMeanwhile: k was handed over and taken, and now is
// another when that is to be marked.
func TestWhatBecameOfANoticeMeanwhile(t *testing.T) {
	at := time.Date(2026, 5, 18, 12, 0, 0, 0, time.UTC)
	delayed, failed := reminder.Return{Kind: reminder.Delayed, Time: at}, reminder.Return{Kind: reminder.Failed, Time: at}
	k := Kept{reminder.Notice{ID: "n", State: reminder.Waiting, Attempts: 1, Returns: []reminder.Return{delayed}}, 5}
	after := k.After(reminder.Attempt{Outcome: reminder.Accepted, Text: "250 ok"}, at)
	marking := Marking{Tasks: []reminder.Task{{ID: "task"}}}
	for _, c := range []struct {
		name    string
		change  func(*Kept)
		ours    bool // it is marked after all
		state   reminder.State
		returns int
		tasks   int
	}{
		{"nothing", func(*Kept) {}, true, reminder.Sent, 1, 1},
		{"something came back", func(n *Kept) { n.Revision, n.Returns = 6, append(n.Returns, failed) }, true, reminder.Sent, 2, 1},
		{"something came back once more, and left no trace", func(n *Kept) { n.Revision = 6 }, true, reminder.Sent, 1, 1},
		{"what came back decided it", func(n *Kept) {
			n.Revision, n.Returns, n.State = 6, append(n.Returns, failed), reminder.Rerouted
		}, true, reminder.Rerouted, 2, 0},
		{"what came back decided it, as it did before", func(n *Kept) { n.Revision, n.State = 6, reminder.Parked }, true, reminder.Parked, 1, 0},
		{"another handed it over", func(n *Kept) { n.Revision, n.Attempts = 6, 2 }, false, 0, 0, 0},
		{"another silenced it", func(n *Kept) { n.Revision, n.State = 6, reminder.Silenced }, false, 0, 0, 0},
		{"a person took it up again", func(n *Kept) { n.Revision, n.Retried = 6, at }, false, 0, 0, 0},
	} {
		now := k
		c.change(&now)
		got, m, ours := merged(k, now, after, marking)
		if ours != c.ours {
			t.Errorf("%s: marked: %v, want %v", c.name, ours, c.ours)
			continue
		}
		if ours && (got.State != c.state || len(got.Returns) != c.returns || len(m.Tasks) != c.tasks || got.Attempts != 2 || !got.Sent.Equal(at) || got.ServerAnswer != "250 ok") {
			t.Errorf("%s: marked as %+v with %+v", c.name, got, m)
		}
	}
}
