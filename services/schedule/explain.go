package schedule

import (
	"cmp"
	"math"
	"slices"
	"time"

	"halfshaft/services/vehicle"
)

// Explanation is one thing that may be behind a doubtful reading, and the
// settlement that would accept it so.
type Explanation struct {
	Rule      Rule
	Sentence  string
	WouldRead vehicle.Entered // what the dial would have shown
	Verdict   Verdict         // NoVerdict where the record must be mended first

	off float64 // how far from what the vehicle's own pace expects; less is better
}

// Explain gives the likely explanations of a doubtful mark, the one that fits
// the vehicle's own pace best first. It gives none for a mark that counts or is
// rejected.
func (l *Ledger) Explain(mark int) []Explanation {
	out := &l.Outcomes[mark]
	if out.State != Doubtful || len(l.runs) == 0 {
		return nil
	}
	x := doubt{run: &l.runs[out.run], mark: &l.marks[mark], rule: out.Rule, day: dayOf(l.marks[mark].Date)}
	x.neighbours()
	x.candidates()
	slices.SortStableFunc(x.found, func(a, b Explanation) int { return cmp.Compare(a.off, b.off) })
	return x.found
}

// doubt is one doubtful mark among the readings that count.
type doubt struct {
	run           *run
	mark          *Mark
	rule          Rule
	day           day
	before, after *node // the readings that count on either side
	found         []Explanation
}

// on is an entered value with the turns of the dial before it.
func (x *doubt) on(e vehicle.Entered) vehicle.Distance {
	value := mm(e)
	if m := x.run.dial.Modulus(); m > 0 && x.before != nil {
		value += x.before.value / m * m
	}
	return value
}

func (x *doubt) neighbours() { x.before, x.after = x.run.around(x.day) }

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

// expected is what the dial should have shown on a day, unrolled.
func (r *run) expected(d day) (value float64, ok bool) {
	before, after := r.around(d)
	switch {
	case before != nil && after != nil:
		share := float64(d-before.day) / float64(after.day-before.day)
		return float64(before.value) + share*float64(after.value-before.value), true
	case before != nil:
		return float64(before.value) + float64(r.rate)*float64(d-before.day), true
	case after != nil:
		return float64(after.value) - float64(r.rate)*float64(after.day-d), true
	}
	return 0, false
}

// fits says whether a value lies between the readings on either side.
func (x *doubt) fits(value vehicle.Distance) bool {
	if x.after != nil && value > x.after.value {
		return false
	}
	return x.before == nil || value >= x.before.value &&
		value-x.before.value <= x.run.allowance(int64(x.day-x.before.day))
}

// off is how far a value is from the expected one, in the measure of what the
// vehicle does in the time, and a hundred miles.
func (x *doubt) off(value vehicle.Distance) float64 {
	expected, ok := x.run.expected(x.day)
	if !ok {
		return 1
	}
	measure := float64(100 * vehicle.Mile)
	if x.before != nil {
		measure += float64(x.run.rate) * float64(x.day-x.before.day)
	}
	return math.Abs(float64(value)-expected) / measure
}

func (x *doubt) add(rule Rule, off float64, reads vehicle.Entered, v Verdict, sentence string) {
	x.found = append(x.found, Explanation{rule, sentence, reads, v, off})
}

// The handicaps of explanations that any value would satisfy.
const (
	handicapDate     = 0.5
	handicapReplaced = 2
	handicapAsRead   = 3
)

func (x *doubt) candidates() {
	reads := x.mark.Value
	value := x.on(reads)
	switch x.rule {
	case RuleDuplicate:
		x.add(RuleDuplicate, 0, reads, Rejected, "The same reading of that day is recorded already.")
		return
	case RuleDate:
		x.add(RuleDate, 0, reads, Rejected, "The date is later than the day it was recorded: reject it and enter it with the right date.")
	}
	x.otherUnit(reads)
	x.tenths(reads)
	x.swapped(reads)
	x.turned(reads, value)
	x.otherDate(reads, value)
	if x.before != nil && value < x.before.value || x.after != nil && value > x.after.value {
		x.add(RuleFall, handicapAsRead+1, reads, AsRead, "It is right as read, and "+x.others()+" is wrong.")
	} else if x.rule != RuleDate {
		x.add(RuleLeap, handicapAsRead, reads, AsRead, "It is right as read: the vehicle was driven far more than it usually is.")
	}
}

// others names the readings that a mark contradicts.
func (x *doubt) others() string {
	if x.before != nil && x.on(x.mark.Value) < x.before.value {
		return "the reading before it, " + x.text(x.before.value) + " on " + x.before.day.date().Long() + ","
	}
	return "the reading after it, " + x.text(x.after.value) + " on " + x.after.day.date().Long() + ","
}

// text is an unrolled value as the dial shows it.
func (x *doubt) text(value vehicle.Distance) string {
	if m := x.run.dial.Modulus(); m > 0 {
		value %= m
	}
	return value.Text(x.run.dial.Unit)
}

