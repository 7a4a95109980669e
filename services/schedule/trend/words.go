package trend

import (
	"math"
	"strconv"
	"strings"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Plain writes a position or characteristic as people say it: "output shaft
// bearing".
func Plain(name string) string { return strings.ReplaceAll(name, "-", " ") }

// Name is the quantity as a sentence names it: "end float of the output shaft
// bearing".
func (s *Series) Name() string { return NameOf(s.Position, s.Characteristic) }

// NameOf is Series.Name for a quantity that has no values yet.
func NameOf(position, characteristic string) string {
	if position == "" {
		return Plain(characteristic)
	}
	return Plain(characteristic) + " of the " + Plain(position)
}

// Window is the window of a limit in words: "0.05 to 0.15 mm", "at most 38 mm";
// empty for none.
func Window(l *schedule.MeasuredLimit) string {
	switch {
	case l == nil || l.Lower == nil && l.Upper == nil:
		return ""
	case l.Lower == nil:
		return "at most " + l.Upper.String() + " " + l.Unit
	case l.Upper == nil:
		return "at least " + l.Lower.String() + " " + l.Unit
	}
	return l.Lower.String() + " to " + l.Upper.String() + " " + l.Unit
}

// tell puts a trend into a sentence.
func (s *Series) tell(t *Trend, on vehicle.Date) vehicle.Reason {
	n := len(t.Values)
	r := vehicle.Reason{Rule: "TREND_NO_VALUE", Facts: []vehicle.Fact{{Name: "values", Value: strconv.Itoa(n)}}}
	switch {
	case n == 0:
		r.Sentence = "There is no value" + s.sinceBreak(on) + ", so no trend can be told." + s.gainWords(t)
		return r
	case n == 1:
		r.Rule = "TREND_ONE_VALUE"
		r.Sentence = "There is one value only" + s.sinceBreak(on) + ", so no trend can be told." + s.gainWords(t)
		return r
	}
	first, last := &s.Values[t.Values[0]], &s.Values[t.Values[n-1]]
	r.Facts = append(r.Facts, vehicle.Fact{Name: "from", Value: first.Date.String()}, vehicle.Fact{Name: "to", Value: last.Date.String()})
	switch {
	case n == 2:
		r.Rule = "TREND_TWO_VALUES"
		r.Sentence = "There are two values only" + s.sinceBreak(on) + ", so no trend can be told. " + s.change(first, last) + s.gainWords(t)
		return r
	case t.Basis == NoBasis:
		r.Rule = "TREND_ONE_DAY"
		r.Sentence = "All values are of one day, so no trend can be told." + s.gainWords(t)
		return r
	}
	few := ""
	if n < enough {
		few = " only"
	}
	head := strconv.Itoa(n) + " values" + few + s.sinceBreak(on) + ", from " + first.Date.Long() + " to " + last.Date.Long()
	unit := s.Unit()
	if t.Direction == Steady {
		s.steady(t, &r, head)
	} else {
		word, rate, basis := "rising", t.PerYear, s.basisWords(t)
		if t.Direction == Falling {
			word, rate = "falling", Rate{-rate.Middle, -rate.High, -rate.Low}
		}
		r.Rule = "TREND_BY_TIME"
		if t.Basis == ByDistance {
			r.Rule = "TREND_BY_DISTANCE"
			rate = s.perThousand(t)
			if t.Direction == Falling {
				rate = Rate{-rate.Middle, -rate.High, -rate.Low}
			}
		}
		per := map[Basis]string{ByTime: " a year", ByDistance: s.thousand()}[t.Basis]
		r.Facts = append(r.Facts, vehicle.Fact{Name: "rate", Value: figures(rate.Middle, rate.Middle) + " " + unit + per})
		r.Sentence = head + ": " + word + " by about " + figures(rate.Middle, rate.Middle) + " " + unit + per + " (" +
			figures(rate.Low, rate.Middle) + " to " + figures(rate.High, rate.Middle) + " in four cases out of five)" + basis
		if few != "" {
			r.Sentence += " They are few: the range says how little they tell."
		}
	}
	r.Sentence += s.leftOutWords(t) + s.gainWords(t)
	return r
}

// steady says that no change can be told, and because of what.
func (s *Series) steady(t *Trend, r *vehicle.Reason, head string) {
	least, most := s.Values[t.Values[0]].Quantity, s.Values[t.Values[0]].Quantity
	for _, i := range t.Values {
		q := s.Values[i].Quantity
		if compare(q, least) < 0 {
			least = q
		}
		if compare(q, most) > 0 {
			most = q
		}
	}
	spread := ", between " + least.String() + " and " + most.String()
	if compare(least, most) == 0 {
		spread = ", all of them " + least.String()
	}
	a, _ := least.In(s.Unit())
	b, _ := most.In(s.Unit())
	low, _ := a.Float64()
	high, _ := b.Float64()
	if high-low <= t.Step*(1+1e-9) {
		r.Rule = "TREND_WITHIN_STEP"
		r.Sentence = head + spread + ": no change that the instrument can tell, for its step is " + figures(t.Step, t.Step) + " " + s.Unit() + "."
		return
	}
	r.Rule = "TREND_WITHIN_SCATTER"
	r.Sentence = head + spread + ": they scatter, and neither a rise nor a fall can be told from them."
}

// basisWords says whether time or distance is counted, and why.
func (s *Series) basisWords(t *Trend) string {
	switch {
	case t.Basis == ByDistance:
		return ", counted by distance, over which they lie nearer to a line than over time."
	case t.PerMile == Rate{}:
		return ", counted by time, for the distance is not on record with each of them."
	case len(t.Values) < fewestByWay:
		return ", counted by time, for they are too few to say whether distance tells more."
	}
	way := math.Abs(s.perThousand(t).Middle)
	return ", counted by time; by distance it would be " + figures(way, way) + " " + s.Unit() + s.thousand() + ", which the values bear out no better."
}

// perThousand is the slope over a thousand of the units of the dial.
func (s *Series) perThousand(t *Trend) Rate {
	by := 1000.0
	if s.Dial == vehicle.Kilometres {
		by = 1000 / vehicle.Mile.In(vehicle.Kilometres)
	}
	return Rate{t.PerMile.Middle * by, t.PerMile.Low * by, t.PerMile.High * by}
}

func (s *Series) thousand() string {
	if s.Dial == vehicle.Kilometres {
		return " per 1,000 km"
	}
	return " per 1,000 miles"
}

// sinceBreak is " since …" for a component that began anew; empty for none.
func (s *Series) sinceBreak(on vehicle.Date) string {
	b, ok := s.LastBreak(on)
	if !ok {
		return ""
	}
	return " since " + b.What + " on " + b.Date.Long()
}

// leftOutWords names the values that a trend does not rest on.
func (s *Series) leftOutWords(t *Trend) string {
	text := ""
	for _, i := range t.SetAside {
		text += " The " + s.Values[i].Quantity.String() + " of " + s.Values[i].Date.Long() + " lies far off the others and is left out: it may be a slip."
	}
	for _, i := range t.LeftOut {
		v := &s.Values[i]
		if vehicle.Convertible(v.Quantity.Unit, s.Unit()) {
			text += " The " + v.Quantity.String() + " of " + v.Date.Long() + " is left out: whether it was measured before or after that is not on record."
		} else {
			text += " The " + v.Quantity.String() + " of " + v.Date.Long() + " is left out: its unit does not convert into " + s.Unit() + "."
		}
	}
	return text
}

// change compares two values in words.
func (s *Series) change(from, to *Value) string {
	a, okA := from.Quantity.In(s.Unit())
	b, okB := to.Quantity.In(s.Unit())
	if !okA || !okB {
		return ""
	}
	step := max(floatStep(from.Quantity, s.Unit()), floatStep(to.Quantity, s.Unit()))
	diff, _ := b.Sub(b, a).Float64()
	text := from.Quantity.String() + " on " + from.Date.Long() + ", " + to.Quantity.String() + " on " + to.Date.Long() + ": "
	more := "more"
	if diff < 0 {
		more = "less"
	}
	switch {
	case diff == 0:
		return text + "the same."
	case math.Abs(diff) <= step*(1+1e-9):
		return text + figures(math.Abs(diff), step) + " " + s.Unit() + " " + more + ", no more than a step of the instrument."
	}
	return text + figures(math.Abs(diff), step) + " " + s.Unit() + " " + more + "."
}

// floatIn is a value in a unit, as the number nearest to it; NaN where it does not
// convert. In its own unit it needs no fraction, and is the same number.
func floatIn(q vehicle.Quantity, unit string) float64 {
	if q.Unit == unit {
		return q.Value.Float64()
	}
	value, ok := q.In(unit)
	if !ok {
		return math.NaN()
	}
	f, _ := value.Float64()
	return f
}

// floatStep is the step with which a value was read, likewise; 0 where it does not
// convert.
func floatStep(q vehicle.Quantity, unit string) float64 {
	if q.Unit == unit {
		return q.Value.Resolution().Float64()
	}
	step, ok := q.StepIn(unit)
	if !ok {
		return 0
	}
	f, _ := step.Float64()
	return f
}

// compare orders two quantities that convert.
func compare(a, b vehicle.Quantity) int {
	if order, same := a.Cmp(b); same {
		return order
	}
	x, ok := a.In(b.Unit)
	if !ok {
		return 0
	}
	return x.Cmp(b.Value.Rat())
}

// figures writes a number with the digits that two significant figures of a
// measure have, without zeros at the end: 0.0049, 0.32, 12.
func figures(v, measure float64) string {
	digits := 0
	if m := math.Abs(measure); m > 0 {
		digits = min(max(0, 1-int(math.Floor(math.Log10(m)+1e-9))), 9)
	}
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if digits > 0 {
		text = strings.TrimSuffix(strings.TrimRight(text, "0"), ".")
	}
	if text == "-0" {
		return "0"
	}
	return text
}

// boundWords names a limit: "the upper end of its window, 0.15 mm".
func (s *Series) boundWords(b Bound, value vehicle.Decimal) string {
	text := map[Bound]string{LowerEnd: "the lower end of its window", UpperEnd: "the upper end of its window", ActionLimit: "its action limit"}[b]
	if l := s.Limit; b == ActionLimit && l != nil && (l.Upper != nil && l.Upper.Cmp(value) == 0 || l.Lower != nil && l.Lower.Cmp(value) == 0) {
		text = "the end of its window, which is its action limit too"
	}
	return text + ", " + value.String() + " " + s.Unit()
}

// outlook says when the limits ahead are met.
func (s *Series) outlook(t *Trend, targets []target, passed int, from vehicle.Date) vehicle.Reason {
	last := targets[len(targets)-1]
	switch {
	case passed == len(targets):
		return vehicle.Reason{Rule: "BEYOND_LIMIT", Sentence: "It is past " + s.boundWords(last.bound, last.value) + ", already, so no date is given."}
	case len(t.Forecasts) == 0:
		return vehicle.Reason{Rule: "NOT_IN_SIGHT", Sentence: "At this trend it does not meet " + s.boundWords(targets[passed].bound, targets[passed].value) +
			", within " + strconv.Itoa(horizonYears) + " years."}
	}
	r := vehicle.Reason{Rule: "MEETS_LIMIT"}
	var parts []string
	for _, f := range t.Forecasts {
		r.Facts = append(r.Facts, vehicle.Fact{Name: "limit", Value: f.Value.String() + " " + s.Unit()},
			vehicle.Fact{Name: "early", Value: f.Early.String()}, vehicle.Fact{Name: "likely", Value: f.Likely.String()}, vehicle.Fact{Name: "late", Value: f.Late.String()})
		parts = append(parts, s.boundWords(f.Bound, f.Value)+", "+f.words(from))
	}
	r.Sentence = "At this trend a measurement meets " + strings.Join(parts, "; and ") + "."
	return r
}

// words says when: a range that holds in four cases out of five.
func (f *Forecast) words(from vehicle.Date) string {
	switch {
	case !f.Early.After(from) && !f.Late.IsZero() && !f.Late.After(from):
		return "now"
	case f.Late.IsZero() && !f.Early.After(from):
		return "any day now or not within " + strconv.Itoa(horizonYears) + " years: the values do not say"
	case f.Late.IsZero():
		return "not before " + f.Early.Long()
	case !f.Early.After(from):
		return "any day now, and by " + f.Late.Long() + " in nine cases out of ten"
	}
	return "between " + f.Early.Long() + " and " + f.Late.Long() + ", most likely about " + f.Likely.Month.String() + " " + strconv.Itoa(f.Likely.Year)
}

// noDate says why no date is given.
func (s *Series) noDate(t *Trend) vehicle.Reason {
	l := s.Limit
	switch {
	case l == nil:
		return vehicle.Reason{Rule: "NO_LIMIT", Sentence: "The programme in force has no limit for it, so no date is given."}
	case t.Direction == Untold:
		return vehicle.Reason{Rule: "TOO_FEW_VALUES", Sentence: "From so few values no date is given on which it meets its limit."}
	case t.Direction == Steady:
		return vehicle.Reason{Rule: "NO_TREND", Sentence: "Without a trend no date is given on which it meets its limit."}
	}
	return vehicle.Reason{Rule: "AWAY_FROM_LIMIT", Sentence: "It moves away from its limit, so there is no date on which it meets it."}
}
