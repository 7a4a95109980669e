package schedule

import (
	"math"
	"slices"
	"strconv"
	"time"

	"halfshaft/services/vehicle"
)

// How often it happens, for one reading (by our own judgement, no source): only
// the proportions matter. A vehicle driven otherwise than before, and a dial
// that goes round, are no slips; the way itself says how seldom they are. That a
// vehicle leaps is rarer yet than usage makes it, whose tails are long so that a
// changed habit is believed.
const (
	oftenRight    = 1.0
	oftenLeap     = 0.1
	oftenTenths   = 0.004
	oftenUnit     = 0.004
	oftenSwapped  = 0.003
	oftenDigit    = 0.002
	oftenMissing  = 0.001
	oftenTwice    = 0.001
	oftenDate     = 0.004
	oftenOther    = 0.02 // that a reading which counts is wrong
	oftenVouched  = 1e-4 // that one is wrong which a person or the build record vouches for
	oftenReplaced = 0.01 // in a year
)

// fiveDigits is what a dial may show where nobody recorded its digits.
const fiveDigits = 100_000

// candidates finds all that may be behind the doubt.
func (x *doubt) candidates() {
	if x.rule == RuleDuplicate {
		x.found = append(x.found, Explanation{Rule: RuleDuplicate, WouldRead: x.mark.Value, Verdict: Rejected,
			Sentence: "The same reading of that day is recorded already."})
		return
	}
	x.otherDate()
	if x.rule == RuleDate {
		return
	}
	x.otherUnit()
	x.tenths()
	x.slips()
	x.turned()
	x.replaced()
	x.right()
}

// own is the length of one unit of the dial: a reading in whole units says the
// distance to within one.
func (x *doubt) own() float64 { return float64(x.run.dial.Unit.Distance()) }

