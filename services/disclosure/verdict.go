package disclosure

import (
	"fmt"
	"strconv"

	"halfshaft/services/vehicle"
)

// Kind is which of the statements of 49 CFR 580.5(e) a draft makes.
type Kind string

// The kinds. Undecided is none of them: something must be looked into first.
const (
	Actual    Kind = "actual"           // the reading is the actual mileage, as far as is known
	Beyond    Kind = "beyond-limits"    // it is beyond the mechanical limits: the dial went round
	NotActual Kind = "not-actual"       // it is not the actual mileage
	Undecided Kind = "cannot-be-stated" // the record does not tell
)

// What a dial may show more or less than the truth and still be told to be right.
// The law leaves out what calibration causes and names no figure; a twentieth,
// and never less than ten units, is this program's line (no source). The dials of
// these vehicles read up to 4.7 % high by their gears and tyres as built.
const (
	calibrationShare = 20
	calibrationUnits = 10
)

// Verdict says which statement the record of a vehicle bears out on a day, and
// why. The first reason decides; the others are to be known as well.
func (v *Vehicle) Verdict(on vehicle.Date) (Kind, []vehicle.Reason) {
	kind, reasons := v.decide(on)
	for _, r := range v.replacedBy(on) {
		if r.Preserved() {
			reasons = append(reasons, r.preservedReason())
		}
	}
	if kind != Undecided {
		reasons = append(reasons, v.stillWaiting(on)...)
	}
	return kind, append(reasons, v.beforeTheRebuild()...)
}

func (v *Vehicle) decide(on vehicle.Date) (Kind, []vehicle.Reason) {
	var lost []vehicle.Reason
	for _, r := range v.replacedBy(on) {
		if !r.Preserved() {
			lost = append(lost, r.lostReason())
		}
	}
	turns, off, compared := v.compare(on)
	switch {
	case len(lost) > 0:
		return NotActual, lost
	case v.Last.On.IsZero() || v.Last.On.After(on):
		return Undecided, []vehicle.Reason{{Rule: "NO_READING",
			Sentence: "No reading of the odometer counts by that day: it must be read, and the reading recorded."}}
	case len(v.waitingAfterLast(on)) > 0:
		return Undecided, v.waitingReasons(v.waitingAfterLast(on))
	case !compared:
		return Undecided, []vehicle.Reason{{Rule: "NO_BEGINNING",
			Sentence: "It is not on record what the odometer showed at delivery, so what it shows cannot be held against the distance driven since."}}
	case turns > 0 && v.cameRound(turns, on):
		reasons := []vehicle.Reason{v.turnsReason(turns)}
		if v.offCalibration(off) {
			reasons = append(reasons, v.offReason(off))
		}
		return Beyond, reasons
	case v.offCalibration(off):
		return NotActual, []vehicle.Reason{v.offReason(off)}
	}
	return Actual, []vehicle.Reason{v.agreesReason(off)}
}

// compare holds the way that the dial went since delivery against the true
// distance: how often it went round, and by how much it is off (more than the
// truth is positive). It wants odometers that carry the mileage on.
func (v *Vehicle) compare(on vehicle.Date) (turns int64, off vehicle.Distance, ok bool) {
	shown, err := v.Last.Shown.Distance()
	began, errBegan := v.Delivered.Distance()
	modulus := v.dialOn(on).Modulus()
	if err != nil || errBegan != nil || modulus == 0 {
		return 0, 0, false
	}
	off = shown - began - v.Last.True
	if off < 0 { // the nearest number of turns
		turns = int64((-off + modulus/2) / modulus)
	}
	return turns, off + vehicle.Distance(turns)*modulus, true
}

// cameRound reports whether the vehicle went far enough for the dial to go round
// so often, as far as calibration lets one tell: a dial that fell back by some
// thousands without that was set back or stood still.
func (v *Vehicle) cameRound(turns int64, on vehicle.Date) bool {
	began, err := v.Delivered.Distance()
	least := vehicle.Distance(turns) * v.dialOn(on).Modulus()
	return err == nil && began+v.Last.True+max(v.Last.True/calibrationShare, calibrationUnits*v.Last.Shown.Unit.Distance()) >= least
}

// offCalibration reports whether the dial is off by more than calibration.
func (v *Vehicle) offCalibration(off vehicle.Distance) bool {
	off = max(off, -off)
	return off > calibrationUnits*v.Last.Shown.Unit.Distance() && off > v.Last.True/calibrationShare
}

func (v *Vehicle) waitingAfterLast(on vehicle.Date) []Look {
	var some []Look
	for _, w := range v.Waiting {
		if !w.On.After(on) && !w.On.Before(v.Last.On) {
			some = append(some, w)
		}
	}
	return some
}

func (v *Vehicle) waitingReasons(looks []Look) []vehicle.Reason {
	var all []vehicle.Reason
	for _, w := range looks {
		all = append(all, vehicle.Reason{
			Rule: "READING_WAITS", Record: w.Record,
			Facts:    []vehicle.Fact{{Name: "reading", Value: w.Shown.String()}, {Name: "read_on", Value: w.On.Long()}},
			Sentence: fmt.Sprintf("The reading of %s on %s waits for a decision: settle it first.", w.Shown, w.On.Long()),
		})
	}
	return all
}

// stillWaiting tells of readings that wait and do not decide: later ones count.
func (v *Vehicle) stillWaiting(on vehicle.Date) []vehicle.Reason {
	var some []Look
	for _, w := range v.Waiting {
		if !w.On.After(on) {
			some = append(some, w)
		}
	}
	return v.waitingReasons(some)
}

