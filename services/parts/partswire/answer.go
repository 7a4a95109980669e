package partswire

import (
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle/vehiclewire"
)

// AnswerProto writes an answer. part and supersession write the records in it,
// with what their store adds.
func AnswerProto(a *parts.Answer, part func(*parts.Part) *partsv1.Part, supersession func(*parts.Supersession) *partsv1.Supersession) *partsv1.PartAnswer {
	out := &partsv1.PartAnswer{
		Build: build.Name(a.Serial), Question: a.Question, OnDate: vehiclewire.DateProto(a.On), AskBack: a.AskBack,
	}
	for i := range a.Choices {
		c := &a.Choices[i]
		choice := &partsv1.PartChoice{
			Position: c.Position, Order: part(c.Order), Quantity: int32(c.Quantity),
			FittedPart: c.FittedPart, FittedSerial: c.FittedSerial, FittedLot: c.FittedLot, SpecifiedPart: c.SpecifiedPart,
			RenewWith: LinesProto(c.RenewWith), AlsoOrder: LinesProto(c.AlsoOrder),
			Reasons: vehiclewire.Reasons(c.Reasons), Caution: c.Caution,
		}
		for _, s := range c.Supersessions {
			choice.Supersessions = append(choice.Supersessions, supersession(s))
		}
		out.Choices = append(out.Choices, choice)
	}
	if r := a.Refusal; r != nil {
		out.Refusal = &partsv1.Refusal{
			Rule: r.Rule, Sentence: r.Sentence, BelongsTo: r.BelongsTo, Reasons: vehiclewire.Reasons(r.Reasons),
		}
	}
	return out
}
