package console

import (
	"context"
	"errors"
	"fmt"
	"strings"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
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
			s.text("    belongs ", place)
		}
		for _, reason := range r.GetReasons() {
			if reason.GetSentence() != r.GetSentence() {
				s.text("    why     ", reason.GetSentence())
			}
		}
	}
	if a.GetAskBack() != "" {
		s.text("  Ask: ", a.GetAskBack())
	}
	sample, at := false, ""
	for _, f := range a.GetFluids() {
		sheetFluid(s, f)
		sample = sample || f.GetCapacity().GetSample()
	}
	for _, one := range a.GetSettings() {
		at = sheetSetting(s, one, at)
		sample = sample || one.GetSetting().GetSample()
	}
	for _, choice := range a.GetChoices() {
		partChoice(s, choice)
		sample = sample || hasSample(choice.GetCapacities(), choice.GetSettings())
	}
	if sample {
		s.heading("%s", sampleNote)
	}
}

// sampleNote stands under every print that has unsigned values in it.
const sampleNote = "* Sample, to be signed by the works' engineer. Local law and licensed practice go first."

func partChoice(s *sheet, c *partsv1.PartChoice) {
	s.heading("  %s", c.GetPositionTitle())
	s.text("    order   ", fmt.Sprintf("%d of %s, %s", max(c.GetQuantity(), 1), idOf(c.GetOrder().GetName()), partTitle(c.GetOrder())))
	if text := fittedText(c); text != "" {
		s.text("    fitted  ", text)
	}
	kitLines(s, "also", c.GetAlsoOrder())
	kitLines(s, "renew", c.GetRenewWith())
	kitLines(s, "in it", c.GetContents())
	for _, f := range c.GetCapacities() {
		s.text("    fluid   ", capacityText(f))
	}
	for _, one := range c.GetSettings() {
		s.text("    set     ", settingText(one))
	}
	if tools := c.GetTools(); len(tools) > 0 {
		s.text("    tools   ", strings.Join(tools, "; "))
	}
	for _, r := range c.GetReasons() {
		s.text("    why     ", r.GetSentence())
	}
	if c.GetCaution() != "" {
		s.text("    CAUTION ", c.GetCaution())
	}
}

// place is a position for people: "front axle differential".
func place(position string) string { return strings.ReplaceAll(position, "-", " ") }

// partTitle is a part's title with what one of it is, where that is no piece.
func partTitle(p *partsv1.Part) string {
	if unit := p.GetUnit(); unit != "" && unit != "each" {
		return fmt.Sprintf("%s (%s)", p.GetTitle(), unit)
	}
	return p.GetTitle()
}

// fittedText says what is on the vehicle, and by which record.
func fittedText(c *partsv1.PartChoice) string {
	text := c.GetFittedPart()
	if text == "" {
		return ""
	}
	if c.GetFittedSerial() != "" {
		text += ", serial " + c.GetFittedSerial()
	}
	if c.GetFittedLot() != "" {
		text += ", lot " + c.GetFittedLot()
	}
	if by := origins[c.GetFittedOrigin()]; by != "" {
		text += ", " + by
	}
	if since := day(c.GetFittedDate()); since != "" {
		text += ", since " + since
	}
	return text
}

var origins = map[buildv1.FittedOrigin]string{
	buildv1.FittedOrigin_FITTED_ORIGIN_RELEASE:  "as built, by the release",
	buildv1.FittedOrigin_FITTED_ORIGIN_OPTION:   "as built, by an option",
	buildv1.FittedOrigin_FITTED_ORIGIN_BUILD:    "as built, by the build record",
	buildv1.FittedOrigin_FITTED_ORIGIN_SERVICE:  "fitted in service",
	buildv1.FittedOrigin_FITTED_ORIGIN_CAMPAIGN: "fitted in a campaign",
	buildv1.FittedOrigin_FITTED_ORIGIN_OWNER:    "the owner's own modification",
}

func kitLines(s *sheet, label string, lines []*partsv1.KitLine) {
	for _, l := range lines {
		text := fmt.Sprintf("%d of %s", max(l.GetQuantity(), 1), idOf(l.GetPart()))
		if l.GetTitle() != "" {
			text += ", " + l.GetTitle()
		}
		s.text(fmt.Sprintf("    %-7s ", label), text)
		label = ""
	}
}
