package warranty

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// reason makes a reason; facts are names and values in turn, and those without
// a value are left out.
func reason(rule, record, sentence string, facts ...string) vehicle.Reason {
	r := vehicle.Reason{Rule: rule, Record: record, Sentence: sentence}
	for i := 0; i+1 < len(facts); i += 2 {
		if facts[i+1] != "" {
			r.Facts = append(r.Facts, vehicle.Fact{Name: facts[i], Value: facts[i+1]})
		}
	}
	return r
}

// excludedRule is the rule that goodwill asks for again.
const excludedRule = "EXCLUDED"

// unit is the one in which distances are told.
func (q *Question) unit() vehicle.Unit {
	if q.Print.Valid() {
		return q.Print
	}
	return vehicle.Miles
}

func (q *Question) print(d vehicle.Distance) string { return d.Text(q.unit()) }

// place is the position as it is said.
func (q *Question) spoken() string {
	if q.Position == "" {
		return "vehicle"
	}
	return strings.ReplaceAll(q.Position, "-", " ")
}

// promise names a term in a sentence: “One year, parts and labour” of the works.
func promise(t *Term) string { return fmt.Sprintf("“%s” of %s", t.Title, t.By()) }

// until says up to when a term covers, as it goes on in a sentence.
func (q *Question) until(tc *TermCover) string {
	switch {
	case tc.Last.IsZero() && !tc.Limited:
		return "without an end"
	case tc.Last.IsZero():
		return fmt.Sprintf("up to %s of true distance", q.print(tc.Until))
	case !tc.Limited:
		return fmt.Sprintf("up to and including %s", tc.Last.Long())
	}
	return fmt.Sprintf("up to and including %s or %s of true distance, whichever comes first", tc.Last.Long(), q.print(tc.Until))
}

func (q *Question) coversReason(tc *TermCover, p period) vehicle.Reason {
	facts := []string{"first_date", tc.First.String(), "last_date", tc.Last.String()}
	if tc.Limited {
		facts = append(facts, "until_distance", q.print(tc.Until), "distance", q.print(q.Distance.Value))
	}
	end := q.until(tc)
	if p.distance > 0 && !tc.Limited {
		facts = append(facts, "limit", q.print(p.distance), "distance", q.print(q.Distance.Value))
		end += fmt.Sprintf(", and for %s since, which is more than the vehicle has run in all", q.print(p.distance))
	}
	rule, what := "COVERED", promise(&tc.Term)
	if p.repair != nil {
		rule, what = "COVERED_REPAIR", "what a repair gets by "+what
	}
	return reason(rule, tc.Term.Name(), fmt.Sprintf("It is covered by %s: it began on %s, the day of %s, and covers %s.",
		what, tc.First.Long(), p.start.event, end), facts...)
}

func (q *Question) notYetReason(b beginning) vehicle.Reason {
	return reason("NOT_STARTED", "", fmt.Sprintf("The term begins with %s, and the vehicle is still at the works.", b.event))
}

func (q *Question) beforeReason(tc *TermCover, p period) vehicle.Reason {
	return reason("NOT_STARTED", p.start.record, fmt.Sprintf("The term began on %s, the day of %s, and not before.",
		tc.First.Long(), p.start.event), "first_date", tc.First.String())
}

func (q *Question) timeReason(tc *TermCover, p period) vehicle.Reason {
	on := q.under(tc.Term.Midnight).early
	over := tc.Last.DaysUntil(on)
	sentence := fmt.Sprintf("%s ended on %s, %s before: it is for %s from %s, the day of %s.", wording.UpperFirst(promise(&tc.Term)),
		tc.Last.Long(), ago(tc.Last, on), wording.Count(p.months, "month"), tc.First.Long(), p.start.event)
	return reason("TIME_OVER", tc.Term.Name(), sentence, "first_date", tc.First.String(), "last_date", tc.Last.String(), "days_over", fmt.Sprint(over))
}

