package console

import (
	"strings"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
)

// setLines print which vehicles a bulletin is for.
func setLines(s *sheet, set *bulletinv1.BulletinSet) {
	if len(set.GetSerials()) > 0 {
		s.text("  ", strings.Join(set.GetSerials(), ", "))
	}
	if set.GetCondition() != nil {
		conditionLines(s, "  ", set.GetCondition())
	}
	if len(set.GetExceptSerials()) > 0 {
		s.text("  but not ", strings.Join(set.GetExceptSerials(), ", "))
	}
}

// conditionLines print a condition, those inside it further to the right.
func conditionLines(s *sheet, indent string, c *bulletinv1.SetCondition) {
	switch of := c.GetCondition().(type) {
	case *bulletinv1.SetCondition_All:
		s.line("%sall of", indent)
		conditionsLines(s, indent, of.All)
	case *bulletinv1.SetCondition_Any:
		s.line("%sone of", indent)
		conditionsLines(s, indent, of.Any)
	case *bulletinv1.SetCondition_Not:
		s.line("%snot", indent)
		conditionLines(s, indent+"  ", of.Not)
	default:
		s.text(indent, conditionText(c))
	}
}

func conditionsLines(s *sheet, indent string, all *bulletinv1.SetConditions) {
	for _, c := range all.GetConditions() {
		conditionLines(s, indent+"  ", c)
	}
}

// conditionText says a condition that has none inside it.
func conditionText(c *bulletinv1.SetCondition) string {
	switch of := c.GetCondition().(type) {
	case *bulletinv1.SetCondition_Release:
		return "follows release " + strings.Join(of.Release.GetValues(), " or ") + " today"
	case *bulletinv1.SetCondition_BuiltRelease:
		return "built to release " + strings.Join(of.BuiltRelease.GetValues(), " or ")
	case *bulletinv1.SetCondition_Option:
		return "has the option " + of.Option
	case *bulletinv1.SetCondition_BuiltOption:
		return "left the works with the option " + of.BuiltOption
	case *bulletinv1.SetCondition_Serials:
		return "serial" + between(of.Serials.GetFirst(), of.Serials.GetLast()) + butNot(of.Serials.GetExceptSerials())
	case *bulletinv1.SetCondition_Built:
		return "built" + between(day(of.Built.GetStartDate()), day(of.Built.GetEndDate()))
	case *bulletinv1.SetCondition_Delivered:
		return "delivered" + between(day(of.Delivered.GetStartDate()), day(of.Delivered.GetEndDate()))
	case *bulletinv1.SetCondition_Fitted:
		return fittedUnitText(of.Fitted)
	case *bulletinv1.SetCondition_Use:
		var kinds []string
		for _, k := range of.Use.GetKinds() {
			kinds = append(kinds, word(k, "USE_KIND_"))
		}
		return "used in: " + strings.Join(kinds, " or ") + everText(of.Use.GetEver())
	case *bulletinv1.SetCondition_Market:
		return "market " + strings.Join(of.Market.GetValues(), " or ")
	case *bulletinv1.SetCondition_Wheelbase:
		return "wheelbase " + strings.Join(of.Wheelbase.GetValues(), " or ")
	case *bulletinv1.SetCondition_Expression:
		return of.Expression
	}
	return ""
}

func between(first, last string) string {
	switch {
	case first == "" && last == "":
		return " at any time"
	case first == "":
		return " until " + last
	case last == "":
		return " from " + first
	}
	return " from " + first + " to " + last
}

func butNot(serials []string) string {
	if len(serials) == 0 {
		return ""
	}
	return " but not " + strings.Join(serials, ", ")
}

func everText(ever bool) string {
	if ever {
		return ", today or once"
	}
	return ", today"
}

func fittedUnitText(f *bulletinv1.FittedUnit) string {
	text := "fitted:"
	for _, part := range []struct {
		name   string
		values []string
	}{{"part", f.GetParts()}, {"lot", f.GetLots()}, {"serial", f.GetSerials()}} {
		if len(part.values) > 0 {
			text += " " + part.name + " " + strings.Join(part.values, " or ")
		}
	}
	if f.GetPosition() != "" {
		text += " at " + f.GetPosition()
	}
	return text + everText(f.GetEver())
}
