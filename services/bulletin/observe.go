package bulletin

import (
	"slices"
	"time"

	"halfshaft/services/vehicle"
)

// Seen is what other records say of a vehicle on a day.
type Seen struct {
	OwnerUnknown bool
	OwnerSince   vehicle.Date // the day on which its owner of today became so; zero where it is not known
	Exported     vehicle.Date // zero: it was not
	Scrapped     vehicle.Date // likewise
	Match        *Match       // nil where it was not judged
	Versions     []*Bulletin  // that were issued, in order; none where they are not compared
	CalledOff    bool         // the campaign was withdrawn
}

// Observe gives the steps that other records make necessary; none when nothing
// changed since. f with them observes the same and gets none.
func (f *FollowUp) Observe(seen Seen, on vehicle.Date, now time.Time) []Step {
	o := observer{follow: f, at: f.Standing(), on: on, now: now}
	o.issuedAgain(seen)
	o.takenBack(seen)
	if o.at.State.Settled() {
		return nil
	}
	o.conditions(seen.Match)
	switch {
	case o.cured(seen.Match):
	case o.happened(seen.Scrapped) && !o.since(StepScrapped, seen.Scrapped):
		o.add(StepScrapped, seen.Scrapped, "The record of the vehicle says so.")
	case seen.CalledOff:
		o.add(StepCalledOff, on, "")
	case o.happened(seen.Exported):
		if o.at.State != Exported && !o.since(StepExported, seen.Exported) {
			o.add(StepExported, seen.Exported, "The record of the vehicle says so.")
		}
	default:
		o.owner(seen)
	}
	o.newVersion(seen.Versions)
	return o.steps
}

// issuedAgain takes a vehicle back on the list that was called off with a
// version that was withdrawn, when a later one holds and is for it.
func (o *observer) issuedAgain(seen Seen) {
	if o.at.State != CalledOff || seen.CalledOff || seen.Match == nil || !seen.Match.State.OnList() || !seen.Scrapped.IsZero() {
		return
	}
	s := o.add(StepReopened, o.on, "The campaign was called off, and holds again. "+seen.Match.Sentence())
	if n := len(seen.Versions); n > 0 {
		s.Evidence = seen.Versions[n-1].Name()
	}
	o.at = o.after().Standing()
}

// takenBack opens again what the service closed by the record of the vehicle,
// when that says so no longer: it was put down as scrapped by mistake, or has
// come back from abroad. What a person recorded on the list is a person's to
// take back.
func (o *observer) takenBack(seen Seen) {
	text := ""
	switch {
	case o.last().RecordedBy != ByService || o.happened(seen.Scrapped):
	case o.at.State == Scrapped:
		text = "The record of the vehicle says no longer that it was scrapped."
	case o.at.State == Exported && !o.happened(seen.Exported):
		text = "The record of the vehicle says no longer that it is out of the country."
	}
	if text == "" {
		return
	}
	o.add(StepReopened, o.on, text)
	o.at = o.after().Standing()
}

// happened says whether a day is on record and has come.
func (o *observer) happened(d vehicle.Date) bool { return !d.IsZero() && !d.After(o.on) }

// newVersion begins a round for a vehicle that is not settled, when a version
// that came since its owner was written to asks more than the one before.
func (o *observer) newVersion(versions []*Bulletin) {
	f := o.after()
	st := f.Standing()
	asks := f.asksMore(versions)
	if st.State.Settled() || asks == "" {
		return
	}
	if st.State == Booked {
		asks += " It was booked for " + st.BookedFor.Long() + ": agree a day anew, and record it."
	}
	o.at = st
	o.add(StepNewVersion, o.on, asks).Evidence = versions[len(versions)-1].Name()
}

// after is the follow-up with what was collected so far.
func (o *observer) after() *FollowUp {
	f := *o.follow
	f.Steps = slices.Concat(f.Steps, o.steps)
	return &f
}

// observer collects what is to be recorded.
type observer struct {
	follow *FollowUp
	at     Standing
	on     vehicle.Date
	now    time.Time
	steps  []Step
}

func (o *observer) add(k StepKind, d vehicle.Date, text string) *Step {
	if d.Before(o.at.RoundBegan) && k != StepDone {
		d = o.at.RoundBegan
	}
	o.steps = append(o.steps, Step{Kind: k, Date: d, Text: text, RecordedBy: ByService, Recorded: o.now})
	return &o.steps[len(o.steps)-1]
}

func (o *observer) conditions(m *Match) {
	switch {
	case m == nil:
	case m.State.OnList() && !o.at.NoLongerMeets.IsZero():
		o.add(StepMeetsAgain, o.on, m.Sentence())
	case !m.State.OnList() && o.at.NoLongerMeets.IsZero():
		o.add(StepNoLongerMeets, o.on, m.Sentence())
	}
}

// cured takes the remedy from the build record. What was found wrong is not
// done again by the change that it was done by: a change of the very day may be
// that one, and only one of a later day counts by itself.
func (o *observer) cured(m *Match) bool {
	if m == nil || m.Cure == nil {
		return false
	}
	for _, s := range o.after().Steps {
		if s.Kind == StepFoundWrong && !m.Cure.Date.After(s.Date) || s.Kind == StepDone && s.Evidence == m.Cure.Record {
			return false
		}
	}
	s := o.add(StepDone, m.Cure.Date, "The build record has it.")
	s.Evidence, s.Parts = m.Cure.Record, slices.Clone(m.Cure.Parts)
	return true
}

// since says whether a step of the kind is on record for that day or a later
// one: what somebody reopened after it is not closed again by the same record.
// What comes back after the campaign was called off, or was opened again by the
// service itself, is looked at anew.
func (o *observer) since(k StepKind, d vehicle.Date) bool {
	found := false
	for _, s := range o.after().Steps {
		anew := s.Kind == StepCalledOff || s.Kind == StepReopened && s.RecordedBy == ByService
		found = !anew && (found || s.Kind == k && !s.Date.Before(d))
	}
	return found
}

// owner follows the owner's record. What a person found out, that letters come
// back for example, is undone by a person or by a new owner alone.
func (o *observer) owner(seen Seen) {
	last := o.last()
	fresh := !seen.OwnerUnknown && seen.OwnerSince.After(last.Date)
	switch {
	case seen.OwnerUnknown:
		if o.at.State != OwnerUnknown && o.at.State != Exported && o.at.State != Booked {
			o.add(StepOwnerUnknown, o.on, "No owner is on record.")
		}
	case o.at.State == OwnerUnknown && (fresh || last.RecordedBy == ByService):
		o.add(StepReopened, o.on, "Its owner is known.")
	case o.at.State == Refused && fresh:
		o.add(StepReopened, o.on, "It has a new owner.")
	}
}

// last is the step that led to where it stands.
func (o *observer) last() Step {
	for _, s := range slices.Backward(o.follow.Steps) {
		if s.Kind.stateAfter() == o.at.State {
			return s
		}
	}
	return Step{}
}