func (q *Question) distanceReason(tc *TermCover, ran vehicle.Distance) vehicle.Reason {
	has, limit := q.print(ran), q.print(max(0, tc.Until))
	if has == limit {
		has = "a little more than that"
	}
	if !q.Distance.Known {
		has = "at least " + has
	}
	return reason("DISTANCE_OVER", tc.Term.Name(), fmt.Sprintf("%s ended at %s of true distance, and the vehicle has run %s.",
		wording.UpperFirst(promise(&tc.Term)), limit, has), "until_distance", limit, "distance", q.print(ran))
}

func (q *Question) ranHereReason(tc *TermCover, p period, ran vehicle.Distance) vehicle.Reason {
	here := q.print(ran - p.start.atMost.Value)
	return reason("DISTANCE_OVER", tc.Term.Name(), fmt.Sprintf("%s ends %s after %s, and on this vehicle alone the unit has run %s.",
		wording.UpperFirst(promise(&tc.Term)), q.print(p.distance), p.start.event, here), "limit", q.print(p.distance), "distance_here", here)
}

func (q *Question) ownerReason(tc *TermCover, change vehicle.Date) vehicle.Reason {
	return reason("OWNER_CHANGED", tc.Term.Name(), fmt.Sprintf("%s does not go to another owner, and the vehicle came to one on %s.",
		wording.UpperFirst(promise(&tc.Term)), change.Long()), "change_date", change.String(), "last_date", tc.Last.String())
}

func (q *Question) ownersPartReason(t *Term) vehicle.Reason {
	return reason("OWNERS_PART", q.Unit.Record, fmt.Sprintf("What stands at the %s is the owner's own modification, which %s does not cover.",
		q.spoken(), promise(t)), "part", q.Unit.Part)
}

func (q *Question) excludedReason(t *Term, x Exclusion) vehicle.Reason {
	return reason(excludedRule, t.Name(), fmt.Sprintf("%s leaves this out: %s", wording.UpperFirst(promise(t)), wording.Ended(x.Text)), "exclusion", x.ID)
}

func restReason(r *Repair) vehicle.Reason {
	return reason("REPAIRED_REST", r.Record, fmt.Sprintf("It was repaired under this term on %s; what was repaired has the rest of the term.", r.Date.Long()),
		"repair_date", r.Date.String())
}

// furtherReasons are those that do not decide but explain the numbers.
func (q *Question) furtherReasons(tc *TermCover, p period) []vehicle.Reason {
	var all []vehicle.Reason
	if tc.First.IsZero() || tc.EndedBy == OwnerLimb {
		return nil
	}
	if !tc.Last.IsZero() && p.months > 0 && tc.Added == 0 && tc.EndedBy != OwnerLimb && tc.Last.Day < tc.First.Day && tc.Last == lastDay(tc.First, p.months) {
		all = append(all, reason("MONTH_END", "", fmt.Sprintf("%s %d has no day %d, so that the term ends with the last day of the month.",
			tc.Last.Month, tc.Last.Year, tc.First.Day), "last_date", tc.Last.String()))
	}
	if tc.Added > 0 {
		all = append(all, reason("DAYS_OUT", "", fmt.Sprintf("%s on which the vehicle could not be used for a covered fault %s added at the end.",
			wording.Count(tc.Added, "day"), wording.Verb(tc.Added, "was", "were")), "days_added", fmt.Sprint(tc.Added)))
	}
	if on := q.under(tc.Term.Midnight); on.early != on.late && tc.State != NotCovered && (on.late.After(tc.Last) && !tc.Last.IsZero() || on.early.Before(tc.First)) {
		all = append(all, reason("MIDNIGHT", "", fmt.Sprintf("At that moment it was %s in one of the two zones, the works' and the owner's, and %s in the other; the day in the owner's favour counts.",
			on.early.Long(), on.late.Long()), "earlier_date", on.early.String(), "later_date", on.late.String()))
	}
	if tc.State != NotCovered {
		all = append(all, reason("PAYS", tc.Term.Name(), pays(&tc.Term), "covers_parts", yes(tc.Term.CoversParts), "covers_labour", yes(tc.Term.CoversWork)))
		for _, x := range tc.Term.Exclusions {
			if len(x.Positions) == 0 {
				all = append(all, reason("LEAVES_OUT", tc.Term.Name(), "Left out where an examination finds it: "+wording.Ended(x.Text), "exclusion", x.ID))
			}
		}
	}
	return all
}

