package bulletin

import (
	"fmt"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// What comes from an export, or from another works' records, comes with what was
// done and by whom, which no call records again. These say whether it can have
// come about.

// aDay is by how much clocks of processes may differ, generously: what they wrote
// must come back in.
const aDay = 24 * time.Hour

// Restored says everything that is wrong with a version that comes in whatever
// state, in the words of the API's fields. today is the last day on which it may
// have been issued. The error is of kind Invalid.
func (b *Bulletin) Restored(compiler vehicle.PredicateCompiler, today vehicle.Date) error {
	c := &checking{}
	if err := b.Check(compiler); err != nil {
		c.wrong = fault.FieldsOf("", err)
	}
	c.text("withdraw_reason", b.WithdrawReason, maxText, b.State == Withdrawn)
	c.must(b.SupersededBy == "" || len(b.SupersededBy) <= maxID && bulletinID.MatchString(b.SupersededBy), "superseded_by", b.SupersededBy,
		"a bulletin, as in bulletins/C-2026-05")
	switch b.State {
	case Draft:
		c.must(b.Issued.IsZero(), "issue_date", b.Issued.String(), "nothing, for a draft")
	case Issued, Superseded, Withdrawn:
		c.must(!b.Issued.IsZero() && !b.Issued.After(today), "issue_date", b.Issued.String(), "the day on which it was issued, "+today.String()+" or earlier")
		c.must(b.Sample || strings.TrimSpace(b.SignedBy) != "", "signed_by", "", "the engineer's name, or sample: true")
	default:
		c.must(false, "state", itoa(int(b.State)), "draft, issued, superseded or withdrawn")
	}
	if b.State == Draft || b.State == Issued {
		c.must(b.WithdrawReason == "", "withdraw_reason", b.WithdrawReason, "nothing, for a version that was not withdrawn")
		c.must(b.SupersededBy == "", "superseded_by", b.SupersededBy, "nothing, for a version whose place nothing took")
	}
	c.must(b.State != Superseded || b.SupersededBy != "", "superseded_by", "", "what takes its place, as in bulletins/C-2026-05")
	return fault.InvalidFields(c.wrong)
}

// Restored says everything that is wrong with a vehicle on the list of a
// campaign that comes with its steps. today bounds their days.
func (f *FollowUp) Restored(today vehicle.Date) error {
	c := &checking{}
	c.must(!f.Entered.IsZero() && !f.Entered.After(today), "enter_date", f.Entered.String(), "the day on which it came on the list, "+today.String()+" or earlier")
	c.must(len(f.Steps) > 0 && f.Steps[0].Kind == StepEntered, "steps", itoa(len(f.Steps))+" steps", "steps of which the first, and no other, is ENTERED")
	before := time.Time{}
	for i := range f.Steps {
		s, at := &f.Steps[i], fmt.Sprintf("steps[%d]", i)
		c.restored(at, s, today)
		c.must(i == 0 || s.Kind != StepEntered, at+".kind", "ENTERED", "what happened after it came on the list")
		c.must(!s.Recorded.Before(before.Add(-aDay)), at+".create_time", s.Recorded.Format(time.RFC3339), "not before the step before it")
		before = s.Recorded
	}
	return fault.InvalidFields(c.wrong)
}

// restored looks at one step.
func (c *checking) restored(at string, s *Step, today vehicle.Date) {
	last := today
	if s.Kind == StepBooked {
		last = today.AddDays(maxAhead)
	}
	c.must(s.Kind > NoStep && s.Kind < stepKinds, at+".kind", itoa(int(s.Kind)), "what happened")
	c.must(!s.Date.IsZero() && !s.Date.After(last), at+".step_date", s.Date.String(), "the day it happened, not after "+last.String())
	c.must(!fault.Longer(s.Text, maxText), at+".text", fault.Length(s.Text), fault.AtMost(maxText))
	c.must(len(s.Parts) <= maxUsed, at+".parts", itoa(len(s.Parts))+" parts", "at most "+itoa(maxUsed))
	c.must(len(s.Measured) <= maxUsed, at+".measured", itoa(len(s.Measured))+" values", "at most "+itoa(maxUsed))
	c.must(s.Kind != StepWritten || s.Letter != "", at+".letter", "", "which letter it was")
	c.must(s.Kind != StepDone || s.Evidence != "", at+".evidence", "", "the record that shows it")
	c.must(strings.TrimSpace(s.RecordedBy) != "" && !fault.Longer(s.RecordedBy, maxTitle), at+".recorded_by", s.RecordedBy, "who recorded it")
	c.must(!s.Recorded.IsZero() && !vehicle.DateOf(s.Recorded.UTC()).After(today), at+".create_time", s.Recorded.Format(time.RFC3339), "when it was recorded, "+today.String()+" or earlier")
}

// Follows says whether versions of one bulletin can stand beside each other, in
// order of their numbers: counted from 1 without a gap, of one kind, one issued
// at most, a draft only at the end. It gives the first that cannot, and why.
func Follows(versions []*Bulletin) (at int, wrong fault.Field, ok bool) {
	issued := 0
	for i, b := range versions {
		switch {
		case b.Version != i+1:
			return i, fault.Field{Name: "name", Got: b.Name(), Want: Name(b.ID) + "/versions/" + itoa(i+1) + ", the next"}, false
		case b.Kind != versions[0].Kind:
			return i, fault.Field{Name: "kind", Got: itoa(int(b.Kind)), Want: itoa(int(versions[0].Kind)) + ", as the version before"}, false
		case b.State == Draft && i < len(versions)-1:
			return i, fault.Field{Name: "state", Got: "a draft", Want: "a version that was issued, for there is a later one"}, false
		case b.State == Issued && issued > 0:
			return i, fault.Field{Name: "state", Got: "issued", Want: "one version that is issued: version " + itoa(issued) + " is"}, false
		case b.State == Issued:
			issued = b.Version
		}
	}
	return 0, fault.Field{}, true
}

// writtenBefore says whether a letter was written before the follow-up was taken
// over from another store, whose claims of letters did not come along.
func (f *FollowUp) writtenBefore(cycle string) bool {
	for i := range f.Steps {
		s := &f.Steps[i]
		if s.Kind == StepWritten && s.Letter == cycle && !s.Recorded.After(f.Imported) {
			return true
		}
	}
	return false
}