// otherUnit tries the digits in the other unit.
func (x *doubt) otherUnit(reads vehicle.Entered) {
	dial := x.run.dial.Unit
	if reads.Unit != dial {
		same := vehicle.Entered{Value: reads.Value, Unit: dial}
		if x.fits(x.on(same)) {
			x.add(RuleOtherUnit, x.off(x.on(same)), same, Corrected,
				"The dial counts "+unitWords(dial)+": the digits are right and the unit is not, so it showed "+same.String()+".")
		}
		if converted := x.converted(mm(reads)); x.fits(x.on(reads)) {
			x.add(RuleOtherUnit, x.off(x.on(reads)), converted, Corrected,
				"Somebody converted it: the dial counts "+unitWords(dial)+" and would have shown "+converted.String()+".")
		}
		return
	}
	other := vehicle.Kilometres
	if dial == vehicle.Kilometres {
		other = vehicle.Miles
	}
	if e := (vehicle.Entered{Value: reads.Value, Unit: other}); x.fits(x.on(e)) {
		value, converted := x.on(e), x.converted(mm(e))
		x.add(RuleOtherUnit, x.off(value), converted, Corrected,
			"The number was given in "+unitWords(other)+": the dial would have shown "+converted.String()+".")
	}
}

// converted is a distance in whole units of the dial.
func (x *doubt) converted(d vehicle.Distance) vehicle.Entered {
	return vehicle.Entered{Value: vehicle.Decimal{Coefficient: d.Whole(x.run.dial.Unit)}, Unit: x.run.dial.Unit}
}

func unitWords(u vehicle.Unit) string {
	if u == vehicle.Kilometres {
		return "kilometres"
	}
	return "miles"
}

// tenths tries the last digit as the tenths wheel.
func (x *doubt) tenths(reads vehicle.Entered) {
	if reads.Value.Scale > 0 {
		return
	}
	tenth := vehicle.Entered{Value: vehicle.Decimal{Coefficient: reads.Value.Coefficient, Scale: 1}, Unit: x.run.dial.Unit}
	if x.fits(x.on(tenth)) {
		x.add(RuleTenths, x.off(x.on(tenth)), tenth, Corrected, "The tenths wheel was read as a whole one: it showed "+tenth.String()+".")
	}
}

// swapped tries every exchange of two digits and keeps the best.
func (x *doubt) swapped(reads vehicle.Entered) {
	digits := []byte(reads.Value.String())
	best := Explanation{off: math.Inf(1)}
	for i := range digits {
		for j := i + 1; j < len(digits) && j <= i+2; j++ {
			if digits[i] == digits[j] || digits[i] == '.' || digits[j] == '.' {
				continue
			}
			other := slices.Clone(digits)
			other[i], other[j] = other[j], other[i]
			value, err := vehicle.ParseDecimal(string(other))
			if err != nil {
				continue
			}
			e := vehicle.Entered{Value: value, Unit: x.run.dial.Unit}
			if d := x.on(e); x.fits(d) && x.off(d) < best.off {
				best = Explanation{RuleSwapped, "Two digits changed places: it showed " + e.String() + ".", e, Corrected, x.off(d)}
			}
		}
	}
	if best.Rule != "" {
		x.found = append(x.found, best)
	}
}

// turned tries the dial gone round, and another dial.
func (x *doubt) turned(reads vehicle.Entered, value vehicle.Distance) {
	if x.before == nil || value >= x.before.value || reads.Unit != x.run.dial.Unit {
		return
	}
	if m := x.run.dial.Modulus(); m > 0 {
		if turned := value + m; x.fits(turned) {
			x.add(RuleRollover, x.off(turned), reads, RolledOver, "The dial went round: from "+x.text(x.before.value)+" to "+
				x.text(turned)+" is "+(turned-x.before.value).Text(x.run.dial.Unit)+".")
		}
	}
	if x.after == nil {
		x.add(RuleReplaced, handicapReplaced, reads, NoVerdict,
			"The odometer was replaced or set back: record that change, with what the new one showed, and the reading counts by itself.")
	}
}

// otherDate tries the year before and after, and day and month exchanged.
func (x *doubt) otherDate(reads vehicle.Entered, value vehicle.Distance) {
	if reads.Unit != x.run.dial.Unit {
		return
	}
	d := x.mark.Date
	tries := []vehicle.Date{d.AddMonths(-12), d.AddMonths(12)}
	if exchanged := (vehicle.Date{Year: d.Year, Month: time.Month(d.Day), Day: int(d.Month)}); exchanged.Valid() && exchanged != d {
		tries = append(tries, exchanged)
	}
	for _, try := range tries {
		if !x.mark.Recorded.IsZero() && try.After(x.mark.Recorded) {
			continue
		}
		at := doubt{run: x.run, mark: x.mark, day: dayOf(try)}
		at.neighbours()
		if at.before == nil || !at.fits(value) || at.off(value) > 1 {
			continue
		}
		x.add(RuleDate, at.off(value)+handicapDate, reads, Rejected,
			"The date is wrong: it fits "+try.Long()+". Reject it and enter it with that date.")
		return
	}
}
