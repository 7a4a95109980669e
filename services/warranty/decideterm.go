package warranty

import (
	"fmt"
	"slices"

	"halfshaft/services/vehicle"
)

// period is a stretch of time and distance that a term promises.
type period struct {
	start    beginning
	months   int
	distance vehicle.Distance
	repair   *Repair // of which it is the term; nil for the term itself
}

// own gives what the version that binds means. Where several may bind, it is
// the latest by which something hangs on which it is, and otherwise the latest.
func (q *Question) own(all []binding) TermCover {
	var said *TermCover
	for _, b := range all {
		tc := q.version(b)
		if said == nil || said.State == NotCovered && tc.State != NotCovered {
			said = &tc
		}
	}
	return *said
}

// version gives what one version means, were it the one that binds.
func (q *Question) version(b binding) TermCover {
	tc := q.cover(b.term, period{start: b.start, months: b.term.Months, distance: b.term.Distance})
	if r := q.lastRepair(b.term.Name()); r != nil && b.term.Repair.Months == 0 && r.Date.After(tc.First) {
		tc.Reasons = append(tc.Reasons, restReason(r))
	}
	if b.unsure != "" && tc.State == Covered {
		tc.State, tc.Question = Unknown, b.unsure
		tc.Reasons = append([]vehicle.Reason{reason("VERSION_UNKNOWN", "", "Another version of the term may hold instead, for it is not on record when that would have begun.",
			"question", b.unsure)}, tc.Reasons...)
	}
	return tc
}

// ofRepair gives what the latest repair under a version got beside the rest; it
// is that of the version that paid, whichever the records say today that binds.
func (q *Question) ofRepair(t *Term) (TermCover, bool) {
	r := q.lastRepair(t.Name())
	if r == nil || t.Repair.Months == 0 {
		return TermCover{}, false
	}
	return q.cover(t, period{
		start:  beginning{first: r.Date, at: r.At, event: "the repair", record: r.Record},
		months: t.Repair.Months, distance: t.Repair.Distance, repair: r,
	}), true
}

// cover decides about one period of a term. The checks that settle the matter
// come first, so that something is asked only where the answer could change it.
func (q *Question) cover(t *Term, p period) TermCover {
	tc := TermCover{Term: *t, OfRepair: p.repair != nil, Repair: p.repair}
	switch {
	case p.start.standing == notYet:
		tc.no(q.notYetReason(p.start))
		return tc
	case p.repair == nil && q.owners(t) == fitsNot:
		tc.no(q.ownersPartReason(t))
		return tc
	}
	if x, ok := q.excluded(t); ok {
		tc.no(q.excludedReason(t, x))
	}
	q.limits(&tc, p)
	q.inTime(&tc, p)
	q.inDistance(&tc, p)
	if tc.State != NotCovered {
		q.openQuestions(&tc, p)
	}
	if tc.State == NoState {
		tc.State = Covered
		tc.Reasons = append([]vehicle.Reason{q.coversReason(&tc, p)}, tc.Reasons...)
	}
	tc.Reasons = append(tc.Reasons, q.furtherReasons(&tc, p)...)
	return tc
}

// owners says whether a term is for what stands there in view of who had it
// fitted: for the owner's own modification only where it names the part.
func (q *Question) owners(t *Term) fit {
	switch u := q.Unit; {
	case u == nil || u.Source != SourceOwner || u.Part != "" && slices.Contains(t.Parts, u.Part):
		return fits
	case u.Part == "" && len(t.Parts) > 0:
		return fitsPart
	}
	return fitsNot
}

// no says that the term does not cover, for a reason.
func (tc *TermCover) no(r vehicle.Reason) {
	tc.State, tc.Question = NotCovered, ""
	tc.Reasons = append(tc.Reasons, r)
}

// ask says that the term may cover, and what would tell. Where something
// settled already that it does not, nothing is asked.
func (tc *TermCover) ask(rule, why, question string) {
	if tc.State == NotCovered {
		return
	}
	if tc.State != Unknown {
		tc.State, tc.Question = Unknown, question
	}
	tc.Reasons = append(tc.Reasons, reason(rule, "", why, "question", question))
}

// excluded finds the exclusion that holds: by the position, or as an
// examination found.
func (q *Question) excluded(t *Term) (Exclusion, bool) {
	for _, x := range t.Exclusions {
		if q.Position != "" && slices.Contains(x.Positions, q.Position) || slices.Contains(q.Exclusions, x.ID) {
			return x, true
		}
	}
	return Exclusion{}, false
}

// limits fills in the first and the last day, and the distance.
func (q *Question) limits(tc *TermCover, p period) {
	if p.start.standing != happened {
		return
	}
	tc.First = p.start.first
	if p.months > 0 {
		tc.Last = lastDay(tc.First, p.months)
		if tc.Term.ExtendedByDaysOut {
			tc.Last, tc.Added = extended(tc.First, tc.Last, Merge(q.Facts.Spans, q.under(EitherMidnight).late))
		}
	}
	if p.distance > 0 && p.start.at.Known {
		tc.Until, tc.Limited = p.start.at.Value+p.distance, true
	}
}

