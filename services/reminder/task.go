package reminder

import (
	"fmt"
	"strings"
	"time"

	"halfshaft/services/vehicle"
)

// TaskKind is what the works must look into.
type TaskKind string

// The kinds of tasks.
const (
	// OwnerSilent: the last notice went out and nothing was recorded.
	OwnerSilent TaskKind = "OWNER_SILENT"
	// NoticeParked: a message could not be delivered.
	NoticeParked TaskKind = "NOTICE_PARKED"
	// NoContact: something comes up and nobody can be told.
	NoContact TaskKind = "NO_CONTACT"
	// AddressDead: a message came back for good.
	AddressDead TaskKind = "ADDRESS_DEAD"
	// Complained: a recipient called a message unwanted.
	Complained TaskKind = "COMPLAINT"
	// SaidDone: somebody says that work was done, and the works has no paper of it.
	SaidDone TaskKind = "SAID_DONE"
	// Answered: a person wrote back to an address that only machines answer.
	Answered TaskKind = "REPLY"
	// Standstill: nothing goes out although something should.
	Standstill TaskKind = "STANDSTILL"
)

// word is the kind as names and keys carry it: "owner-silent".
func (k TaskKind) word() string { return strings.ToLower(strings.ReplaceAll(string(k), "_", "-")) }

// TaskDraft is a task to be. One task covers every round of the vehicle that
// asks for it at the time, and no round asks twice.
type TaskDraft struct {
	Serial vehicle.Serial
	Kind   TaskKind
	Cycles []string // the rounds it covers
	Text   string   // what to do, without personal data
}

// ID is the task's identifier: "AM0147P.E01.2026-05-01.owner-silent".
func (t TaskDraft) ID() string {
	return fmt.Sprintf("%s.%s.%s", t.Serial, t.Cycles[0], t.Kind.word())
}

// Task is the task as it comes up.
func (t TaskDraft) Task(now time.Time) Task {
	return Task{ID: t.ID(), Serial: t.Serial, Kind: t.Kind, Text: t.Text, Created: now}
}

// Task is something the works must look into.
type Task struct {
	ID        string // "AM0147P.E01.2026-05-01.owner-silent"
	Serial    vehicle.Serial
	Kind      TaskKind
	Text      string
	Notice    string // identifier of the notice it comes from; "" for none
	Created   time.Time
	Completed time.Time // zero while it is open
	Outcome   string    // who did it and what came of it
}

// noContact gives the task that is due when nobody can be told what comes up.
func noContact(c Case) (TaskDraft, bool) {
	if !c.Nobody {
		return TaskDraft{}, false
	}
	today := vehicle.DateOf(c.Now.UTC())
	items := untasked(c, NoContact, func(i Item) bool { return !i.Reading && i.StageOn(today) != NoStage })
	if len(c.NoAddress) > 0 {
		return taskDraft(c, NoContact, items, "Work on %s comes up: %s. There is no mail address for people/"+
			strings.Join(c.NoAddress, ", people/")+": telephone them, and record an address if they have one.")
	}
	return taskDraft(c, NoContact, items,
		"Nobody can be told that work on %s comes up: %s. Find out who has the vehicle now and record them with a mail address.")
}

// ownerSilent gives the task that is due when every receiver had the last
// notice long enough ago and the work is still not recorded.
func ownerSilent(c Case) (TaskDraft, bool) {
	if len(c.Receivers) == 0 {
		return TaskDraft{}, false
	}
	items := untasked(c, OwnerSilent, func(i Item) bool {
		for _, r := range c.Receivers {
			today := vehicle.DateOf(r.Local(c.Now))
			last := toldTo(c.Claims, r)[i.Cycle]
			if i.StageOn(today) < Due || last.stage < Overdue || last.day.DaysUntil(today) < silentAfter {
				return false
			}
		}
		return true
	})
	return taskDraft(c, OwnerSilent, items,
		"The last notice about %s went out and no work is recorded: %s. Telephone the owner; it may be done and not reported.")
}

// untasked gives the items that hold, and of whose round the works was not yet
// told in this way.
func untasked(c Case, kind TaskKind, holds func(Item) bool) []Item {
	done := map[string]bool{}
	for _, claim := range c.Claims {
		if claim.Task == kind {
			done[claim.Cycle] = true
		}
	}
	var items []Item
	for _, i := range c.Vehicle.Items {
		if !done[i.Cycle] && holds(i) {
			items = append(items, i)
		}
	}
	return items
}

func taskDraft(c Case, kind TaskKind, items []Item, format string) (TaskDraft, bool) {
	if len(items) == 0 {
		return TaskDraft{}, false
	}
	items = items[:min(len(items), mostLines)]
	t := TaskDraft{Serial: c.Vehicle.Serial, Kind: kind}
	what := make([]string, len(items))
	for n, i := range items {
		t.Cycles = append(t.Cycles, i.Cycle)
		what[n] = fmt.Sprintf("%s (%s, by %s)", i.Title, i.ID, i.ActBy.Long())
	}
	t.Text = fmt.Sprintf(format, c.Vehicle.Serial, strings.Join(what, "; "))
	return t, true
}
