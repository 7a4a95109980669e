package warranty

import (
	"fmt"
	"slices"
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// The moves of a claim. Each gives the claim as it reads afterwards and leaves
// the one it was called on as it was; the error is a refusal of package fault.

var stateNames = [...]string{"nowhere", "a draft", "submitted", "waiting for an answer", "accepted", "declined", "appealed", "closed", "withdrawn"}

func (s ClaimState) String() string {
	if int(s) < len(stateNames) {
		return stateNames[s]
	}
	return stateNames[NoClaimState]
}

// Begin gives the draft that a claim begins as: what it says of the failure, the
// work and the costs, and nothing that is for the works to say.
func Begin(c Claim, m Move) (Claim, error) {
	draft := Claim{Serial: c.Serial, ID: c.ID, State: Draft, RecordedBy: m.By, Created: m.Time}
	draft.take(c)
	return draft, fault.InvalidFields(draft.Faults(m.latest()))
}

// take copies what whoever claims may say.
func (c *Claim) take(o Claim) {
	c.Position, c.Failed, c.Reading = o.Position, o.Failed, o.Reading
	c.Symptom, c.Cause, c.Remedy = o.Symptom, o.Cause, o.Remedy
	c.Parts, c.Labour, c.Other = slices.Clone(o.Parts), slices.Clone(o.Labour), slices.Clone(o.Other)
	c.Currency, c.Exclusions = o.Currency, slices.Clone(o.Exclusions)
	c.ServiceEntry, c.Organisation = o.ServiceEntry, o.Organisation
}

// stands refuses a move unless the claim is in one of the states.
func (c *Claim) stands(what string, states ...ClaimState) error {
	if slices.Contains(states, c.State) {
		return nil
	}
	return &fault.Error{
		Kind: fault.FailedPrecondition, Reason: "CLAIM_STATE",
		Message: fmt.Sprintf("This claim is %s, and cannot be %s now.", c.State, what),
		Meta:    map[string]string{"state": c.State.String(), "record": c.Name()},
	}
}

// moved brings the claim to a state and writes down what was said to it.
func (c Claim) moved(to ClaimState, m Move) Claim {
	c.State = to
	c.Steps = append(slices.Clone(c.Steps), Step{State: to, Text: m.Text, By: m.By, Time: m.Time})
	return c
}

// said refuses a move without its words.
func (m Move) said(needed bool) error {
	var k checker
	k.text("text", m.Text, maxText, needed)
	return fault.InvalidFields(k.fields)
}

// Edited takes what a claim says anew of the failure, the work and the costs: in
// a draft, or while something is asked. The currency stays once something was
// authorised or decided, and so does the position once something was decided.
func (c Claim) Edited(new Claim, m Move) (Claim, error) {
	if err := c.stands("changed", Draft, Asked); err != nil {
		return Claim{}, err
	}
	old := c
	c.take(new)
	fields := c.Faults(m.latest())
	if (old.Authorisation != nil || len(old.Decisions) > 0) && c.Currency != old.Currency {
		fields = append(fields, fault.Field{Name: "currency", Got: c.Currency, Want: old.Currency + ", in which something was authorised or decided"})
	}
	if len(old.Decisions) > 0 && c.Position != old.Position {
		fields = append(fields, fault.Field{Name: "position", Got: c.Position, Want: old.Position + ", about which the works decided"})
	}
	if d := c.Last(); d != nil && c.Totals().Claimed < d.Paid() {
		fields = append(fields, fault.Field{Name: "parts", Got: strconv.FormatInt(c.Totals().Claimed, 10), Want: fmt.Sprintf("%d or more altogether, which the works decided to pay", d.Paid())})
	}
	if err := fault.InvalidFields(fields); err != nil {
		return Claim{}, err
	}
	return c, nil
}

// Submit hands a draft in, or answers what was asked. The cover on the day of
// the failure is kept with the claim.
func (c Claim) Submit(m Move, cover *Cover) (Claim, error) {
	if err := c.stands("submitted", Draft, Asked); err != nil {
		return Claim{}, err
	}
	if err := m.said(false); err != nil {
		return Claim{}, err
	}
	if err := fault.InvalidFields(append(c.Faults(m.latest()), c.missing()...)); err != nil {
		return Claim{}, err
	}
	if cover != nil {
		c.Cover = cover
	}
	if len(c.Decisions) > 0 {
		return c.moved(Appealed, m), nil // it was asked while an appeal was looked at
	}
	return c.moved(Submitted, m), nil
}

// Ask asks who claims for something that is missing.
func (c Claim) Ask(m Move) (Claim, error) {
	if err := c.stands("asked about", Submitted, Appealed); err != nil {
		return Claim{}, err
	}
	if err := m.said(true); err != nil {
		return Claim{}, err
	}
	return c.moved(Asked, m), nil
}

// Authorise lets work begin before the decision, up to a limit. It may be raised
// and never lowered, for work may have begun on the strength of it.
func (c Claim) Authorise(m Move, limit int64) (Claim, error) {
	if err := c.stands("authorised", Submitted, Asked); err != nil {
		return Claim{}, err
	}
	least := int64(1)
	if c.Authorisation != nil {
		least = c.Authorisation.Limit
	}
	var k checker
	k.number("limit_minor", limit, least, maxAmount)
	k.text("text", m.Text, maxText, true)
	if err := fault.InvalidFields(k.fields); err != nil {
		return Claim{}, err
	}
	c.Authorisation = &Authorisation{Limit: limit, Text: m.Text, By: m.By, Time: m.Time}
	return c.moved(c.State, m), nil
}

// Recover records what a supplier does: asked, agreed, received, refused, and
// asked again where there is something new to say.
func (c Claim) Recover(m Move, r Recovery) (Claim, error) {
	if err := c.stands("asked back", Accepted, Closed, Appealed); err != nil {
		return Claim{}, err
	}
	old := Recovery{}
	if c.Recovery != nil {
		old = *c.Recovery
	}
	paid := int64(0)
	if d := c.Last(); d != nil {
		paid = d.Paid()
	}
	var k checker
	k.must(follows(old.State, r.State), "recovery.state", r.State.String(), "one that follows "+old.State.String())
	k.text("recovery.supplier", r.Supplier, maxLine, true)
	k.must(old.Supplier == "" || r.Supplier == old.Supplier, "recovery.supplier", r.Supplier, old.Supplier+", who was asked")
	k.must(r.Asked >= 1 && r.Asked <= paid, "recovery.asked_minor", strconv.FormatInt(r.Asked, 10), fmt.Sprintf("1 to %d, what was paid", paid))
	if r.State == RecoveryReceived {
		k.must(r.Received > old.Received && r.Received <= r.Asked, "recovery.received_minor", strconv.FormatInt(r.Received, 10),
			fmt.Sprintf("more than %d, what was received before, and at most what was asked", old.Received))
	} else {
		k.must(r.Received == old.Received, "recovery.received_minor", strconv.FormatInt(r.Received, 10), fmt.Sprintf("%d, until more is received", old.Received))
	}
	k.text("recovery.text", r.Text, maxText, r.State == RecoveryRefused)
	if err := fault.InvalidFields(k.fields); err != nil {
		return Claim{}, err
	}
	c.Recovery = &r
	m.Text = r.Text
	return c.moved(c.State, m), nil
}

var recoveryNames = [...]string{"nothing", "ASKED", "AGREED", "RECEIVED", "REFUSED"}

func (s RecoveryState) String() string {
	if s < recoveriesEnd {
		return recoveryNames[s]
	}
	return recoveryNames[NoRecovery]
}

// follows says whether one state of asking back may come behind another.
func follows(old, new RecoveryState) bool {
	switch old {
	case NoRecovery, RecoveryRefused:
		return new == RecoveryAsked
	case RecoveryAsked, RecoveryAgreed:
		return new > old && new < recoveriesEnd
	case RecoveryReceived:
		return new == RecoveryReceived || new == RecoveryRefused // the rest
	}
	return false
}

// Close says that the claim is done with.
func (c Claim) Close(m Move) (Claim, error) {
	if err := c.stands("closed", Accepted, Declined); err != nil {
		return Claim{}, err
	}
	if err := m.said(false); err != nil {
		return Claim{}, err
	}
	return c.moved(Closed, m), nil
}

// Withdraw takes a claim back that is not decided. Of one that is, it takes the
// appeal back, and the decision holds.
func (c Claim) Withdraw(m Move) (Claim, error) {
	if err := c.stands("withdrawn", Draft, Submitted, Asked, Appealed); err != nil {
		return Claim{}, err
	}
	if err := m.said(false); err != nil {
		return Claim{}, err
	}
	if d := c.Last(); d != nil {
		return c.moved(d.state(), m), nil
	}
	return c.moved(Withdrawn, m), nil
}

// state is where a decision brings a claim.
func (d *Decision) state() ClaimState {
	if d.Outcome == Decline {
		return Declined
	}
	return Accepted
}

// latest is the latest day that the moment of a move is anywhere that counts.
func (m Move) latest() vehicle.Date {
	if m.Latest.IsZero() {
		return m.day()
	}
	return m.Latest
}

// day is the day of a move, for a deadline.
func (m Move) day() vehicle.Date {
	if m.On.IsZero() {
		return vehicle.DateOf(m.Time.UTC())
	}
	return m.On
}
