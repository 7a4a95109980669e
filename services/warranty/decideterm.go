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

// covers gives what one version means: the term itself, and beside it what the
// latest repair under it got.
func (q *Question) covers(b binding) []TermCover {
	own := q.cover(b.term, period{start: b.start, months: b.term.Months, distance: b.term.Distance})
	repair := q.lastRepair(b.term.ID)
	if repair == nil {
		return []TermCover{own}
	}
	if b.term.Repair.Months == 0 {
		own.Reasons = append(own.Reasons, restReason(repair))
		return []TermCover{own}
	}
	return []TermCover{own, q.cover(b.term, period{
		start:  beginning{first: repair.Date, at: repair.At, event: "the repair", record: repair.Record},
		months: b.term.Repair.Months, distance: b.term.Repair.Distance, repair: repair,
	})}
}

// cover decides about one period of a term. The checks that settle the matter
// come first, so that something is asked only where the answer could change it.
func (q *Question) cover(t *Term, p period) TermCover {
	tc := TermCover{Term: *t, OfRepair: p.repair != nil, Repair: p.repair}
	switch {
	case p.start.standing == notYet:
		tc.no(q.notYetReason(p.start))
		return tc
	case q.Unit != nil && q.Unit.Source == SourceOwner && !slices.Contains(t.Parts, q.Unit.Part):
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
		q.openQuestions(&tc)
	}
	if tc.State == NoState {
		tc.State = Covered
		tc.Reasons = append([]vehicle.Reason{q.coversReason(&tc, p)}, tc.Reasons...)
	}
	tc.Reasons = append(tc.Reasons, q.furtherReasons(&tc, p)...)
	return tc
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
	if change := q.changed(tc); !change.IsZero() && (tc.Last.IsZero() || !change.After(tc.Last)) {
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
func (q *Question) changed(tc *TermCover) vehicle.Date {
	if tc.Term.Transferable {
		return vehicle.Date{}
	}
	for _, day := range q.Facts.OwnerChanges {
		if day.After(tc.First) {
			return day
		}
	}
	return vehicle.Date{}
}

// inDistance looks at the true distance. Where the one at the start is not
// known, the vehicle cannot have run further since than in all; that settles it
// for one that has run less than the limit.
func (q *Question) inDistance(tc *TermCover, p period) {
	switch {
	case p.distance == 0:
	case tc.Limited && q.Distance.Known:
		if q.Distance.Value <= tc.Until {
			return
		}
		if tc.EndedBy == TimeLimb {
			tc.EndedBy = BothLimbs
		} else if tc.EndedBy == NoLimb {
			tc.EndedBy = DistanceLimb
		}
		tc.no(q.distanceReason(tc))
	case !q.Distance.Known:
		tc.ask("DISTANCE_UNKNOWN", "The term ends by distance too, and the true distance on the day is not known.",
			"What did the odometer show on that day?")
	case p.start.standing != happened || q.Distance.Value <= p.distance-q.ranBefore(p):
	default:
		tc.ask("START_DISTANCE_UNKNOWN", fmt.Sprintf("The term ends %s after %s, and the true distance then is not known.", q.print(p.distance), p.start.event),
			fmt.Sprintf("What did the odometer show on the day of %s?", p.start.event))
	}
}

// ranBefore is what the unit may have run elsewhere, where its start lies on
// another vehicle and nobody knows: all of the limit, so that nothing follows
// from the distance of this vehicle.
func (q *Question) ranBefore(p period) vehicle.Distance {
	if p.repair == nil && q.Unit != nil && q.Unit.Moved && p.start.event == "its fitting" {
		return p.distance + 1
	}
	return 0
}

// openQuestions asks what the answer hangs on beside the distance.
func (q *Question) openQuestions(tc *TermCover) {
	switch q.fits(&tc.Term) {
	case fitsRelease:
		tc.ask("RELEASE_UNKNOWN", "The term is for certain releases, and the vehicle's is not on record.", "To which release was the vehicle built?")
	case fitsPart:
		tc.ask("PART_UNKNOWN", "The term is for certain parts, and which part stands there is not on record.", "Which part number is on the unit?")
	}
	if !tc.Term.Transferable && q.Facts.OwnersUnknown {
		tc.ask("OWNER_UNKNOWN", "The term does not go to another owner, and whose the vehicle is is not on record.",
			"Does the vehicle still belong to whom it belonged to when the term began?")
	}
}
