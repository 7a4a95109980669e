package console

import (
	"context"
	"fmt"
	"strings"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/wording"
)

// Fluids prints what is filled in where on a vehicle, and what must not meet.
func (c *Console) Fluids(ctx context.Context, serial, position string, on vehicle.Date) error {
	return c.technical(ctx, serial, position, on, func(s *sheet, t *partsv1.TechnicalSheet) bool {
		s.line("%s: fluids and capacities, on %s", serialOf(t.GetBuild()), day(t.GetOnDate()))
		if len(t.GetFluids()) == 0 {
			s.line("  The technical data have none for this.")
		}
		sample := false
		for _, f := range t.GetFluids() {
			sample = sample || f.GetCapacity().GetSample()
			sheetFluid(s, f)
		}
		return sample
	})
}

func sheetFluid(s *sheet, f *partsv1.SheetFluid) {
	s.heading("  %s", place(f.GetCapacity().GetPosition()))
	s.text("    fill    ", capacityText(f.GetCapacity()))
	if f.GetFilledFluid() != "" {
		s.text("    built   ", strings.TrimSpace(quantity(f.GetFilledQuantity())+" of "+f.GetFilledFluid()))
	}
	for _, r := range f.GetReasons() {
		s.text("    why     ", r.GetSentence())
	}
	if f.GetCapacity().GetCaution() != "" {
		s.text("    CAUTION ", f.GetCapacity().GetCaution())
	}
}

// sheetSetting prints a setting; its heading where it is at another position
// than the one before.
func sheetSetting(s *sheet, one *partsv1.SheetSetting, before string) (at string) {
	if at = one.GetSetting().GetPosition(); at != before {
		s.heading("  %s", place(at))
	}
	s.text("    set     ", settingText(one))
	for _, more := range []struct{ label, text string }{
		{"    how     ", one.GetSetting().GetMethod()}, {"    tools   ", strings.Join(one.GetSetting().GetTools(), "; ")},
		{"    CAUTION ", one.GetSetting().GetCaution()},
	} {
		if more.text != "" {
			s.text(more.label, more.text)
		}
	}
	return at
}

// Settings prints what everything on a vehicle is set and tightened to.
func (c *Console) Settings(ctx context.Context, serial, position string, on vehicle.Date) error {
	return c.technical(ctx, serial, position, on, func(s *sheet, t *partsv1.TechnicalSheet) bool {
		s.line("%s: settings, on %s", serialOf(t.GetBuild()), day(t.GetOnDate()))
		if len(t.GetSettings()) == 0 {
			s.line("  The technical data have none for this.")
		}
		at, sample := "", false
		for _, one := range t.GetSettings() {
			sample = sample || one.GetSetting().GetSample()
			at = sheetSetting(s, one, at)
		}
		return sample
	})
}

func (c *Console) technical(ctx context.Context, serial, position string, on vehicle.Date, write func(*sheet, *partsv1.TechnicalSheet) (sample bool)) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	t, err := c.Parts.GetTechnicalSheet(ctx, &partsv1.GetTechnicalSheetRequest{
		Build: name, Position: position, OnDate: vehiclewire.DateProto(on)})
	if err != nil {
		return err
	}
	return c.print(t, func(s *sheet) {
		sample := write(s, t)
		for _, q := range t.GetOpenQuestions() {
			s.text("  Open: ", q.GetSentence())
		}
		if sample {
			s.heading("%s", sampleNote)
		}
	})
}

// capacityText is a fluid in a line: "1.4 l of SAE 90 GL-5 (to the level plug);
// never mix with …".
func capacityText(f *partsv1.Capacity) string {
	text := fmt.Sprintf("%s of %s", quantity(f.GetQuantity()), f.GetFluid())
	if m := strings.TrimSuffix(f.GetMethod(), "."); m != "" {
		text += " (" + wording.LowerFirst(m) + ")"
	}
	if len(f.GetNeverMix()) > 0 {
		var families []string
		for _, m := range f.GetNeverMix() {
			families = append(families, place(m))
		}
		text += "; never mix with " + strings.Join(families, " or ")
	}
	if f.GetSample() {
		text += " *"
	}
	return text
}

// settingText is a setting in a line: "torque of the case bolts: 40 to 50 N·m".
func settingText(one *partsv1.SheetSetting) string {
	m := one.GetSetting()
	text := place(m.GetCharacteristic())
	if m.GetSubject() != "" {
		text += ", " + m.GetSubject()
	}
	text += ": " + one.GetWindow()
	if m.GetSample() {
		text += " *"
	}
	return text
}

func hasSample(capacities []*partsv1.Capacity, settings []*partsv1.SheetSetting) bool {
	for _, f := range capacities {
		if f.GetSample() {
			return true
		}
	}
	for _, one := range settings {
		if one.GetSetting().GetSample() {
			return true
		}
	}
	return false
}
