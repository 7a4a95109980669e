package partswire

import (
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle/vehiclewire"
)

// Records writes the records in an answer, with what their store adds. Find
// gives the part of a number, for its title.
type Records struct {
	Part         func(*parts.Part) *partsv1.Part
	Supersession func(*parts.Supersession) *partsv1.Supersession
	Capacity     func(*parts.Capacity) *partsv1.Capacity
	Setting      func(*parts.Setting) *partsv1.Setting
	Find         func(number string) *parts.Part
}

// AnswerProto writes an answer.
func AnswerProto(a *parts.Answer, write Records) *partsv1.PartAnswer {
	out := &partsv1.PartAnswer{
		Build: build.Name(a.Serial), Question: a.Question, OnDate: vehiclewire.DateProto(a.On), AskBack: a.AskBack,
	}
	for i := range a.Choices {
		out.Choices = append(out.Choices, write.choice(&a.Choices[i]))
	}
	for _, f := range a.Fluids {
		out.Fluids = append(out.Fluids, write.Fluid(f))
	}
	for _, s := range a.Settings {
		out.Settings = append(out.Settings, write.SheetSetting(s))
	}
	if r := a.Refusal; r != nil {
		out.Refusal = &partsv1.Refusal{
			Rule: r.Rule, Sentence: r.Sentence, BelongsTo: r.BelongsTo, Reasons: vehiclewire.Reasons(r.Reasons),
		}
	}
	return out
}

// Fluid writes a fluid of a vehicle.
func (write Records) Fluid(f parts.SheetFluid) *partsv1.SheetFluid {
	return &partsv1.SheetFluid{
		Capacity: write.Capacity(f.Capacity), FilledFluid: f.FilledFluid, FilledQuantity: vehiclewire.QuantityProto(f.FilledQuantity),
		Reasons: vehiclewire.Reasons(f.Reasons),
	}
}

// SheetSetting writes a setting of a vehicle.
func (write Records) SheetSetting(s parts.SheetSetting) *partsv1.SheetSetting {
	return &partsv1.SheetSetting{Setting: write.Setting(s.Setting), Window: s.Window(), Reasons: vehiclewire.Reasons(s.Reasons)}
}

func (write Records) choice(c *parts.Choice) *partsv1.PartChoice {
	out := &partsv1.PartChoice{
		Position: c.Position, PositionTitle: c.Title, Order: write.Part(c.Order), Quantity: int32(c.Quantity),
		FittedPart: c.FittedPart, FittedSerial: c.FittedSerial, FittedLot: c.FittedLot, SpecifiedPart: c.SpecifiedPart,
		FittedOrigin: buildv1.FittedOrigin(c.Origin), FittedDate: vehiclewire.DateProto(c.FittedSince), FittedChange: c.FittedBy,
		Application: c.Application, RenewWith: write.lines(c.RenewWith), AlsoOrder: write.lines(c.AlsoOrder), Contents: write.lines(c.Contents),
		Tools: c.Tools, Reasons: vehiclewire.Reasons(c.Reasons), Caution: c.Caution,
	}
	for _, s := range c.Supersessions {
		out.Supersessions = append(out.Supersessions, write.Supersession(s))
	}
	for _, f := range c.Capacities {
		out.Capacities = append(out.Capacities, write.Capacity(f))
	}
	for _, s := range c.Settings {
		out.Settings = append(out.Settings, &partsv1.SheetSetting{Setting: write.Setting(s), Window: s.Window()})
	}
	return out
}

// lines writes lines with what their parts are called.
func (write Records) lines(lines []parts.Line) []*partsv1.KitLine {
	out := LinesProto(lines)
	for i, l := range lines {
		if p := write.Find(l.Part); p != nil {
			out[i].Title, out[i].Unit = p.Title, p.Unit
		}
	}
	return out
}
