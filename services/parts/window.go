package parts

import (
	"fmt"

	"halfshaft/services/vehicle"
)

// Window says what the setting is, in its own unit and in the one of the other
// habit: "50 to 60 N·m (37 to 44 lbf·ft), aim at 55 N·m".
func (s *Setting) Window() string {
	unit, ok := vehicle.UnitName(s.Unit)
	if !ok {
		unit = s.Unit
	}
	text := rangeText(s.Lower, s.Upper, unit)
	if other, ok := s.otherUnit(); ok && text != "" {
		if also := rangeText(s.converted(s.Lower, other), s.converted(s.Upper, other), other); also != "" {
			text += " (" + also + ")"
		}
	}
	switch {
	case s.Target == "":
		return text
	case text == "":
		return s.Target + " " + unit
	}
	return text + ", aim at " + s.Target + " " + unit
}

// otherUnit is the unit in which people of the other habit would read it:
// thousandths of an inch for what is set with a gauge, inches for what is set
// with a rule.
func (s *Setting) otherUnit() (string, bool) {
	other, ok := vehicle.CustomaryUnit(s.Unit)
	if other != "thou" {
		return other, ok
	}
	const rule = 3 // mm
	for _, limit := range []string{s.Lower, s.Upper, s.Target} {
		if d, err := vehicle.ParseDecimal(limit); err == nil && d.Float64() >= rule {
			return "in", true
		}
	}
	return other, ok
}

func rangeText(lower, upper, unit string) string {
	switch {
	case lower == "" && upper == "":
		return ""
	case lower == "":
		return fmt.Sprintf("at most %s %s", upper, unit)
	case upper == "":
		return fmt.Sprintf("at least %s %s", lower, unit)
	case lower == upper:
		return fmt.Sprintf("%s %s", lower, unit)
	}
	return fmt.Sprintf("%s to %s %s", lower, upper, unit)
}

// converted gives the figures of a limit in another unit; empty for none.
func (s *Setting) converted(text, unit string) string {
	value, err := vehicle.ParseDecimal(text)
	if text == "" || err != nil {
		return ""
	}
	figures, _ := vehicle.Quantity{Value: value, Unit: s.Unit}.Figures(unit)
	return figures
}
