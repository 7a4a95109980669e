package trend

import (
	"math"
	"math/big"
	"strings"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// verdictWords says whether a value is within its limit.
func (s *Series) verdictWords(a *Against, q vehicle.Quantity) vehicle.Reason {
	l := s.Limit
	if a.Verdict == NoVerdict {
		return vehicle.Reason{Rule: "NO_LIMIT", Facts: []vehicle.Fact{{Name: "value", Value: q.String()}},
			Sentence: "The programme in force has no limit for the " + s.Name() + ", so " + q.String() + " can be held against nothing."}
	}
	r := vehicle.Reason{Facts: []vehicle.Fact{{Name: "value", Value: q.String()}, {Name: "window", Value: Window(l)}}}
	if l.Action != nil {
		r.Facts = append(r.Facts, vehicle.Fact{Name: "action", Value: l.Action.String() + " " + l.Unit})
	}
	text := a.text(l, q)
	window := " its window of " + Window(l)
	switch {
	case a.Verdict == Within:
		r.Rule = "WITHIN_WINDOW"
		r.Sentence = text + " is within" + window + "."
		return r
	case a.Verdict == BeyondAction:
		r.Rule = "BEYOND_ACTION_LIMIT"
		r.Sentence = text + " is outside" + window + " and beyond its action limit of " + l.Action.String() + " " + l.Unit + "."
	default:
		r.Rule = "OUTSIDE_WINDOW"
		r.Sentence = text + " is outside" + window + ", " + a.offWords(l, q) + s.shortOf(a) + "."
	}
	if a.Close {
		r.Sentence += " That is less than half a step of the instrument: it takes a finer one to tell."
	}
	return r
}

// within says in the trend whether the value is in it. Past its action limit
// there is nothing left to foresee, whatever the values before said.
func (j *Judgement) within(s *Series) {
	sentence := j.Trend.Reason.Sentence
	if strings.HasPrefix(sentence, "There ") || strings.HasPrefix(sentence, "All ") {
		sentence = wording.LowerFirst(sentence)
	}
	if j.Implausible {
		j.Trend.Reason.Sentence = "Without it, until it has been measured again: " + sentence
	} else {
		j.Trend.Reason.Sentence = "With it: " + sentence
	}
	if j.Against.Verdict == BeyondAction {
		j.Trend.Forecasts = nil
		j.Trend.Outlook = vehicle.Reason{Rule: "BEYOND_LIMIT",
			Sentence: "If it stands it is past " + s.boundWords(ActionLimit, *s.Limit.Action) + ", already, so no date is given."}
	}
}

// shortOf tells of an action limit on the side on which a value is outside.
func (s *Series) shortOf(a *Against) string {
	l := s.Limit
	if a.Low && actsBelow(l) || !a.Low && actsAbove(l) {
		return ", and short of its action limit of " + l.Action.String() + " " + l.Unit
	}
	return "; there is no action limit on that side"
}

// text writes a value with what it is in the unit of its limit: to the digits
// that show on which side of the end it lies, where it is outside.
func (a *Against) text(l *schedule.MeasuredLimit, q vehicle.Quantity) string {
	if a.Verdict == Within || unitName(q.Unit) == unitName(l.Unit) {
		return q.Also(l.Unit)
	}
	return q.String() + " (" + a.Value.FloatString(a.digits(l, q)) + " " + unitName(l.Unit) + ")"
}

// digits are those after the point that the limit and the value have, or that
// show one figure of the difference when units differ.
func (a *Against) digits(l *schedule.MeasuredLimit, q vehicle.Quantity) int {
	end := l.Upper
	if a.Low {
		end = l.Lower
	}
	digits := int(end.Scale)
	if unitName(q.Unit) == unitName(l.Unit) {
		return max(digits, int(q.Value.Scale))
	}
	if f, _ := a.Off.Float64(); f > 0 {
		digits = max(digits, int(math.Ceil(-math.Log10(f))))
	}
	return digits
}

// offWords is how far a value lies outside: "0.03 mm above it".
func (a *Against) offWords(l *schedule.MeasuredLimit, q vehicle.Quantity) string {
	side := "above it"
	if a.Low {
		side = "below it"
	}
	return a.Off.FloatString(a.digits(l, q)) + " " + l.Unit + " " + side
}

func unitName(text string) string {
	name, _ := vehicle.UnitName(text)
	return name
}

// comparedWords compares a value with the one before.
func (s *Series) comparedWords(j *Judgement, fresh *Value) vehicle.Reason {
	p := j.Previous
	if p == nil {
		return vehicle.Reason{Rule: "FIRST_VALUE", Sentence: "It is the first value on record, so there is none to compare it with."}
	}
	r := vehicle.Reason{Rule: "COMPARED", Record: p.Record, Facts: []vehicle.Fact{{Name: "last", Value: p.Quantity.String()},
		{Name: "last_date", Value: p.Date.String()}}}
	last := s.lastWords(p, fresh.Quantity.Unit)
	if !j.Same {
		b, _ := s.LastBreak(fresh.Date)
		r.Rule = "RENEWED_SINCE"
		switch n, _ := s.since(fresh.Date); {
		case b.Date == p.Date && p.Stage == SomeTime:
			r.Sentence = last + ", but that was the day on which " + b.What + ": whether it was measured before or after is not on record, so the two do not compare."
		case len(n) == 0:
			r.Sentence = last + ", but since then " + b.What + " (" + b.Date.Long() + "): the two do not compare, and this is the first value since."
		default:
			r.Sentence = last + ", but since then " + b.What + " (" + b.Date.Long() + "): the two do not compare."
		}
		return r
	}
	unit := fresh.Quantity.Unit
	was, _ := p.Quantity.In(unit)
	now := fresh.Quantity.Value.Rat()
	diff, _ := difference(now, was).Float64()
	step := max(floatStep(p.Quantity, unit), floatStep(fresh.Quantity, unit))
	amount := figures(math.Abs(diff), step) + " " + unit
	switch {
	case diff == 0:
		r.Sentence = last + ": the same."
	case math.Abs(diff) <= step*(1+1e-9):
		r.Sentence = last + ": " + amount + moreOrLess(diff) + " now, no more than a step of the instrument."
	default:
		r.Sentence = last + ": " + amount + moreOrLess(diff) + " now."
	}
	switch {
	case j.Better:
		r.Rule = "GOT_BETTER"
		r.Sentence += " Wear does not go back, and nothing on record says that it was renewed or set anew."
	case j.Implausible:
		r.Rule = "IMPLAUSIBLE"
		r.Sentence += " Nothing on record explains so large a difference."
	}
	if j.Implausible {
		if why := slip(now, was); why != "" {
			r.Sentence += " " + why
		}
	}
	return r
}

// lastWords tells of the value before: how the component was found or left by
// it, where that is known, and with which pack of shims.
func (s *Series) lastWords(p *Value, unit string) string {
	text := "Last time, on " + p.Date.Long() + ", it was "
	switch p.Stage {
	case AsFound:
		return text + "found at " + p.Quantity.Also(unit)
	case AsLeft:
		text += "left at " + p.Quantity.Also(unit)
		if b, ok := s.LastBreak(p.Date); ok && b.Date == p.Date && b.PackAfter.Unit != "" {
			text += " with a pack of " + b.PackAfter.String()
		}
		return text
	}
	return text + p.Quantity.Also(unit)
}

func difference(a, b *big.Rat) *big.Rat { return new(big.Rat).Sub(a, b) }

func moreOrLess(diff float64) string {
	if diff < 0 {
		return " less"
	}
	return " more"
}

// doingWords says what to do.
func (s *Series) doingWords(j *Judgement, q Question) vehicle.Reason {
	next := func(join string) string {
		switch {
		case j.Recorded:
			return "."
		case q.Item == nil:
			return join + "write it into the service record."
		}
		return join + "write it into the service record under " + q.Item.ID + "."
	}
	switch j.Advice {
	case Act:
		text := "Act: the works' engineer is asked before the vehicle is driven on."
		if j.Implausible {
			text += " Measure again first, as the programme says; until that is done, take the value for right."
		}
		return vehicle.Reason{Rule: "ACT", Sentence: text}
	case MeasureAgain:
		if j.Better {
			when := "first"
			if j.Recorded {
				when = "too"
			}
			text := "Measure again, as the programme says; or was it renewed or set anew since last time? Then record that " + when + ", for the trend begins anew with it."
			if j.Against.Verdict == OutsideWindow {
				text += " Plan to put it right all the same."
			}
			return vehicle.Reason{Rule: "MEASURE_AGAIN", Sentence: text}
		}
		text := "Measure again, as the programme says, before anything else; if the value stands, ask what was done to the " + subject(s.Position) + " since last time"
		if j.Against.Verdict == OutsideWindow {
			text += ", and plan to put it right"
		}
		return vehicle.Reason{Rule: "MEASURE_AGAIN", Sentence: text + "."}
	case Plan:
		if j.Against.Verdict == Within {
			return vehicle.Reason{Rule: "PLAN", Sentence: "Good for now, but by its trend it is likely to leave its window before it is measured again: plan to put it right by then" + next(", and ")}
		}
		return vehicle.Reason{Rule: "PLAN", Sentence: "Plan to put it right at the next visit" + next(", and ") + j.atLatest()}
	case Fine:
		if j.Recorded {
			return vehicle.Reason{Rule: "FINE", Sentence: "Nothing to do: it is on record."}
		}
		return vehicle.Reason{Rule: "FINE", Sentence: "Nothing to do" + next(": ")}
	}
	return vehicle.Reason{Rule: "NO_LIMIT", Sentence: "Ask the works' engineer whether the value is right" + next(", and ")}
}

// atLatest names the day before which the action limit is hardly met.
func (j *Judgement) atLatest() string {
	for i := range j.Trend.Forecasts {
		if f := &j.Trend.Forecasts[i]; f.Bound == ActionLimit && !f.Early.IsZero() {
			return " It may meet its action limit from " + f.Early.Long() + " on."
		}
	}
	return ""
}

func subject(position string) string {
	if position == "" {
		return "vehicle"
	}
	return Plain(position)
}
