package drivetrain

import (
	"fmt"
	"strconv"
	"strings"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// From which age on what is done about a tyre: common practice, no source. A
// programme of service that names shorter times goes first.
const (
	InspectTyreAfterYears = 5
	RenewTyreAfterYears   = 10
)

// TyreAdvice says what the age of a tyre asks for.
type TyreAdvice string

// The kinds of advice.
const (
	TyreYoung   TyreAdvice = "young"   // nothing for its age
	TyreInspect TyreAdvice = "inspect" // once a year by somebody who knows tyres
	TyreRenew   TyreAdvice = "renew"   // whatever its tread
)

// TyreAge is how old a tyre is on a day.
type TyreAge struct {
	Code TyreCode
	On   vehicle.Date
	Made vehicle.Date // the first day of its week; for a code of three figures, of the latest that it can mean

	Years, Months int  // whole ones from Made, the months beyond the years
	AtLeast       bool // the decade is not known: it may be older by tens of years

	InspectFrom, RenewFrom vehicle.Date
	Advice                 TyreAdvice
	Reasons                []vehicle.Reason // the last is the advice
	Caution                string
}

// Age is the age of a tyre on a day that is not before it was made, counted from
// the first day of its week: the oldest it can be. Anniversaries of 29 February
// are the end of the month.
func (c TyreCode) Age(on vehicle.Date) TyreAge {
	made := c.Made()
	months := made.MonthsUntil(on)
	a := TyreAge{
		Code: c, On: on, Made: made, Years: months / 12, Months: months % 12, AtLeast: c.Year == 0,
		InspectFrom: made.AddMonths(12 * InspectTyreAfterYears), RenewFrom: made.AddMonths(12 * RenewTyreAfterYears),
		Caution: tyreCaution,
	}
	switch {
	case !on.Before(a.RenewFrom):
		a.Advice = TyreRenew
	case !on.Before(a.InspectFrom):
		a.Advice = TyreInspect
	default:
		a.Advice = TyreYoung
	}
	a.Reasons = []vehicle.Reason{a.codeReason(), a.ageReason(), a.adviceReason()}
	return a
}

const tyreCaution = "An old tyre can fail at speed without a sign, whatever its tread: look for cracks, bulges and wear on the wall " +
	"inside as well, and at the spare. The code tells nothing of how it was kept; sun, heat, load and standing on one spot age it sooner. " +
	"Do not drive on one that is in doubt. Local law on age and tread goes first."

// codeReason says what the figures mean.
func (a TyreAge) codeReason() vehicle.Reason {
	week := fmt.Sprintf("%02d", a.Code.Week)
	if a.AtLeast {
		years := make([]string, len(a.Code.Years))
		for i, y := range a.Code.Years {
			years[i] = strconv.Itoa(y)
		}
		return vehicle.Reason{
			Rule:  "TYRE_CODE_OF_THREE",
			Facts: []vehicle.Fact{{Name: "code", Value: a.Code.Text}, {Name: "week", Value: week}, {Name: "years", Value: strings.Join(years, ", ")}},
			Sentence: fmt.Sprintf("A code of three figures has the last figure of the year only: week %s of %s. The tyre was made before July 2000; in which decade is not in the code.",
				week, oneOf(years)),
		}
	}
	return vehicle.Reason{
		Rule:  "TYRE_CODE",
		Facts: []vehicle.Fact{{Name: "code", Value: a.Code.Text}, {Name: "week", Value: week}, {Name: "year", Value: strconv.Itoa(a.Code.Year)}, {Name: "made_from", Value: a.Made.Long()}},
		Sentence: fmt.Sprintf("The code %s is week %s of %d, from %s to %s: week 01 is the first full week from Sunday to Saturday.",
			a.Code.Text, week, a.Code.Year, a.Made.Long(), a.Made.AddDays(6).Long()),
	}
}

// oneOf is "1979, 1989 or 1999".
func oneOf(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// ageReason says how old the tyre is.
func (a TyreAge) ageReason() vehicle.Reason {
	least := ""
	if a.AtLeast {
		least = "at least "
	}
	return vehicle.Reason{
		Rule:     "TYRE_AGE",
		Facts:    []vehicle.Fact{{Name: "on", Value: a.On.Long()}, {Name: "age", Value: least + a.Text()}},
		Sentence: fmt.Sprintf("On %s it is %s%s old, counted from the first day of that week.", a.On.Long(), least, a.Text()),
	}
}

// Text is the age for print: "1 year and 8 months".
func (a TyreAge) Text() string {
	var parts []string
	if a.Years > 0 {
		parts = append(parts, wording.Count(a.Years, "year"))
	}
	if a.Months > 0 {
		parts = append(parts, wording.Count(a.Months, "month"))
	}
	if len(parts) == 0 {
		return "less than a month"
	}
	return wording.List(parts, "and")
}

// adviceReason says what to do.
func (a TyreAge) adviceReason() vehicle.Reason {
	r := vehicle.Reason{Facts: []vehicle.Fact{
		{Name: "inspect_from", Value: a.InspectFrom.Long()}, {Name: "renew_from", Value: a.RenewFrom.Long()},
	}}
	switch a.Advice {
	case TyreRenew:
		r.Rule = "TYRE_RENEW"
		r.Sentence = fmt.Sprintf("Renew it, whatever its tread: it is %d years old or more (common practice, no source).", RenewTyreAfterYears)
	case TyreInspect:
		r.Rule = "TYRE_INSPECT"
		r.Sentence = fmt.Sprintf("Have it looked at once a year by somebody who knows tyres, from %d years on, and renew it by %s, at %d years (common practice, no source).",
			InspectTyreAfterYears, a.RenewFrom.Long(), RenewTyreAfterYears)
	default:
		r.Rule = "TYRE_YOUNG"
		r.Sentence = fmt.Sprintf("Nothing is due for its age. From %s on, at %d years, have it looked at once a year; renew it by %s, at %d (common practice, no source).",
			a.InspectFrom.Long(), InspectTyreAfterYears, a.RenewFrom.Long(), RenewTyreAfterYears)
	}
	return r
}
