package buildwire

import (
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// DriveLineProto writes a vehicle's drive line and what follows from it.
func DriveLineProto(d build.DriveLine) *buildv1.VehicleDriveLine {
	p := &buildv1.VehicleDriveLine{
		Name: build.DriveLineName(d.Serial), OnDate: vehiclewire.DateProto(d.On),
		Gears: decimalTexts(d.Gearing.Gears), AxleRatio: decimalText(d.Gearing.Axle), Tyre: rollingTyre(d),
		SpeedometerDrive: vehiclewire.DriveProto(d.Drive), Dial: vehiclewire.DialProto(d.Dial),
		SpeedUnit: "mph", EngineSpeedRpm: int32(d.EngineSpeed),
		Reasons: vehiclewire.Reasons(d.Reasons), Missing: vehiclewire.Reasons(d.Missing), Sample: d.Sample,
	}
	inUnit := 1.0 // of the speeds, for a mile an hour
	if d.Dial.Unit == vehicle.Kilometres {
		p.SpeedUnit, inUnit = "km/h", float64(vehicle.Mile)/float64(vehicle.Kilometre)
	}
	for i, r := range d.Gearing.Ranges {
		if i == 0 {
			p.TransferHigh = r.Ratio.String()
		} else {
			p.TransferLow = r.Ratio.String()
		}
	}
	for _, s := range d.Speeds {
		p.RoadSpeeds = append(p.RoadSpeeds, &buildv1.GearSpeed{
			Range: s.Range.Name, Gear: int32(s.Gear), OverallRatio: s.Overall,
			SpeedPerThousandRpm: s.PerThousand * inUnit, SpeedAtEngineSpeed: s.AtEngineSpeed * inUnit,
		})
	}
	if d.Speedometer != nil {
		p.Speedometer, p.Advice = speedometer(d), advice(d)
	}
	return p
}

func rollingTyre(d build.DriveLine) *buildv1.RollingTyre {
	return &buildv1.RollingTyre{
		Tyre: vehiclewire.TyreProto(d.Tyre), OutsideDiameterMm: d.Diameter.Millimetres,
		CircumferenceMm: d.Circumference.Millimetres, RevsPerMile: drivetrain.RevsPerMile(d.Circumference),
		Source: d.Circumference.Source, Estimated: d.Circumference.Estimated, TolerancePercent: 100 * d.Circumference.Tolerance,
	}
}

func speedometer(d build.DriveLine) *buildv1.Speedometer {
	s := d.Speedometer
	p := &buildv1.Speedometer{
		CableTurnsPerMile: s.CableTurns(), DialTurnsPerMile: s.DialTurns(), OdometerFactorPpm: d.Factor,
		OdometerFactorPercent: 100 / s.Reads(), ReadsHighPercent: 100 * (s.Reads() - 1),
	}
	for _, row := range s.Table() {
		p.DialSpeeds = append(p.DialSpeeds, &buildv1.DialSpeed{Speed: row.Speed, IndicatedSpeed: row.Indicated, TrueSpeed: row.True})
	}
	return p
}

func advice(d build.DriveLine) *buildv1.SpeedometerAdvice {
	a := d.Advice
	p := &buildv1.SpeedometerAdvice{
		Now: driveFit(a.Now), LeastRatio: a.Least, MostRatio: a.Most,
		Reasons: vehiclewire.Reasons(d.AdviceReasons), Caution: build.DriveCaution,
	}
	p.ReadsAt_50Mph, p.ReadsAt_50MphLeast, p.ReadsAt_50MphMost = d.ReadsAt50()
	for _, f := range a.Pairs {
		p.Pairs = append(p.Pairs, driveFit(f))
	}
	if len(a.Pairs) == 0 && a.Nearest.Teeth != (drivetrain.Teeth{}) {
		p.Nearest = driveFit(a.Nearest)
	}
	return p
}

func driveFit(f drivetrain.Fit) *buildv1.DriveFit {
	p := &buildv1.DriveFit{
		Drive: teethProto(f.Teeth), ReadsHighPercent: 100 * (f.Reads - 1), InBand: f.Meets, SurelyInBand: f.Meets && f.Surely,
	}
	for _, b := range f.Band {
		p.Band = append(p.Band, &buildv1.BandTest{
			TrueKmh: b.True, IndicatedKmh: b.Indicated, LeastKmh: b.Least, MostKmh: b.Most, Within: b.Within,
		})
	}
	return p
}
