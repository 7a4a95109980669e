package disclosure

import (
	"fmt"

	"halfshaft/services/vehicle"
)

// Notice is the draft of what is written on the door frame after an odometer was
// replaced.
type Notice struct {
	Draft
	Replacement Replacement
	Needed      bool
	Reasons     []vehicle.Reason // why it is needed or not, and what else is to be done
}

// lawOfNotices names what a notice follows.
var lawOfNotices = []string{
	"49 U.S.C. 32704(a): an odometer may be repaired or replaced if the mileage stays the same; where it cannot, it is set to zero, and the owner or their agent attaches a written notice to the left door frame with the mileage before and the date. 32704(b): nobody may remove or alter the notice with intent to defraud.",
	example,
}

// NoticeFor drafts the notice about a replaced odometer. Where the mileage was
// carried over none is needed, and the draft has no lines.
func (v *Vehicle) NoticeFor(r Replacement) Notice {
	n := Notice{Replacement: r, Needed: !r.Preserved()}
	n.Law = lawOfNotices
	if !n.Needed {
		n.Reasons = []vehicle.Reason{r.preservedReason(), {
			Rule: "NO_NOTICE", Record: r.Record,
			Sentence: "Since the mileage stayed the same, no notice on the door frame is needed.",
		}}
		return n
	}
	n.Title = "ODOMETER REPLACED (draft of the notice for the left door frame)"
	n.Lines = []string{
		fmt.Sprintf("The odometer of this vehicle, serial %s, frame number %s, was replaced on %s%s.", v.Serial, orBlank(v.FrameNumber), r.On.Long(), by(r.By)),
		fmt.Sprintf("Mileage before: %s. The odometer then began at %s.", orUnwritten(r.Before), orUnwritten(r.After)),
		"Federal law (49 U.S.C. 32704): nobody may remove or alter this notice with intent to defraud.",
		fmt.Sprintf("Attached by %s (owner or their agent), on %s, signature %s.", blank, blank, blank),
	}
	n.Reasons = append([]vehicle.Reason{r.lostReason()}, r.leftToDo()...)
	n.Caution = "Make it so that it lasts, and leave it where it is when the frame is painted or the door renewed: move it only with a record. A later odometer needs a notice of its own beside it."
	return n
}

// orUnwritten is a reading, or a place to write one.
func orUnwritten(e vehicle.Entered) string {
	if e.IsZero() {
		return blank
	}
	return e.String()
}

// leftToDo says where what was done differs from what the law asks for.
func (r Replacement) leftToDo() []vehicle.Reason {
	var all []vehicle.Reason
	if r.Before.IsZero() {
		all = append(all, vehicle.Reason{Rule: "BEFORE_NOT_ON_RECORD", Record: r.Record,
			Sentence: "What the old odometer showed is not on record: find it out before the notice is written, and do not guess it."})
	}
	switch {
	case r.After.IsZero():
		all = append(all, vehicle.Reason{Rule: "AFTER_NOT_ON_RECORD", Record: r.Record,
			Sentence: "What the new odometer showed when it was fitted is not on record; the law asks for zero."})
	case !r.SetToZero():
		all = append(all, vehicle.Reason{
			Rule: "NOT_SET_TO_ZERO", Record: r.Record, Facts: []vehicle.Fact{{Name: "after", Value: r.After.String()}},
			Sentence: fmt.Sprintf("The new odometer began at %s, neither the mileage before nor zero, which the law asks for: ask counsel what is to be done.", r.After),
		})
	}
	if !r.Before.IsZero() && r.Dial.Unit.Valid() && r.Before.Unit != r.Dial.Unit {
		all = append(all, vehicle.Reason{
			Rule: "OTHER_UNIT", Record: r.Record, Facts: []vehicle.Fact{{Name: "before", Value: r.Before.String()}, {Name: "unit", Value: unitWord(r.Dial.Unit)}},
			Sentence: fmt.Sprintf("The old odometer counted %s and the new one counts %s: the notice names the unit with each number, and whoever reads the dial must too.", unitWord(r.Before.Unit), unitWord(r.Dial.Unit)),
		})
	}
	return all
}

// Notices drafts one for each replacement up to a day, the oldest first.
func (v *Vehicle) Notices(on vehicle.Date) []Notice {
	var all []Notice
	for _, r := range v.replacedBy(on) {
		all = append(all, v.NoticeFor(r))
	}
	return all
}
