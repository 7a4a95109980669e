package warranty

import (
	"fmt"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Restored says what is wrong with a claim that comes with all that was done to
// it, from an export or from paper, in the names of the API: what it says of the
// failure, and whether its moves can have led to where it stands. today is the
// last day that anything in it may have.
//
// It asks for what the moves of this package always leave behind and for no
// more, so that every claim they made comes back in.
func (c *Claim) Restored(today vehicle.Date) []fault.Field {
	k := checker{fields: c.Faults(today)}
	k.must(c.State > NoClaimState && int(c.State) < len(stateNames), "state", fmt.Sprint(uint8(c.State)), "where the claim stands")
	k.madeSteps(c, today)
	k.madeDecisions(c, today)
	k.standsWith(c)
	if a := c.Authorisation; a != nil {
		k.number("authorisation.limit_minor", a.Limit, 1, maxAmount)
		k.text("authorisation.text", a.Text, maxText, true)
		k.by("authorisation.authorised_by", a.By)
		k.moment("authorisation.authorise_time", a.Time, today)
	}
	if r := c.Recovery; r != nil {
		k.must(r.State > NoRecovery && r.State < recoveriesEnd, "recovery.state", fmt.Sprint(uint8(r.State)), "asked, agreed, received or refused")
		k.text("recovery.supplier", r.Supplier, maxLine, true)
		k.number("recovery.asked_minor", r.Asked, 1, maxAmount)
		k.number("recovery.received_minor", r.Received, 0, max(r.Asked, 0))
		k.text("recovery.text", r.Text, maxText, false)
	}
	return k.fields
}

// aDay is by how much clocks of processes may differ, generously: what they wrote
// must come back in.
const aDay = 24 * time.Hour

// standsWith compares the state with what led to it.
func (k *checker) standsWith(c *Claim) {
	state, decided := c.State.String(), c.Last()
	switch c.State {
	case Draft:
		k.must(len(c.Steps) == 0, "steps", fmt.Sprint(len(c.Steps))+" steps", "none, for a draft")
		k.must(c.Authorisation == nil, "authorisation", "", "none, for a draft")
	case Submitted:
		k.fields = append(k.fields, c.missing()...)
	case Accepted, Declined:
		k.must(decided != nil && decided.state() == c.State, "decisions", "", "one that leaves the claim "+state)
	case Appealed, Closed:
		k.must(decided != nil, "decisions", "", "one, for a claim that is "+state)
	}
	if c.State == Draft || c.State == Submitted || c.State == Withdrawn {
		k.must(decided == nil, "decisions", fmt.Sprint(len(c.Decisions))+" decisions", "none, for a claim that is "+state)
	}
	if n := len(c.Steps); c.State != Draft {
		k.must(n > 0 && c.Steps[n-1].State == c.State, "steps", fmt.Sprint(n)+" steps", "steps of which the last left the claim "+state)
	}
	k.must(c.Recovery == nil || decided != nil, "recovery", "", "none, for a claim that was not decided")
}

func (k *checker) madeSteps(c *Claim, today vehicle.Date) {
	before := time.Time{}
	for i, s := range c.Steps {
		at := fmt.Sprintf("steps[%d]", i)
		k.must(s.State > Draft && int(s.State) < len(stateNames), at+".state", fmt.Sprint(uint8(s.State)), "what the claim came to")
		k.text(at+".text", s.Text, maxText, false)
		k.by(at+".recorded_by", s.By)
		k.moment(at+".create_time", s.Time, today)
		k.must(!s.Time.Before(before.Add(-aDay)), at+".create_time", s.Time.Format(time.RFC3339), "not before the step before it")
		before = s.Time
	}
}

// madeDecisions looks at the decisions: one, and another for an appeal, by
// somebody else.
func (k *checker) madeDecisions(c *Claim, today vehicle.Date) {
	k.must(len(c.Decisions) <= 2, "decisions", fmt.Sprint(len(c.Decisions)), "at most 2: the second answers an appeal, and holds")
	for i, d := range c.Decisions {
		at := fmt.Sprintf("decisions[%d]", i)
		k.must(d.Outcome > NoOutcome && d.Outcome < outcomesEnd, at+".outcome", fmt.Sprint(uint8(d.Outcome)), "accepted, partly, goodwill or declined")
		k.number(at+".parts_minor", d.Parts, 0, maxAmount)
		k.number(at+".labour_minor", d.Work, 0, maxAmount)
		k.number(at+".other_minor", d.Other, 0, maxAmount)
		k.must(d.Outcome != Decline || d.Paid() == 0, at+".outcome", fmt.Sprintf("declined with %d", d.Paid()), "nothing to pay")
		k.text(at+".reason", d.Reason, maxText, true)
		k.must(d.Exclusion == "" || positionName.MatchString(d.Exclusion), at+".exclusion_id", d.Exclusion, "the short name of an exclusion, as in wear")
		k.by(at+".decided_by", d.By)
		k.moment(at+".decide_time", d.Time, today)
		k.must(i == 0 || d.By != c.Decisions[i-1].By, at+".decided_by", d.By, "somebody else than who decided before")
	}
}

func (k *checker) by(name, who string) {
	k.must(who != "" && readable(who, maxLine), name, who, "who it was")
}

// moment wants a time that has come. A day is given, for who imports may be
// ahead of UTC.
func (k *checker) moment(name string, t time.Time, today vehicle.Date) {
	k.must(!t.IsZero() && !vehicle.DateOf(t.UTC()).After(today), name, t.Format(time.RFC3339), "when it was, "+today.String()+" or earlier")
}
