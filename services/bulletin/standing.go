package bulletin

import (
	"time"

	"halfshaft/services/vehicle"
)

// Standing is where a follow-up stands, made from its steps.
type Standing struct {
	State         FollowUpState
	Since         vehicle.Date // the day of the step that led there; of a booking, the day it was recorded
	Round         int          // from 1; grows when work is found wrong, when it is reopened, and by a new version that asks more
	RoundBegan    vehicle.Date
	Renewed       bool         // the round was begun by a new version
	NotifiedFirst vehicle.Date // zero while nobody was told or written to
	NotifiedLast  vehicle.Date // in this round, by somebody; zero likewise. It moves the letters; a letter does not
	WrittenLast   vehicle.Date // in this round, by letter; zero likewise
	BookedFor     vehicle.Date // zero unless booked
	DoneOn        vehicle.Date // of the last remedy that holds; zero for none
	DoneReading   vehicle.Entered
	Reinspected   vehicle.Date // zero while it was not
	NoLongerMeets vehicle.Date // since when; zero while the conditions hold
}

// Enter makes the follow-up of a vehicle that came on the list. With a cure its
// remedy is on record already, and it is done.
func (b *Bulletin) Enter(m Match, on vehicle.Date, now time.Time) FollowUp {
	f := FollowUp{Serial: m.Serial, Bulletin: b.ID, Version: b.Version, Entered: on, Because: m.Reasons}
	f.Steps = []Step{{Kind: StepEntered, Date: on, Text: m.Sentence(), RecordedBy: ByService, Recorded: now}}
	f.Steps = append(f.Steps, f.Observe(Seen{Match: &m}, on, now)...)
	return f
}

// Standing says where it stands after all its steps.
func (f *FollowUp) Standing() Standing {
	var st Standing
	for i := range f.Steps {
		st.take(&f.Steps[i], f.counts(&f.Steps[i]))
	}
	return st
}

// StandingOn says where it stood at the end of a day, by what is known now; the
// zero value before it came on the list.
func (f *FollowUp) StandingOn(day vehicle.Date) Standing {
	var st Standing
	for i := range f.Steps {
		if on := f.counts(&f.Steps[i]); !on.After(day) {
			st.take(&f.Steps[i], on)
		}
	}
	return st
}

// counts is the day from which a step counts: a booking from the day it was
// made, everything else from the day it happened, but not before the vehicle
// came on the list.
func (f *FollowUp) counts(s *Step) vehicle.Date {
	on := s.Date
	if s.Kind == StepBooked && !s.Recorded.IsZero() {
		on = vehicle.DateOf(s.Recorded)
	}
	if on.Before(f.Entered) {
		return f.Entered
	}
	return on
}

// stateAfter is where a kind of step leads, whatever stood before; none for a
// kind that leads nowhere by itself.
func (k StepKind) stateAfter() FollowUpState {
	switch k {
	case StepEntered, StepReopened:
		return Open
	case StepBooked:
		return Booked
	case StepDone:
		return Done
	case StepNotNeeded, StepPartNotThere:
		return NotNeeded
	case StepFoundWrong:
		return DoneWrong
	case StepRefused:
		return Refused
	case StepOwnerUnknown:
		return OwnerUnknown
	case StepExported:
		return Exported
	case StepScrapped:
		return Scrapped
	case StepCalledOff:
		return CalledOff
	}
	return NoFollowUpState
}

func (st *Standing) take(s *Step, on vehicle.Date) {
	if to := s.Kind.stateAfter(); to != NoFollowUpState {
		st.State, st.Since, st.BookedFor = to, on, vehicle.Date{}
	}
	switch s.Kind {
	case StepEntered, StepFoundWrong, StepReopened:
		st.begin(on)
	case StepNewVersion:
		st.begin(on)
		st.renew(on)
	case StepNotified:
		st.told(on)
	case StepWritten:
		st.written(s.Letter, on)
	case StepBooked:
		st.BookedFor = s.Date
	case StepDone:
		st.DoneOn, st.DoneReading, st.Reinspected = s.Date, s.Reading, vehicle.Date{}
	case StepReinspected:
		st.Reinspected = s.Date
	case StepNoLongerMeets:
		st.NoLongerMeets = on
	case StepMeetsAgain:
		st.NoLongerMeets = vehicle.Date{}
	}
}

