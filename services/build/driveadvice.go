package build

import (
	"fmt"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// DriveCaution stands beside all advice about a speedometer.
const DriveCaution = "What a vehicle of its age must show, and who may change its speedometer drive, is for local law, which goes first. " +
	"Other drive gears change the odometer too: record them as a change on the day, so that the distance stays true."

// advise looks for drive gears and says in words what comes of it.
func (d *DriveLine) advise(choice []drivetrain.Teeth) {
	a := d.Speedometer.Advise(choice)
	d.Advice = &a
	d.AdviceReasons = []vehicle.Reason{d.readsAt50(), d.lawReason()}
	if len(choice) > 0 {
		d.AdviceReasons = append(d.AdviceReasons, d.gearsReason())
	}
}

// ReadsAt50 is what the dial reads at a true 50 mph, in miles per hour, and
// between which values that lies by the tolerance of the tyre.
func (d *DriveLine) ReadsAt50() (reads, least, most float64) {
	reads = 50 * d.Speedometer.Reads()
	return reads, reads / (1 + d.Circumference.Tolerance), reads / (1 - d.Circumference.Tolerance)
}

func (d *DriveLine) readsAt50() vehicle.Reason {
	reads, least, most := d.ReadsAt50()
	at, unit := "50 mph", "mph"
	if d.Dial.Unit == vehicle.Kilometres {
		const km = float64(vehicle.Mile) / float64(vehicle.Kilometre)
		reads, least, most = reads*km, least*km, most*km
		at, unit = "50 mph (80.5 km/h)", "km/h"
	}
	r := vehicle.Reason{Rule: "READS_AT_50_MPH", Record: Name(d.Serial)}
	r.Facts = []vehicle.Fact{fact("reads", "%.1f "+unit, reads), {Name: "off", Value: off(d.Speedometer.Reads())}}
	r.Sentence = fmt.Sprintf("At a true %s the dial reads %.1f %s.", at, reads, unit)
	if t := d.Circumference.Tolerance; t > 0 {
		r.Facts = append(r.Facts, fact("least", "%.1f "+unit, least), fact("most", "%.1f "+unit, most))
		r.Sentence = fmt.Sprintf("At a true %s the dial reads about %.1f %s: between %.1f and %.1f, because how far these tyres roll is known to %s only. "+
			"Measured over ten turns of the wheel and recorded with the tyres, it would be surer.", at, reads, unit, least, most, percent(t))
	}
	r.Sentence += " Worn tyres make it read up to 2 % more."
	return r
}

// lawReason says whether the drive as it stands is in the band.
func (d *DriveLine) lawReason() vehicle.Reason {
	now := &d.Advice.Now
	r := vehicle.Reason{Rule: "IN_THE_BAND", Record: Name(d.Serial)}
	var shown, most []string
	for _, b := range now.Band {
		shown, most = append(shown, fmt.Sprintf("%.1f", b.Indicated)), append(most, fmt.Sprintf("%.0f", b.Most))
		r.Facts = append(r.Facts, fact(fmt.Sprintf("indicated_at_%.0f_kmh", b.True), "%.1f km/h", b.Indicated))
	}
	r.Sentence = fmt.Sprintf("At a true 40, 80 and 120 km/h it reads %s. UN Regulation No. 39, section 5.3, allows no less than the truth and at most %s: ",
		wording.List(shown, "and"), wording.List(most, "and"))
	switch {
	case now.Meets && now.Surely:
		r.Sentence += "it is within."
	case now.Meets:
		r.Sentence += "it is within, but with the tyre as uncertain as it is, not surely."
	case now.Reads < 1:
		r.Rule = "READS_LOW"
		r.Sentence += "it reads less than the truth, which is never allowed."
	default:
		r.Rule = "READS_HIGH"
		r.Sentence += "it reads more than is allowed."
	}
	return r
}

// gearsReason names the best pair, or says that there is none.
func (d *DriveLine) gearsReason() vehicle.Reason {
	a := d.Advice
	r := vehicle.Reason{Rule: "DRIVE_GEARS", Record: Name(d.Serial), Facts: []vehicle.Fact{
		fact("least_ratio", "%.4f", a.Least), fact("most_ratio", "%.4f", a.Most)}}
	if len(a.Pairs) == 0 {
		r.Rule = "NO_DRIVE_GEARS"
		r.Sentence = fmt.Sprintf("None of the drive gears to choose from brings it into that band: driver over driven teeth must lie between %.4f and %.4f. "+
			"The nearest is %s, which reads %s. It takes other gears, a dial for other turns of the cable, or a ratio box in the cable.",
			a.Least, a.Most, pair(a.Nearest.Teeth), off(a.Nearest.Reads))
		r.Facts = append(r.Facts, vehicle.Fact{Name: "nearest", Value: pair(a.Nearest.Teeth)})
		return r
	}
	best := a.Pairs[0]
	r.Facts = append(r.Facts, vehicle.Fact{Name: "best", Value: pair(best.Teeth)})
	surely := ""
	if best.Surely && d.Circumference.Tolerance > 0 {
		surely = "surely "
	}
	if best.Teeth == a.Now.Teeth {
		r.Sentence = fmt.Sprintf("Of the drive gears to choose from, those fitted (%s) are the nearest that are %swithin.", pair(best.Teeth), surely)
		return r
	}
	r.Sentence = fmt.Sprintf("Of the drive gears to choose from, %s (driver/driven) are the nearest to the truth that are %swithin: it would read %s instead of %s.",
		pair(best.Teeth), surely, off(best.Reads), off(a.Now.Reads))
	return r
}

func pair(t drivetrain.Teeth) string { return fmt.Sprintf("%d/%d", t.Driver, t.Driven) }
