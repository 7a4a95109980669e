package reminder

import (
	"fmt"
	"slices"
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
	// LetterIncomplete: a letter was printed without some of its characters.
	LetterIncomplete TaskKind = "LETTER_INCOMPLETE"
	// FindOwner: nobody knows whose a vehicle of a campaign is.
	FindOwner TaskKind = "FIND_OWNER"
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
	nobody, estate, silent := c.contacts()
	if !nobody || c.Vehicle.LostTrack || c.Vehicle.Scrapped {
		return TaskDraft{}, false
	}
	today := vehicle.DateOf(c.Now.UTC())
	items := untasked(c, NoContact, func(i Item) bool {
		return !i.Reading && i.Purpose() == Service && c.Vehicle.StageOn(i, today, c.Cadences) != NoStage &&
			!c.Vehicle.asleep(i, today) && c.answered(i.Cycle, today) == nil
	})
	what := "Nobody can be told that work on %s comes up: %s. Find out who has the vehicle now and record them with an address."
	switch {
	case len(silent) > 0:
		what = "Work on %s comes up: %s. There is no address that works for people/" +
			strings.Join(silent, ", people/") + ": telephone them, and record an address if they have one."
	case estate:
		what = "Work on %s comes up: %s. Its owner has died and nobody else is told: find the executor and record them with an address."
	}
	return taskDraft(c, NoContact, items, what)
}

// contacts says whether there is nobody whom the works can write to, though
// nobody wants that; whether an owner has died and no other owner and no
// executor is there; and who can only be telephoned.
func (c Case) contacts() (nobody, estate bool, silent []string) {
	told, wanted, heir := false, false, false
	for _, r := range c.People {
		if r.Role == "owner" || r.Role == "executor" {
			estate = estate || r.Deceased && r.Role == "owner"
			heir = heir || !r.Deceased
		}
		switch reason, ok := c.Allowed(r, Service); {
		case ok && len(r.Ways) > 0:
			told = true
		case ok:
			silent = append(silent, r.Person)
		case r.Notices && reason != Deceased:
			wanted = true
		}
	}
	estate = estate && !heir
	return !told && (estate || !wanted), estate, silent
}

// ownerSilent gives the task that is due when every receiver had the last
// notice long enough ago and the work is still not recorded.
func ownerSilent(c Case) (TaskDraft, bool) {
	var views []view
	for _, r := range c.People {
		if _, ok := c.Allowed(r, Service); ok && len(r.Ways) > 0 {
			views = append(views, c.viewOf(r))
		}
	}
	if len(views) == 0 {
		return TaskDraft{}, false
	}
	items := untasked(c, OwnerSilent, func(i Item) bool {
		for _, v := range views {
			if from := v.worksFrom(i); from.IsZero() || v.today.Before(from) || v.Vehicle.asleep(i, v.today) {
				return false
			}
		}
		return true
	})
	return taskDraft(c, OwnerSilent, items,
		"The last notice about %s went out and no work is recorded: %s. Telephone the owner; it may be done and not reported.")
}

// worksFrom gives the day from which the works is told of a round because this
// person had the last notice, or could not be given it by any way; zero as long
// as there is more to tell, or while an answer holds. An answer that has run
// out gives its days anew.
func (v view) worksFrom(i Item) vehicle.Date {
	cadence := v.Cadences.Of(i.Class)
	line := Line{i, v.stage(i)}
	last := v.told[i.Cycle]
	day := last.day
	switch {
	case i.Reading || i.Year != 0 || line.Stage < Due || v.answered(i.Cycle, v.today) != nil:
		return vehicle.Date{}
	case last.stage >= cadence.last():
	case line.Stage >= Overdue && v.blocked(line) == NoWay:
		for _, c := range v.Claims {
			if on := vehicle.DateOf(v.to.Local(c.Time)); c.Failed && c.Person == v.to.Person && c.Cycle == i.Cycle && on.After(day) {
				day = on
			}
		}
	default:
		return vehicle.Date{}
	}
	for _, a := range v.Answers {
		if until := a.Until(); a.Withdrawn.IsZero() && slices.Contains(a.Cycles, i.Cycle) && until.After(day) {
			day = until
		}
	}
	return day.AddDays(cadence.Works)
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
		if i.Campaign != nil {
			what[n] = fmt.Sprintf("%s (%s, letter %d of %s)", i.Title, i.ID, i.Campaign.Letter, i.ActBy.Long())
		}
	}
	t.Text = fmt.Sprintf(format, c.Vehicle.Serial, strings.Join(what, "; "))
	return t, true
}