func (q *Question) noTermReason() vehicle.Reason {
	if q.Position == "" {
		return reason("NO_TERM", "", "No term is for this vehicle as a whole.")
	}
	return reason("NO_TERM", "", fmt.Sprintf("No term is for the %s of this vehicle.", q.spoken()), "position", q.Position)
}

func (q *Question) goodwillReason(tc *TermCover) vehicle.Reason {
	return reason("GOODWILL", tc.Term.Name(), "Nothing is owed; but the term ended so lately that the works looks at the fault as goodwill, if asked.")
}

func (q *Question) nothingReason() vehicle.Reason {
	return reason("NOTHING_THERE", "", fmt.Sprintf("By the record nothing stands at the %s of this vehicle, so that only what is for the vehicle as a whole or for that position was looked at; see that the position is the right one.",
		q.spoken()), "position", q.Position)
}

func (q *Question) servicedReason() vehicle.Reason {
	return reason("SERVICED_ELSEWHERE", q.Facts.Serviced.Record, "The vehicle was serviced by others as well; that by itself is no ground for refusing anything.")
}

func sampleReason() vehicle.Reason {
	return reason("SAMPLE", "", "This rests on a sample, to be signed by the works' engineer: until then it is an example and no promise.")
}

// sentence is the answer in one sentence.
func (c *Cover) sentence(q *Question) string {
	what := "The " + q.spoken()
	switch c.State {
	case Covered:
		return fmt.Sprintf("%s is covered on %s, %s.", what, c.On.Long(), c.by(q))
	case Unknown:
		return fmt.Sprintf("Whether the %s is covered cannot be said yet: %s", q.spoken(), c.Question)
	}
	return fmt.Sprintf("%s is not covered on %s: %s", what, c.On.Long(), c.Reasons[0].Sentence)
}

// by says what is paid by the term that ends last, and what another pays beside
// it.
func (c *Cover) by(q *Question) string {
	says := func(what string, tc *TermCover) string {
		return fmt.Sprintf("%s, by %s, %s", what, promise(&tc.Term), q.until(tc))
	}
	best := c.Best()
	parts, work := best.Term.CoversParts, best.Term.CoversWork
	if parts == c.Parts && work == c.Work {
		return says(paid(parts, work), best)
	}
	for i := range c.Terms {
		switch tc := &c.Terms[i]; {
		case tc.State != Covered:
		case !parts && tc.Term.CoversParts:
			return says("labour", best) + "; parts also, " + strings.TrimPrefix(says("", tc), ", ")
		case !work && tc.Term.CoversWork:
			return says("parts", best) + "; labour also, " + strings.TrimPrefix(says("", tc), ", ")
		}
	}
	return says(paid(parts, work), best)
}

// pays says what a term pays for.
func pays(t *Term) string {
	switch {
	case t.CoversParts && t.CoversWork:
		return "It pays for parts and labour."
	case t.CoversParts:
		return "It pays for parts and not for labour."
	case t.CoversWork:
		return "It pays for labour and not for parts."
	}
	return "It pays for neither parts nor labour."
}

func paid(parts, work bool) string {
	switch {
	case parts && work:
		return "parts and labour"
	case parts:
		return "parts only"
	}
	return "labour only"
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// ago is how long one day lies before another, as it is said: long ones in whole
// months or years.
func ago(day, on vehicle.Date) string {
	days, months := day.DaysUntil(on), day.MonthsUntil(on)
	said, whole := wording.Count(months, "month"), months
	switch {
	case days <= 90:
		return wording.Count(days, "day")
	case months >= 24:
		said, whole = wording.Count(months/12, "year"), months-months%12
	}
	if day.AddMonths(whole).Before(on) {
		return "more than " + said
	}
	return said
}
