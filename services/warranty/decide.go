package warranty

import (
	"cmp"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// Decide says whether a position is covered on a day, by which terms, until
// when, and why. See the package comment for what is decided at the boundaries.
func Decide(q *Question) *Cover {
	c := &Cover{Position: q.Position, On: q.On, Distance: q.Distance, State: NotCovered}
	if !q.At.IsZero() {
		c.On, _ = DaysAt(q.At, q.WorksZone, q.OwnerZone)
	}
	if c.On.IsZero() {
		c.State, c.Question = Unknown, "On which day did it fail?"
		c.Reasons = []vehicle.Reason{reason("DAY_UNKNOWN", "", "The day of the failure is not known.")}
		c.Sentence = c.sentence(q)
		return c
	}
	for _, b := range q.bindings() {
		c.Terms = append(c.Terms, q.own(b))
	}
	for i := range q.Terms {
		if tc, ok := q.ofRepair(&q.Terms[i]); ok {
			c.Terms = append(c.Terms, tc)
		}
	}
	slices.SortStableFunc(c.Terms, nearest)
	c.conclude(q)
	return c
}

// conclude makes the answer of what the terms say.
func (c *Cover) conclude(q *Question) {
	for i := range c.Terms {
		t := &c.Terms[i]
		if t.State == Covered {
			c.State = Covered
			c.Parts, c.Work = c.Parts || t.Term.CoversParts, c.Work || t.Term.CoversWork
		} else if t.State == Unknown && c.State != Covered {
			c.State = Unknown
		}
	}
	for i := range c.Terms {
		// What covers rests on the terms that do, what does not on all of them.
		if t := &c.Terms[i]; t.State == c.State || c.State == NotCovered {
			c.Sample = c.Sample || t.Term.Sample
		}
	}
	best := c.Best()
	if best != nil {
		c.Reasons = append(c.Reasons, best.Reasons...)
		if c.State == Unknown {
			c.Question = best.Question
		}
	} else {
		c.Reasons = append(c.Reasons, q.noTermReason())
	}
	if i := slices.IndexFunc(c.Terms, func(t TermCover) bool { return q.looksAt(&t) }); c.State == NotCovered && i >= 0 {
		c.Goodwill = true
		if i > 0 { // another decided, and how this one ended is not said yet
			c.Reasons = append(c.Reasons, c.Terms[i].Reasons...)
		}
		c.Reasons = append(c.Reasons, q.goodwillReason(&c.Terms[i]))
	}
	if q.Bare {
		c.Reasons = append(c.Reasons, q.nothingReason())
	}
	if q.Facts.Serviced.Elsewhere {
		c.Reasons = append(c.Reasons, q.servicedReason())
	}
	if c.Sample {
		c.Reasons = append(c.Reasons, sampleReason())
	}
	c.Sentence = c.sentence(q)
}

// nearest orders what terms say: what covers first, then what may, and in each
// what ends last.
func nearest(a, b TermCover) int {
	rank := map[State]int{Covered: 0, Unknown: 1, NotCovered: 2}
	if n := cmp.Compare(rank[a.State], rank[b.State]); n != 0 {
		return n
	}
	return cmp.Or(a.endless(b), b.Last.Compare(a.Last), a.unlimited(b), cmp.Compare(b.Until, a.Until),
		strings.Compare(a.Term.Name(), b.Term.Name()))
}

func (t *TermCover) endless(o TermCover) int { return first(t.Last.IsZero(), o.Last.IsZero()) }

func (t *TermCover) unlimited(o TermCover) int { return first(!t.Limited, !o.Limited) }

// first puts what is so before what is not.
func first(a, b bool) int {
	switch {
	case a && !b:
		return -1
	case b && !a:
		return 1
	}
	return 0
}

// looksAt says whether a term is over for so little that the works looks at a
// fault all the same.
func (q *Question) looksAt(t *TermCover) bool {
	g := q.Goodwill
	leftOut := func(r vehicle.Reason) bool { return r.Rule == excludedRule }
	if g == (Goodwill{}) || t.EndedBy == NoLimb || t.EndedBy == OwnerLimb || slices.ContainsFunc(t.Reasons, leftOut) {
		return false
	}
	inTime := t.Last.IsZero() || !q.under(t.Term.Midnight).early.After(t.Last.AddMonths(g.Months))
	inDistance := !t.Limited || q.Distance.Known && q.Distance.Value-t.Until <= g.Distance
	return inTime && inDistance
}