// lostReason says that the mileage was not carried over.
func (r Replacement) lostReason() vehicle.Reason {
	before, after := "a reading that nobody wrote down", "a reading that nobody wrote down"
	if !r.Before.IsZero() {
		before = r.Before.String()
	}
	if !r.After.IsZero() {
		after = r.After.String()
	}
	return vehicle.Reason{
		Rule: "ODOMETER_REPLACED", Record: r.Record,
		Facts: []vehicle.Fact{{Name: "replaced_on", Value: r.On.Long()}, {Name: "before", Value: before}, {Name: "after", Value: after}},
		Sentence: fmt.Sprintf("The odometer was replaced on %s%s: it stood at %s before and at %s after, so what it shows is not the mileage of the vehicle.",
			r.On.Long(), by(r.By), before, after),
	}
}

func (r Replacement) preservedReason() vehicle.Reason {
	return vehicle.Reason{
		Rule: "MILEAGE_CARRIED_OVER", Record: r.Record,
		Facts:    []vehicle.Fact{{Name: "replaced_on", Value: r.On.Long()}, {Name: "before", Value: r.Before.String()}, {Name: "after", Value: r.After.String()}},
		Sentence: fmt.Sprintf("The odometer was replaced on %s%s and shows the same as the one before: %s.", r.On.Long(), by(r.By), r.After),
	}
}

func by(who string) string {
	if who == "" {
		return ""
	}
	return " by " + who
}

// facts are the numbers that dial and ledger are compared by.
func (v *Vehicle) facts() []vehicle.Fact {
	unit := v.Last.Shown.Unit
	return []vehicle.Fact{
		{Name: "delivered_with", Value: v.Delivered.String()}, {Name: "last_reading", Value: v.Last.Shown.String()},
		{Name: "read_on", Value: v.Last.On.Long()}, {Name: "true_distance", Value: v.Last.True.Text(unit)},
	}
}

func (v *Vehicle) turnsReason(turns int64) vehicle.Reason {
	times := "once"
	if turns > 1 {
		times = strconv.FormatInt(turns, 10) + " times"
	}
	return vehicle.Reason{
		Rule: "WENT_ROUND", Record: v.Last.Record, Facts: append(v.facts(), vehicle.Fact{Name: "turns", Value: strconv.FormatInt(turns, 10)}),
		Sentence: fmt.Sprintf("The odometer has gone round %s: it showed %s at delivery and %s on %s, and the vehicle went about %s between.",
			times, v.Delivered, v.Last.Shown, v.Last.On.Long(), v.Last.True.Text(v.Last.Shown.Unit)),
	}
}

func (v *Vehicle) offReason(off vehicle.Distance) vehicle.Reason {
	return vehicle.Reason{
		Rule: "NOT_THE_TRUE_DISTANCE", Record: v.Last.Record, Facts: append(v.facts(), vehicle.Fact{Name: "off_by", Value: off.Text(v.Last.Shown.Unit)}),
		Sentence: fmt.Sprintf("Since delivery with %s on it the odometer has come to %s on %s, and by the distance ledger, which counts with the tyres, axles and speedometer gears of each time, the vehicle went about %s: it shows %s. That is more than one part in %d, which is taken for calibration here; the law names no figure.",
			v.Delivered, v.Last.Shown, v.Last.On.Long(), v.Last.True.Text(v.Last.Shown.Unit), tooMuch(off, v.Last.Shown.Unit), calibrationShare),
	}
}

func (v *Vehicle) agreesReason(off vehicle.Distance) vehicle.Reason {
	shows := "It shows " + tooMuch(off, v.Last.Shown.Unit) + fmt.Sprintf(", which is taken for calibration: up to one part in %d; the law names no figure.", calibrationShare)
	if off.Whole(v.Last.Shown.Unit) == 0 {
		shows = "They agree."
	}
	return vehicle.Reason{
		Rule: "SHOWS_THE_DISTANCE", Record: v.Last.Record, Facts: append(v.facts(), vehicle.Fact{Name: "off_by", Value: off.Text(v.Last.Shown.Unit)}),
		Sentence: fmt.Sprintf("Since delivery with %s on it the odometer has come to %s on %s, and by the distance ledger the vehicle went about %s. %s",
			v.Delivered, v.Last.Shown, v.Last.On.Long(), v.Last.True.Text(v.Last.Shown.Unit), shows),
	}
}

// tooMuch is "180 miles too many".
func tooMuch(off vehicle.Distance, unit vehicle.Unit) string {
	if off < 0 {
		return (-off).Text(unit) + " too few"
	}
	return off.Text(unit) + " too many"
}

// beforeTheRebuild says what no record tells: how far the donor had gone. An
// odometer that was kept may show it, and may not.
func (v *Vehicle) beforeTheRebuild() []vehicle.Reason {
	if v.DonorYear == 0 || v.DonorYear >= v.BuildDate.Year {
		return nil
	}
	began := "nothing written down of the odometer"
	if !v.Delivered.IsZero() {
		began = v.Delivered.String() + " on the odometer"
	}
	return []vehicle.Reason{{
		Rule: "BEFORE_THE_REBUILD",
		Facts: []vehicle.Fact{
			{Name: "donor_year", Value: strconv.Itoa(v.DonorYear)}, {Name: "built", Value: v.BuildDate.Long()}, {Name: "delivered_with", Value: v.Delivered.String()},
		},
		Sentence: fmt.Sprintf("The record begins with the rebuild of %d and %s: how far the donor of %d had gone is not on record. Whether the mileage of the vehicle begins with the rebuild, or must be stated as not actual for that alone, is for counsel.",
			v.BuildDate.Year, began, v.DonorYear),
	}}
}
