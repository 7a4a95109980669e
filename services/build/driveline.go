package build

import (
	"fmt"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// StandardEngineSpeed is what road speeds are given for when nobody says
// otherwise, in turns a minute.
const StandardEngineSpeed = 2500

// DriveLineQuestion is what somebody wants to know about a drive line.
type DriveLineQuestion struct {
	EngineSpeed int                // in turns a minute; 0 means StandardEngineSpeed
	Drives      []drivetrain.Teeth // speedometer drive gears to choose from; empty means those of the release
}

// DriveLine is the drive line of a vehicle on a day, and what follows from it.
// What is not known is zero, and Missing says why.
type DriveLine struct {
	Serial        vehicle.Serial
	On            vehicle.Date
	Gearing       drivetrain.Gearing
	Tyre          drivetrain.Tyre
	Circumference drivetrain.Circumference
	Diameter      drivetrain.Diameter
	Drive         drivetrain.Drive
	Dial          vehicle.Dial
	EngineSpeed   int
	Speeds        []drivetrain.GearSpeed

	Speedometer *drivetrain.Speedometer // nil when it cannot be told what the dial reads
	Factor      int64                   // true over indicated, in parts per million; 0 likewise
	Advice      *drivetrain.Advice      // nil likewise

	Reasons       []vehicle.Reason // which record each value comes from, and what they come to
	AdviceReasons []vehicle.Reason
	Missing       []vehicle.Reason
	Sample        bool // the ratios are samples, to be signed by the works' engineer
}

// DriveLineOf tells how fast a vehicle goes at the end of a day, and how right
// its speedometer is. It fails as Configure does, and never for what is not on
// record: that is named in Missing, and the rest is answered.
func DriveLineOf(rec Record, changes []Change, releases ReleaseSet, on vehicle.Date, q DriveLineQuestion) (DriveLine, error) {
	c, err := Configure(rec, changes, releases, on)
	if err != nil {
		return DriveLine{}, err
	}
	d := DriveLine{
		Serial: rec.Serial, On: on, Tyre: c.Tyre, Drive: c.Drive, Dial: c.Dial, EngineSpeed: q.EngineSpeed,
		Gearing: drivetrain.Gearing{Axle: c.Drive.AxleRatio}, Sample: releases[rec.Release].Driveline.Sample,
	}
	if d.EngineSpeed == 0 {
		d.EngineSpeed = StandardEngineSpeed
	}
	d.Gearing.Gears = d.ratiosAt(&c, GearboxPosition, releases)
	d.Gearing.Ranges = ranges(d.ratiosAt(&c, TransferCasePosition, releases))
	d.rolling(source{&rec, changes, on})
	d.Speeds = d.Gearing.Speeds(d.Circumference, float64(d.EngineSpeed))
	if d.Circumference.Millimetres == 0 {
		d.Speeds = nil
	}
	d.speedometer()
	if d.Speedometer == nil {
		return d, nil
	}
	d.before(rec, changes, releases)
	if len(q.Drives) == 0 {
		q.Drives = d.drivesOf(&c, releases)
	}
	d.advise(q.Drives)
	return d, nil
}

// ratiosAt takes in the ratios of a position, or that they are missing.
func (d *DriveLine) ratiosAt(c *Configuration, position string, releases ReleaseSet) []vehicle.Decimal {
	ratios, from, why := c.ratiosAt(position, releases)
	if from == nil {
		d.Missing = append(d.Missing, why)
		return nil
	}
	d.Sample = d.Sample || from.Driveline.Sample
	d.Reasons = append(d.Reasons, why)
	return ratios
}

// rolling takes in axle and tyres.
func (d *DriveLine) rolling(s source) {
	axle := d.Drive.AxleRatio.String()
	record, words := s.of(AxleRatio, s.record.Drive.AxleRatio.Sign() != 0)
	d.Reasons = append(d.Reasons, vehicle.Reason{
		Rule: "AXLE_RATIO", Record: record, Facts: []vehicle.Fact{{Name: "axle_ratio", Value: axle}},
		Sentence: fmt.Sprintf("The axle ratio is %s to 1, %s.", axle, words),
	})
	record, words = s.of(Tyres, s.record.Tyre.Size != "")
	facts := []vehicle.Fact{{Name: "tyre", Value: d.Tyre.String()}}
	circumference, err := drivetrain.RollingCircumference(d.Tyre)
	if err != nil {
		d.Missing = append(d.Missing, vehicle.Reason{
			Rule: "TYRE_UNKNOWN", Record: record, Facts: facts,
			Sentence: fmt.Sprintf("The tyres are %s, %s. How far they roll in a turn is in no table and does not follow from the size: measure it, and record it with the tyres. "+
				"Until then neither road speeds nor what the dial reads can be told.", d.Tyre, words),
		})
		return
	}
	d.Circumference = circumference
	d.Diameter, _ = drivetrain.OutsideDiameter(d.Tyre) // zero where the size does not tell it
	r := vehicle.Reason{Rule: "TYRE_PUBLISHED", Record: record}
	if d.Tyre.Measured != 0 {
		r.Rule = "TYRE_MEASURED"
	}
	r.Facts = append(facts, fact("circumference", "%.0f mm", circumference.Millimetres),
		fact("revs_per_mile", "%.1f", drivetrain.RevsPerMile(circumference)), vehicle.Fact{Name: "source", Value: circumference.Source})
	r.Sentence = fmt.Sprintf("The tyres are %s, %s: they roll %s mm in a turn, so they turn %s times in a mile (%s).",
		d.Tyre, words, grouped("%.0f", circumference.Millimetres), grouped("%.1f", drivetrain.RevsPerMile(circumference)), circumference.Source)
	switch {
	case circumference.Estimated:
		r.Rule = "TYRE_ESTIMATED"
		r.Sentence += fmt.Sprintf(" That is estimated, and may be off by %s either way.", percent(circumference.Tolerance))
	case circumference.Tolerance > 0:
		r.Rule = "TYRE_OF_ANOTHER_PATTERN"
	}
	d.Reasons = append(d.Reasons, r)
}

// speedometer takes in what the dial makes of it.
func (d *DriveLine) speedometer() {
	if d.Circumference.Millimetres == 0 {
		return
	}
	s := drivetrain.Speedometer{Tyre: d.Circumference, Drive: d.Drive, Dial: d.Dial}
	factor, err := s.Factor()
	if err != nil {
		d.Missing = append(d.Missing, vehicle.Reason{
			Rule: "SPEEDOMETER_UNKNOWN", Record: Name(d.Serial),
			Sentence: "What the dial reads cannot be told: " + wording.Ended(err.Error()),
		})
		return
	}
	d.Speedometer, d.Factor = &s, factor
	d.Reasons = append(d.Reasons, vehicle.Reason{
		Rule: "ODOMETER_FACTOR", Record: Name(d.Serial),
		Facts: []vehicle.Fact{
			fact("cable_turns_per_mile", "%.1f", s.CableTurns()), fact("dial_turns_per_mile", "%.1f", s.DialTurns()),
			fact("odometer_factor", "%.6f", float64(factor)/1e6), {Name: "reads", Value: off(s.Reads())},
		},
		Sentence: fmt.Sprintf("In a true mile the cable turns %s times (%s turns of the wheel x %s of the axle x %d/%d of the drive), "+
			"and the dial counts a mile for %s: it reads %s. Gear and range do not change that.",
			grouped("%.1f", s.CableTurns()), grouped("%.1f", drivetrain.RevsPerMile(d.Circumference)), d.Drive.AxleRatio, d.Drive.DriverTeeth, d.Drive.DrivenTeeth,
			grouped("%.1f", s.DialTurns()), off(s.Reads())),
	})
}

// before says what the dial read until the last change that made it count
// otherwise.
func (d *DriveLine) before(rec Record, changes []Change, releases ReleaseSet) {
	t, err := TimelineOf(rec, changes, releases)
	if err != nil {
		return // the release is there: Configure found it
	}
	now := 0
	for i, s := range t.Segments {
		if !s.From.After(d.On) {
			now = i
		}
	}
	if now == 0 {
		return
	}
	was, since := t.Segments[now-1], t.Segments[now]
	c, err := drivetrain.RollingCircumference(was.Tyre)
	if err != nil {
		return
	}
	s := drivetrain.Speedometer{Tyre: c, Drive: was.Drive, Dial: was.Dial}
	if _, err := s.Factor(); err != nil {
		return
	}
	d.Reasons = append(d.Reasons, vehicle.Reason{
		Rule: "READ_BEFORE", Record: since.Change,
		Facts: []vehicle.Fact{{Name: "change_date", Value: since.From.String()}, {Name: "tyre", Value: was.Tyre.String()}, {Name: "read", Value: off(s.Reads())}},
		Sentence: fmt.Sprintf("Until %s it read %s, with tyres %s, an axle of %s to 1, a drive of %d/%d and a dial for %d turns a %s.",
			since.From.Long(), off(s.Reads()), was.Tyre, was.Drive.AxleRatio, was.Drive.DriverTeeth, was.Drive.DrivenTeeth,
			was.Dial.TurnsPerUnit, unitWord(was.Dial.Unit)),
	})
}

// drivesOf gives the drive gears to choose from: those of the release that the
// transfer case follows.
func (d *DriveLine) drivesOf(c *Configuration, releases ReleaseSet) []drivetrain.Teeth {
	id := c.Release
	if f := c.At(TransferCasePosition); f != nil {
		id = f.Release
	}
	if r := releases[id]; r != nil && len(r.Driveline.Drives) > 0 {
		return r.Driveline.Drives
	}
	d.Missing = append(d.Missing, vehicle.Reason{
		Rule: "DRIVE_GEARS_UNKNOWN", Record: ReleaseName(id),
		Sentence: fmt.Sprintf("Release %s names no speedometer drive gears to choose from.", id),
	})
	return nil
}

// source finds the record behind a value of the drive line.
type source struct {
	record  *Record
	changes []Change
	on      vehicle.Date
}

// of gives the last change of a kind; else the build record, where it says it;
// else the release. words goes on a sentence.
func (s source) of(kind ChangeKind, inRecord bool) (name, words string) {
	ordered := InOrder(s.changes)
	for i := len(ordered) - 1; i >= 0; i-- {
		if c := &ordered[i]; c.Kind == kind && !c.Date.After(s.on) {
			return c.Name(), "since " + c.Date.Long()
		}
	}
	if inRecord {
		return Name(s.record.Serial), "as the build record says"
	}
	return ReleaseName(s.record.Release), "as release " + s.record.Release + " has it"
}

func fact(name, format string, value float64) vehicle.Fact {
	return vehicle.Fact{Name: name, Value: fmt.Sprintf(format, value)}
}

// grouped writes a number for a sentence, with commas between its thousands.
func grouped(format string, value float64) string {
	return wording.Grouped(fmt.Sprintf(format, value))
}

// off says how a dial reads: "2.6 % high", "right".
func off(reads float64) string {
	switch p := fmt.Sprintf("%.1f", 100*(reads-1)); {
	case p == "0.0" || p == "-0.0":
		return "right"
	case reads < 1:
		return p[1:] + " % low"
	default:
		return p + " % high"
	}
}

// percent prints a fraction: "1.5 %".
func percent(fraction float64) string { return fmt.Sprintf("%g %%", 100*fraction) }

func unitWord(u vehicle.Unit) string {
	if u == vehicle.Kilometres {
		return "kilometre"
	}
	return "mile"
}
