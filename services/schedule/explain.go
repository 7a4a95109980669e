package schedule

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"halfshaft/services/vehicle"
)

// Explanation is one thing that may be behind a doubtful reading, and the
// settlement that would accept it so.
type Explanation struct {
	Rule      Rule
	Sentence  string
	WouldRead vehicle.Entered // what the dial showed, if it is so
	Date      vehicle.Date    // for RuleDate: the day it was read; zero where none fits
	Verdict   Verdict         // NoVerdict where the record must be mended first

	// PerYear is how far the dial would have gone in a year between the reading
	// before and this one, if it is so, and Usual what it does in a year by the
	// readings that count. Both are 0 where there is nothing to compare.
	PerYear, Usual vehicle.Distance

	score float64 // logarithm of how likely it is, up to a constant
}

// What of the explanations a person is shown.
const (
	mostExplanations = 6
	leastOfLikeliest = 1.0 / 500 // others are left out, save that it is right as read
)

// Explain gives the likely explanations of a doubtful mark, the likeliest
// first. Each is weighed by how often such a slip happens, and how well the
// value it gives fits what the vehicle does in a year (see usage). Whether the
// reading may be right as it is, is always among them where the dial can show
// it. There are none for a mark that counts or is rejected.
func (l *Ledger) Explain(mark int) []Explanation {
	out := &l.Outcomes[mark]
	if out.State != Doubtful || len(l.runs) == 0 {
		return nil
	}
	run := &l.runs[out.run]
	x := doubt{run: run, usage: run.usage(), mark: &l.marks[mark], rule: out.Rule, day: dayOf(l.marks[mark].Date)}
	x.before, x.after = run.around(x.day)
	x.candidates()
	slices.SortStableFunc(x.found, func(a, b Explanation) int { return cmp.Compare(b.score, a.score) })
	return likely(x.found)
}

// likely leaves out what is far less likely than the first.
func likely(all []Explanation) []Explanation {
	kept := all[:0]
	for _, e := range all {
		always := e.Verdict == AsRead || len(kept) == 0
		if always || len(kept) < mostExplanations && e.score >= all[0].score+math.Log(leastOfLikeliest) {
			kept = append(kept, e)
		}
	}
	return kept
}

// doubt is one doubtful mark among the readings that count.
type doubt struct {
	run           *run
	usage         usage
	mark          *Mark
	rule          Rule
	day           day
	before, after *node // the readings that count on either side
	found         []Explanation
}

// around gives the counted readings on either side of a day.
func (r *run) around(d day) (before, after *node) {
	for i := range r.counted {
		if n := &r.counted[i]; n.day <= d {
			before = n
		} else {
			return before, n
		}
	}
	return before, nil
}

// on is an entered value with the turns of the dial before it.
func (x *doubt) on(e vehicle.Entered) vehicle.Distance {
	value := mm(e)
	if m := x.run.dial.Modulus(); m > 0 && x.before != nil {
		value += x.before.value / m * m
	}
	return value
}

// chance is the logarithm of how likely the dial stood within a unit of a value
// on the day of the doubt, by the readings on either side.
func (x *doubt) chance(value vehicle.Distance) float64 {
	return x.usage.chance(x.run, value, x.day, x.before, x.after)
}

// text is an unrolled value as the dial shows it.
func (x *doubt) text(value vehicle.Distance) string {
	if m := x.run.dial.Modulus(); m > 0 {
		value %= m
	}
	return value.Text(x.run.dial.Unit)
}

// add takes in an explanation with its value on the dial, turns added. chance
// is that of the value; often is how often such a slip is made, and in how many
// ways. What cannot be is left out.
func (x *doubt) add(e Explanation, value vehicle.Distance, chance, often float64) {
	if math.IsInf(chance, -1) || often <= 0 {
		return
	}
	e.score = chance + math.Log(often)
	x.compare(&e, value, x.day, x.before, x.after)
	x.found = append(x.found, e)
}

// best takes in the likeliest of explanations of one kind.
func (x *doubt) best(of []Explanation) {
	if len(of) == 0 {
		return
	}
	x.found = append(x.found, slices.MaxFunc(of, func(a, b Explanation) int { return cmp.Compare(a.score, b.score) }))
}

// rateDays is the shortest time that a person is told of in miles a year;
// shorter ones are told in miles and days.
const rateDays = 90

// compare adds to an explanation what its value would mean, beside what the
// vehicle usually does: that is what it was ranked by.
func (x *doubt) compare(e *Explanation, value vehicle.Distance, d day, before, after *node) {
	unit := x.run.dial.Unit
	said := ""
	switch {
	case before != nil:
		said = rate(value-before.value, int64(d-before.day), unit) + " since the reading before"
		if days := int64(d - before.day); days >= rateDays {
			e.PerYear = perYear(value-before.value, days)
		}
		if after != nil {
			said += " and " + rate(after.value-value, int64(after.day-d), unit) + " to the one after"
		}
	case after != nil:
		said = rate(after.value-value, int64(after.day-d), unit) + " to the reading after"
	default:
		return
	}
	e.Usual = vehicle.Distance(x.usage.perYear())
	whose := "this vehicle does"
	if x.usage.blocks == 0 {
		whose = "such vehicles do"
	}
	usual := "; " + whose + " about " + figures(e.Usual, unit) + " a year."
	e.Sentence += " It would mean " + said + usual
}

// rate tells a way in a time as a person does.
func rate(way vehicle.Distance, days int64, unit vehicle.Unit) string {
	switch {
	case days < 1:
		return way.Text(unit) + " on one day"
	case days == 1:
		return way.Text(unit) + " in a day"
	case days < rateDays:
		return way.Text(unit) + " in " + strconv.FormatInt(days, 10) + " days"
	}
	return figures(perYear(way, days), unit) + " a year"
}

func perYear(way vehicle.Distance, days int64) vehicle.Distance {
	return vehicle.Distance(float64(way) * daysPerYear / float64(days))
}

// figures tells a distance in a year to what it is worth saying: units below a
// hundred, tens below two thousand, then hundreds.
func figures(d vehicle.Distance, unit vehicle.Unit) string {
	step := unit.Distance()
	switch {
	case abs(d) >= 2000*step:
		step *= 100
	case abs(d) >= 100*step:
		step *= 10
	}
	return ((d + step/2) / step * step).Text(unit)
}