// begin begins a round.
func (st *Standing) begin(on vehicle.Date) {
	st.Round, st.RoundBegan, st.Renewed = st.Round+1, on, false
	st.NotifiedLast, st.WrittenLast = vehicle.Date{}, vehicle.Date{}
	st.DoneOn, st.DoneReading, st.Reinspected = vehicle.Date{}, vehicle.Entered{}, vehicle.Date{}
}

// renew is what a new version does beside: the owner has not been told of it,
// has agreed no day for it and has not refused it. Whose the vehicle is, and
// where, stays as it was, and so does work that was found wrong.
func (st *Standing) renew(on vehicle.Date) {
	st.Renewed = true
	if st.State == Notified || st.State == Booked || st.State == Refused {
		st.State, st.Since, st.BookedFor = Open, on, vehicle.Date{}
	}
}

func (st *Standing) told(on vehicle.Date) {
	st.heard(on)
	if on.After(st.NotifiedLast) {
		st.NotifiedLast = on
	}
	if st.State == Open {
		st.State, st.Since = Notified, on
	}
}

// written is told by a letter, of which one from a former round says nothing of
// this one.
func (st *Standing) written(letter string, on vehicle.Date) {
	st.heard(on)
	if round, _, _ := readCycle(letter); round != st.Round {
		return
	}
	if on.After(st.WrittenLast) {
		st.WrittenLast = on
	}
	if st.State == Open {
		st.State, st.Since = Notified, on
	}
}

func (st *Standing) heard(on vehicle.Date) {
	if st.NotifiedFirst.IsZero() || on.Before(st.NotifiedFirst) {
		st.NotifiedFirst = on
	}
}

// Reinspection is when the remedy that was carried out is to be looked at
// again: the earliest day and the least distance after it of all items. Zero
// values for never, and once it was looked at.
func (f *FollowUp) Reinspection(b *Bulletin) (by vehicle.Date, after vehicle.Distance) {
	st := f.Standing()
	if st.State != Done || !st.Reinspected.IsZero() {
		return by, after
	}
	for _, item := range b.Remedy {
		again := item.Reinspection
		if again.Days > 0 {
			if d := st.DoneOn.AddDays(again.Days); by.IsZero() || d.Before(by) {
				by = d
			}
		}
		if again.Distance > 0 && (after == 0 || again.Distance < after) {
			after = again.Distance
		}
	}
	return by, after
}

// Sentence says where it stands on a day, in a sentence for staff.
func (f *FollowUp) Sentence(on vehicle.Date) string {
	st := f.StandingOn(on)
	text := st.words(on)
	if st.Round > 1 && !st.State.Settled() {
		text += " This is round " + itoa(st.Round) + "."
	}
	if !st.NoLongerMeets.IsZero() && !st.State.Settled() {
		text += " It no longer meets the conditions since " + st.NoLongerMeets.Long() + "; it stays on the list until a person has settled it."
	}
	return text
}

func (st *Standing) words(on vehicle.Date) string {
	since := st.Since.Long()
	switch st.State {
	case Open:
		return "Open since " + since + "; the owner has not been told."
	case Notified:
		if st.WrittenLast.After(st.NotifiedLast) {
			return "Open since " + st.RoundBegan.Long() + "; the last letter went out on " + st.WrittenLast.Long() + "."
		}
		return "Open since " + st.RoundBegan.Long() + "; the owner was last told on " + st.NotifiedLast.Long() + "."
	case Booked:
		if st.BookedFor.Before(on) {
			return "It was booked for " + st.BookedFor.Long() + ", and nothing is on record since."
		}
		return "It is booked for " + st.BookedFor.Long() + "."
	case Done:
		text := "The remedy was carried out on " + st.DoneOn.Long()
		if !st.Reinspected.IsZero() {
			text += ", and was looked at again on " + st.Reinspected.Long()
		}
		return text + "."
	case NotNeeded:
		return "It was looked at on " + since + " and needs no remedy."
	case DoneWrong:
		return "The work was found wrong on " + since + ": it is open again."
	case Refused:
		return "The owner refused on " + since + "."
	case OwnerUnknown:
		return "Nobody knows whose it is since " + since + "."
	case Exported:
		return "It left the country on " + since + ", as far as is known."
	case Scrapped:
		return "It was scrapped by " + since + "."
	case CalledOff:
		return "The campaign was called off on " + since + "."
	}
	return "It is not on the list."
}