// otherUnit tries the number in the other unit.
func (x *doubt) otherUnit() {
	reads, dial := x.mark.Value, x.run.dial.Unit
	if reads.Unit != dial {
		same := vehicle.Entered{Value: reads.Value, Unit: dial}
		x.add(Explanation{Rule: RuleOtherUnit, WouldRead: same, Verdict: Corrected,
			Sentence: "The dial counts " + unitWords(dial) + ": the digits are right and the unit is not, so it showed " + same.Text() + "."},
			x.on(same), x.chance(x.on(same)), x.own()*oftenUnit)
		converted := x.converted(mm(reads))
		x.add(Explanation{Rule: RuleOtherUnit, WouldRead: converted, Verdict: Corrected,
			Sentence: "Somebody converted it: the dial counts " + unitWords(dial) + " and showed " + converted.Text() + "."},
			x.on(reads), x.chance(x.on(reads)), float64(reads.Unit.Distance())*oftenUnit)
		return
	}
	other := vehicle.Kilometres
	if dial == vehicle.Kilometres {
		other = vehicle.Miles
	}
	e := vehicle.Entered{Value: reads.Value, Unit: other}
	converted := x.converted(mm(e))
	x.add(Explanation{Rule: RuleOtherUnit, WouldRead: converted, Verdict: Corrected,
		Sentence: "The number was given in " + unitWords(other) + ": the dial showed " + converted.Text() + "."},
		x.on(e), x.chance(x.on(e)), float64(other.Distance())*oftenUnit)
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
func (x *doubt) tenths() {
	reads := x.mark.Value
	if reads.Value.Scale > 0 || reads.Unit != x.run.dial.Unit {
		return
	}
	tenth := vehicle.Entered{Value: vehicle.Decimal{Coefficient: reads.Value.Coefficient, Scale: 1}, Unit: reads.Unit}
	often := oftenTenths
	if !x.run.dial.Tenths {
		often /= 10 // unless the record of the dial is wrong
	}
	x.add(Explanation{Rule: RuleTenths, WouldRead: tenth, Verdict: Corrected,
		Sentence: "The tenths wheel was read as a whole one: it showed " + tenth.Text() + "."},
		x.on(tenth), x.chance(x.on(tenth)), x.own()/10*often)
}

// turned tries the dial gone round since the reading before, or before the
// reading after.
func (x *doubt) turned() {
	reads, m := x.mark.Value, x.run.dial.Modulus()
	if m == 0 || reads.Unit != x.run.dial.Unit || mm(reads) >= m {
		return
	}
	value := x.on(reads)
	if x.before != nil && value < x.before.value {
		turned := value + m
		x.add(Explanation{Rule: RuleRollover, WouldRead: reads, Verdict: RolledOver,
			Sentence: "The dial went round: from " + x.text(x.before.value) + " to " + x.text(turned) + " is " +
				(turned - x.before.value).Text(x.run.dial.Unit) + "."},
			turned, x.chance(turned), x.own()*oftenRight)
	}
	if x.after != nil && value > x.after.value && x.after.mark >= 0 {
		e := Explanation{Rule: RuleRollover, WouldRead: reads,
			Sentence: "The dial went round after it: decide so about the reading of " + x.text(x.after.value) + " on " +
				x.after.day.date().Long() + ", and this one counts by itself."}
		x.turnsLater(e, value, m)
	}
}

// turnsLater weighs that the dial went round between the mark and the reading
// after it, whose value then is one turn more.
func (x *doubt) turnsLater(e Explanation, value, turn vehicle.Distance) {
	later := *x.after
	later.value += turn
	chance := x.usage.step(later.value-value, int64(later.day-x.day))
	if x.before != nil {
		chance += x.usage.step(value-x.before.value, int64(x.day-x.before.day)) -
			x.usage.whole(x.before.value, x.before.day, x.after)
	}
	if math.IsInf(chance, -1) {
		return
	}
	e.score = chance + math.Log(x.own()*oftenRight)
	x.compare(&e, value, x.day, x.before, &later)
	x.found = append(x.found, e)
}

// replaced tries another dial, put in since the reading before: mostly one set
// to nothing, else one that showed anything.
func (x *doubt) replaced() {
	reads := x.mark.Value
	if x.before == nil || x.after != nil || reads.Unit != x.run.dial.Unit {
		return
	}
	if m := x.run.dial.Modulus(); m > 0 && mm(reads) >= m {
		return
	}
	years := float64(x.day-x.before.day) / daysPerYear
	e := Explanation{Rule: RuleReplaced, WouldRead: reads,
		Sentence: "The odometer was replaced or set back since " + x.before.day.date().Long() +
			": record that change with what the new one showed, and the reading counts by itself."}
	way := x.usage.perYear()*years + float64(tripMost)
	most := x.run.dial.Modulus()
	if most == 0 {
		most = fiveDigits * x.run.dial.Unit.Distance()
	}
	fresh, used := math.Inf(-1), -math.Log(float64(max(most, x.before.value)))
	if share := float64(mm(reads)) / way; share <= 2 {
		fresh = -math.Log(way) - max(0, share-1)*3
	}
	chance := math.Log(0.85*math.Exp(fresh) + 0.15*math.Exp(used))
	e.score = chance + math.Log(x.own()*oftenReplaced*(years+shortest))
	x.found = append(x.found, e)
}

// right tries the reading as it is: then the vehicle was driven more than
// usual, or the readings it contradicts are wrong.
func (x *doubt) right() {
	reads := x.mark.Value
	if m := x.run.dial.Modulus(); reads.Unit != x.run.dial.Unit || m > 0 && mm(reads) >= m {
		if reads.Unit == x.run.dial.Unit {
			e := Explanation{Rule: RuleLeap, WouldRead: reads,
				Sentence: "It has more digits than the dial on record: mend that record if the vehicle has another dial."}
			e.score = math.Log(x.own()*oftenReplaced) - math.Log(float64(m)*10)
			x.found = append(x.found, e)
		}
		return
	}
	value := x.on(reads)
	before, after, often, against := x.consistent(value)
	if len(against) == 0 {
		often = oftenLeap
	}
	chance := x.usage.chance(x.run, value, x.day, before, after)
	if math.IsInf(chance, -1) { // a person may know better than we
		chance = -math.Log(float64(max(x.run.dial.Modulus(), vehicle.Mile))) - 20
	}
	e := Explanation{Rule: RuleLeap, WouldRead: reads, Verdict: AsRead,
		Sentence: "It is right as read: the vehicle was driven more than usual."}
	if len(against) > 0 {
		e.Rule, e.Sentence = RuleFall, "It is right as read, and "+x.wrong(against)+"."
	}
	e.score = chance + math.Log(x.own()*often)
	x.compare(&e, value, x.day, before, after)
	x.found = append(x.found, e)
}

// consistent finds the readings nearest to the mark that do not contradict it,
// those that do, and how often so many are wrong.
func (x *doubt) consistent(value vehicle.Distance) (before, after *node, often float64, against []*node) {
	often = oftenRight
	contradicts := func(n *node) {
		against = append(against, n)
		if n.mark < 0 || n.settled {
			often *= oftenVouched
			return
		}
		often *= oftenOther
	}
	at := 0
	for at < len(x.run.counted) && x.run.counted[at].day <= x.day {
		at++
	}
	for i := at - 1; i >= 0 && before == nil; i-- {
		if n := &x.run.counted[i]; n.value <= value {
			before = n
		} else {
			contradicts(n)
		}
	}
	for i := at; i < len(x.run.counted) && after == nil; i++ {
		if n := &x.run.counted[i]; n.value >= value {
			after = n
		} else {
			contradicts(n)
		}
	}
	return before, after, often, against
}

// wrong names the readings that a mark contradicts.
func (x *doubt) wrong(against []*node) string {
	if len(against) > 1 {
		return strconv.Itoa(len(against)) + " readings that count are wrong"
	}
	side := "after"
	if against[0].day <= x.day {
		side = "before"
	}
	return "the reading " + side + " it, " + x.text(against[0].value) + " on " + against[0].day.date().Long() + ", is wrong"
}

// otherDate tries the slips that are made with dates: the year, the month, day
// and month exchanged.
func (x *doubt) otherDate() {
	reads, d := x.mark.Value, x.mark.Date
	var found []Explanation
	if reads.Unit == x.run.dial.Unit {
		for _, try := range dateSlips(d) {
			if !x.mark.Recorded.IsZero() && try.date.After(x.mark.Recorded) {
				continue
			}
			at := doubt{run: x.run, usage: x.usage, mark: x.mark, day: dayOf(try.date)}
			at.before, at.after = x.run.around(at.day)
			at.add(Explanation{Rule: RuleDate, WouldRead: reads, Date: try.date, Verdict: Rejected,
				Sentence: "The date is wrong and it was read on " + try.date.Long() + ": reject it and enter it with that date."},
				at.on(reads), at.chance(at.on(reads)), at.own()*oftenDate*try.share)
			found = append(found, at.found...)
		}
	}
	if x.rule == RuleDate && len(found) == 0 {
		x.found = append(x.found, Explanation{Rule: RuleDate, WouldRead: reads, Verdict: Rejected,
			Sentence: "The date is later than the day it was recorded: reject it and enter it with the right date."})
	}
	if x.rule == RuleDate {
		x.found = append(x.found, found...)
		return
	}
	x.best(found)
}

// dateSlip is a day that may have been meant, and its share of such slips.
type dateSlip struct {
	date  vehicle.Date
	share float64
}

func dateSlips(d vehicle.Date) []dateSlip {
	slips := []dateSlip{
		{d.AddMonths(12), 0.5}, // in January people write the old year
		{d.AddMonths(-12), 0.2}, {d.AddMonths(1), 0.05}, {d.AddMonths(-1), 0.05},
		{d.AddMonths(-120), 0.02}, {d.AddMonths(120), 0.02},
	}
	exchanged := vehicle.Date{Year: d.Year, Month: time.Month(d.Day), Day: int(d.Month)}
	if exchanged.Valid() && exchanged != d {
		slips = append(slips, dateSlip{exchanged, 0.16})
	}
	return slices.DeleteFunc(slips, func(s dateSlip) bool { return !s.date.Valid() })
}
