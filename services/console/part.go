package console

import (
	"context"
	"errors"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Part prints which part fits a vehicle, with the reasons; or why none is
// offered; or what to ask the caller.
func (c *Console) Part(ctx context.Context, serial, question string, on vehicle.Date) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	answer, err := c.Parts.AnswerPart(ctx, &partsv1.AnswerPartRequest{Build: name, Question: question, OnDate: vehiclewire.DateProto(on)})
	if err != nil {
		return err
	}
	err = c.print(answer, func(s *sheet) { partAnswer(s, answer) })
	if answer.GetRefusal() != nil {
		return errors.Join(err, ErrRefused)
	}
	return err
}

func partAnswer(s *sheet, a *partsv1.PartAnswer) {
	s.line("%s, %s, on %s", serialOf(a.GetBuild()), a.GetQuestion(), day(a.GetOnDate()))
	if r := a.GetRefusal(); r != nil {
		s.text("  ", r.GetSentence())
		for _, place := range r.GetBelongsTo() {
			s.text("    ", "It belongs on: "+place)
		}
		for _, reason := range r.GetReasons() {
			s.text("    ", reason.GetSentence())
		}
	}
	if a.GetAskBack() != "" {
		s.text("  ", "Ask: "+a.GetAskBack())
	}
	for _, choice := range a.GetChoices() {
		partChoice(s, choice)
	}
}

func partChoice(s *sheet, c *partsv1.PartChoice) {
	s.heading("  %s", c.GetPosition())
	s.line("    order   %d of %s, %s", max(c.GetQuantity(), 1), idOf(c.GetOrder().GetName()), c.GetOrder().GetTitle())
	if f := c.GetFittedPart(); f != "" {
		text := f
		if c.GetFittedSerial() != "" {
			text += ", serial " + c.GetFittedSerial()
		}
		if c.GetFittedLot() != "" {
			text += ", lot " + c.GetFittedLot()
		}
		s.line("    fitted  %s", text)
	}
	kitLines(s, "also", c.GetAlsoOrder())
	kitLines(s, "renew", c.GetRenewWith())
	for _, r := range c.GetReasons() {
		s.text("    why     ", r.GetSentence())
	}
	if c.GetCaution() != "" {
		s.text("    CAUTION ", c.GetCaution())
	}
}

func kitLines(s *sheet, label string, lines []*partsv1.KitLine) {
	for _, l := range lines {
		s.line("    %-7s %d of %s", label, max(l.GetQuantity(), 1), idOf(l.GetPart()))
	}
}
