package warranty

import (
	"fmt"
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Appeals is how long somebody has for an appeal, and the works for its answer.
type Appeals struct {
	Days   int // after the decision, for an appeal; the last of them counts
	Answer int // after the appeal, for its decision
}

// StandardAppeals is 60 days for an appeal, which is the works' own (common
// practice, no source), and 40 days for its answer. The 40 days are from 16 CFR
// 703.5(d), a law of the United States about mechanisms for disputes, as an
// example and from memory: counsel and local law go first.
func StandardAppeals() Appeals { return Appeals{Days: 60, Answer: 40} }

// Decide decides a claim or, by somebody else, an appeal. A decision that pays
// less than what was authorised and claimed is refused, for the work was begun
// on that word; so is an appeal that ends worse than what it was about.
func (c Claim) Decide(m Move, d Decision, a Appeals) (Claim, error) {
	if err := c.stands("decided", Submitted, Appealed); err != nil {
		return Claim{}, err
	}
	if last := c.Last(); last != nil && last.By == m.By {
		return Claim{}, fault.New(fault.FailedPrecondition, "SAME_PERSON", "Who decided a claim does not decide its appeal: somebody else must.")
	}
	if err := fault.InvalidFields(c.decisionFaults(d)); err != nil {
		return Claim{}, err
	}
	d.By, d.Time, d.AppealUntil = m.By, m.Time, vehicle.Date{}
	if c.Last() == nil {
		d.AppealUntil = m.latest().AddDays(a.Days)
	}
	c.Decisions = append(append([]Decision(nil), c.Decisions...), d)
	m.Text = d.Reason
	return c.moved(d.state(), m), nil
}

// decisionFaults says what is wrong with a decision on this claim.
func (c *Claim) decisionFaults(d Decision) []fault.Field {
	var k checker
	t := c.Totals()
	k.text("decision.reason", d.Reason, maxText, true)
	k.must(d.Outcome > NoOutcome && d.Outcome < outcomesEnd, "decision.outcome", fmt.Sprint(d.Outcome), "accepted, partly, goodwill or declined")
	k.number("decision.parts_minor", d.Parts, 0, t.Parts)
	k.number("decision.labour_minor", d.Work, 0, t.Work)
	k.number("decision.other_minor", d.Other, 0, t.Other)
	paid := strconv.FormatInt(d.Paid(), 10)
	switch d.Outcome {
	case AcceptWhole:
		k.must(d.Paid() == t.Claimed, "decision.outcome", "ACCEPTED with "+paid, fmt.Sprintf("all of what is claimed, %d, or PARTLY", t.Claimed))
	case AcceptPart:
		k.must(d.Paid() > 0 && d.Paid() < t.Claimed, "decision.outcome", "PARTLY with "+paid, fmt.Sprintf("more than nothing and less than what is claimed, %d", t.Claimed))
	case AcceptGoodwill:
		k.must(d.Paid() > 0, "decision.outcome", "GOODWILL with nothing", "an amount to pay")
	case Decline:
		k.must(d.Paid() == 0, "decision.outcome", "DECLINED with "+paid, "nothing to pay")
	}
	k.must(!d.Owed() || c.Cover == nil || c.Cover.State != NotCovered, "decision.outcome", "what is owed", "GOODWILL, for the cover kept with the claim says that nothing is owed")
	if c.Authorisation != nil {
		least := min(c.Authorisation.Limit, t.Claimed)
		k.must(d.Paid() >= least, "decision", paid, fmt.Sprintf("%d or more, which was authorised before the work", least))
	}
	if last := c.Last(); last != nil {
		k.must(d.Paid() >= last.Paid(), "decision", paid, fmt.Sprintf("%d or more, for an appeal never ends worse than what it is about", last.Paid()))
	}
	k.must(d.Exclusion == "" || positionName.MatchString(d.Exclusion), "decision.exclusion_id", d.Exclusion, "the short name of an exclusion, as in wear")
	k.must(d.Exclusion == "" || d.Outcome != AcceptWhole, "decision.exclusion_id", d.Exclusion, "nothing, where all is paid")
	return k.fields
}

// Appeal asks to look again, once, up to and including the last day for it; cover is
// what is found now, nil to keep what was. What was accepted in whole has
// nothing to appeal against; an appeal that was taken back may be made again
// while there is time.
func (c Claim) Appeal(m Move, cover *Cover) (Claim, error) {
	if err := c.stands("appealed", Accepted, Declined, Closed); err != nil {
		return Claim{}, err
	}
	if err := m.said(true); err != nil {
		return Claim{}, err
	}
	d := c.Last()
	switch {
	case d == nil || d.Outcome == AcceptWhole:
		return Claim{}, fault.New(fault.FailedPrecondition, "NOTHING_TO_APPEAL", "All of this claim was accepted.")
	case d.AppealUntil.IsZero(): // of the first decision there is a last day
		return Claim{}, fault.New(fault.FailedPrecondition, "APPEAL_DECIDED", "This claim was looked at again already, and that decision holds.")
	case m.day().After(d.AppealUntil):
		return Claim{}, fault.New(fault.FailedPrecondition, "APPEAL_LATE", "The last day for an appeal was %s.", d.AppealUntil.Long())
	}
	if cover != nil {
		c.Cover = cover
	}
	return c.moved(Appealed, m), nil
}

// AnswerBy is the day by which an appeal is to be answered, counted from the day
// on which it was made; zero when none is open.
func (c *Claim) AnswerBy(a Appeals) vehicle.Date {
	if c.State != Appealed && (c.State != Asked || len(c.Decisions) == 0) {
		return vehicle.Date{}
	}
	made := vehicle.Date{}
	for i := len(c.Steps) - 1; i >= 0; i-- {
		if s := c.Steps[i]; s.State == Appealed {
			made = vehicle.DateOf(s.Time.UTC()) // the earliest since the decision: a question does not stop the clock
		} else if s.State != Asked {
			break
		}
	}
	return made.AddDays(a.Answer)
}