// inTime looks at the days: the first, the last, and the last of the owner to
// whom the promise was made.
func (q *Question) inTime(tc *TermCover, p period) {
	if tc.First.IsZero() {
		tc.ask("START_UNKNOWN", fmt.Sprintf("The term begins with %s, of which the day is not on record.", p.start.event), p.start.question)
		return
	}
	on := q.under(tc.Term.Midnight)
	if on.late.Before(tc.First) {
		tc.no(q.beforeReason(tc, p))
		return
	}
	if change := q.changed(tc, p); !change.IsZero() && (tc.Last.IsZero() || !change.After(tc.Last)) {
		tc.Last = change.AddDays(-1)
		if on.early.After(tc.Last) {
			tc.EndedBy = OwnerLimb
			tc.no(q.ownerReason(tc, change))
			return
		}
	}
	if !tc.Last.IsZero() && on.early.After(tc.Last) {
		tc.EndedBy = TimeLimb
		tc.no(q.timeReason(tc, p))
	}
}

// changed is the day on which the vehicle left the hands in which the term
// began, where the term does not go along; zero when it did not.
func (q *Question) changed(tc *TermCover, p period) vehicle.Date {
	if tc.Term.Transferable {
		return vehicle.Date{}
	}
	changes, _ := q.hands(p)
	for _, day := range changes {
		if day.After(tc.First) {
			return day
		}
	}
	return vehicle.Date{}
}

// hands are the days on which what a period is for came to somebody else, and
// whether nobody knows whose it is: the vehicle, or a unit that brings its term
// along from another.
func (q *Question) hands(p period) (changes []vehicle.Date, unknown bool) {
	if p.start.elsewhere {
		return q.Unit.OwnerChanges, q.Unit.OwnersUnknown
	}
	return q.Facts.OwnerChanges, q.Facts.OwnersUnknown
}

// inDistance looks at the true distance. Where the one at the start is not
// known, the vehicle cannot have run further since than in all; that settles it
// for one that has run less than the limit.
func (q *Question) inDistance(tc *TermCover, p period) {
	ran := q.ran()
	switch {
	case p.distance == 0:
	case tc.Limited && (q.Distance.Known || ran > tc.Until):
		if ran <= tc.Until {
			return
		}
		tc.endByDistance()
		tc.no(q.distanceReason(tc, ran))
	case p.start.standing == happened && p.start.atMost.Known && !tc.Limited && ran > p.start.atMost.Value+p.distance:
		tc.endByDistance()
		tc.no(q.ranHereReason(tc, p, ran))
	case !q.Distance.Known:
		tc.ask("DISTANCE_UNKNOWN", "The term ends by distance too, and the true distance on the day is not known.",
			"What did the odometer show on that day?")
	case p.start.standing != happened || !p.start.elsewhere && ran <= p.distance:
	case p.start.elsewhere:
		tc.ask("START_DISTANCE_UNKNOWN", fmt.Sprintf("The term ends %s after %s, and how far the unit ran on the vehicle that it came from is not known.", q.print(p.distance), p.start.event),
			"How far had the unit run when it came to this vehicle?")
	default:
		tc.ask("START_DISTANCE_UNKNOWN", fmt.Sprintf("The term ends %s after %s, and the true distance then is not known.", q.print(p.distance), p.start.event),
			fmt.Sprintf("What did the odometer show on the day of %s?", p.start.event))
	}
}

// endByDistance says that the distance ended it, or the distance too.
func (tc *TermCover) endByDistance() {
	switch tc.EndedBy {
	case TimeLimb:
		tc.EndedBy = BothLimbs
	case NoLimb:
		tc.EndedBy = DistanceLimb
	}
}

// ran is what the vehicle had run on the day, or at least: what it had run by an
// earlier day of which that is known.
func (q *Question) ran() vehicle.Distance {
	if q.Distance.Known {
		return q.Distance.Value
	}
	least, on := vehicle.Distance(0), q.under(EitherMidnight).early
	by := func(day vehicle.Date, at TrueDistance) {
		if at.Known && !day.IsZero() && !day.After(on) {
			least = max(least, at.least())
		}
	}
	f := &q.Facts
	by(f.Built, f.BuiltAt)
	by(f.Delivered, f.DeliveredAt)
	by(f.Registered, f.RegisteredAt)
	if q.Unit != nil {
		by(q.Unit.Fitted, q.Unit.FittedAt)
	}
	for i := range f.Repairs {
		by(f.Repairs[i].Date, f.Repairs[i].At)
	}
	return least
}

// openQuestions asks what the answer hangs on beside the distance.
func (q *Question) openQuestions(tc *TermCover, p period) {
	fit := q.fits(&tc.Term)
	switch {
	case p.repair != nil:
		fit = fits // somebody paid by it
	case fit == fits:
		fit = q.owners(&tc.Term)
	}
	switch fit {
	case fitsRelease:
		tc.ask("RELEASE_UNKNOWN", "The term is for certain releases, and the vehicle's is not on record.", "To which release was the vehicle built?")
	case fitsPart:
		tc.ask("PART_UNKNOWN", "The term is for certain parts, and which part stands there is not on record.", "Which part number is on the unit?")
	}
	if _, unknown := q.hands(p); !tc.Term.Transferable && unknown && (tc.First.IsZero() || q.under(tc.Term.Midnight).late.After(tc.First)) {
		tc.ask("OWNER_UNKNOWN", "The term does not go to another owner, and whose the vehicle is is not on record.",
			"Does the vehicle still belong to whom it belonged to when the term began?")
	}
}
