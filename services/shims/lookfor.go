package shims

import "halfshaft/services/vehicle"

// What to look for when the pack that is needed cannot be right. A burr or dirt
// where the shims lie acts as a shim that nobody recorded, so it makes the pack
// needed thinner in either design; which bearing or spacer can be at fault
// follows from whether the joint is too loose or too tight. Common practice, no
// source.
var (
	looseAndThin = []vehicle.Reason{
		look("WRONG_BEARING", "A wrong or worn bearing: one narrower than it should be, or cone and cup of different pairs."),
		look("MISSING_SPACER", "A spacer or thrust washer left out on the shaft."),
		look("BURR", "A burr, dirt or old gasket under the cap or housing, which lifts it as a shim does."),
	}
	tightAndThin = []vehicle.Reason{
		look("WRONG_BEARING", "A wrong bearing: one wider than it should be, or not pressed home."),
		look("MISSING_SPACER", "A spacer fitted twice or too long, or one left out that holds the housing off."),
		look("BURR", "A burr or dirt where the shims lie, which takes up float as a shim does."),
	}
	tightAndThick = []vehicle.Reason{
		look("WRONG_BEARING", "A wrong bearing: one wider than it should be, or not pressed home."),
		look("MISSING_SPACER", "A spacer or gasket left out under the cap or housing, or fitted twice on the shaft."),
		look("BURR", "A burr or dirt behind a bearing, which makes the stack longer."),
	}
	looseAndThick = []vehicle.Reason{
		look("WRONG_BEARING", "A wrong or worn bearing: one narrower than it should be, or cone and cup of different pairs."),
		look("MISSING_SPACER", "A spacer or thrust washer left out of the stack."),
		look("BURR", "A burr or dirt under the cap or housing, which holds it off."),
	}
)

func look(rule, sentence string) vehicle.Reason {
	return vehicle.Reason{Rule: rule, Sentence: sentence}
}

// lookFor says what to look for before anything is fitted or ordered.
func (t teller) lookFor() []vehicle.Reason {
	all := []vehicle.Reason{t.placed()}
	loose := t.p.Design == AddsFloat // when the pack needed is too thin
	switch place := t.m.place(t.p.LargestCount); {
	case place == among:
	case place == aboveThickest && loose:
		all = append(all, tightAndThick...)
	case place == aboveThickest:
		all = append(all, looseAndThick...)
	case loose:
		all = append(all, looseAndThin...)
	default:
		all = append(all, tightAndThin...)
	}
	return append(all, t.measuredWrong(),
		look("PACK_RECORDED_WRONGLY", "A fitted pack that is not what was recorded: measure it with a micrometer, shim by shim."))
}

// placed says where the pack needed lies, which is why one should look.
func (t teller) placed() vehicle.Reason {
	needed := fact("needed", t.r.Needed.String())
	switch t.m.place(t.p.LargestCount) {
	case belowNothing:
		return vehicle.Reason{Rule: "LESS_THAN_NO_SHIM", Facts: []vehicle.Fact{needed},
			Sentence: "No joint needs less than no shim: something else is wrong. Look for the following before anything is ordered."}
	case belowThinnest:
		thinnest := t.m.sizes[len(t.m.sizes)-1].thickness
		return vehicle.Reason{Rule: "THINNER_THAN_ANY_SHIM", Facts: []vehicle.Fact{needed, fact("thinnest", thinnest.String())},
			Sentence: "The pack needed is thinner than the thinnest shim, " + thinnest.String() + ": something else may be wrong. Look for the following first."}
	case aboveThickest:
		most := t.m.pack.amount(thicknessOf(t.m.sizes[0].ticks * int64(t.p.LargestCount))).String()
		return vehicle.Reason{Rule: "THICKER_THAN_ANY_PACK", Facts: []vehicle.Fact{needed, fact("thickest_pack", most)},
			Sentence: "The pack needed is thicker than the thickest that is allowed, " + most + ": something else may be wrong. Look for the following first."}
	}
	return vehicle.Reason{Rule: "BETWEEN_PACKS", Facts: []vehicle.Fact{needed},
		Sentence: "The pack needed is neither too thin nor too thick, so the joint itself may be right. Two things are worth a check before shims are ordered."}
}

func (t teller) measuredWrong() vehicle.Reason {
	if t.isFloat() {
		return look("MEASURED_WRONGLY", "A measurement on the wrong side or not along the shaft, or on a flange that is loose: measure again, three times.")
	}
	return look("MEASURED_WRONGLY", "A measurement on the wrong side or arm, or with the seal or the track rod on: measure again, three times, with a steady pull.")
}
