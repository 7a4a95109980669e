package drivetrain

import (
	"fmt"
	"math"
	"strconv"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

const millimetresPerMile = float64(vehicle.Mile)

// RevsPerMile is how often a wheel turns in a mile; 0 for a circumference that
// is not positive.
func RevsPerMile(c Circumference) float64 {
	if !(c.Millimetres > 0) {
		return 0
	}
	return millimetresPerMile / c.Millimetres
}

// RoadSpeed is the road speed in miles per hour at an engine speed in turns per
// minute: 60 rpm / (N R), with N the turns of the wheel per mile and R the
// product of the ratios of gear, transfer case and axle (turns in for one turn
// out). It is 0 when a ratio or the circumference is not positive.
func RoadSpeed(rpm, gear, transfer, axle float64, c Circumference) (mph float64) {
	turns := RevsPerMile(c) * gear * transfer * axle
	if !(gear > 0 && transfer > 0 && axle > 0 && turns > 0) {
		return 0
	}
	return rpm * 60 / turns
}

// Drive is the drive of the speedometer from the transfer-case output.
type Drive struct {
	AxleRatio   vehicle.Decimal // turns of the propshaft for one of the wheel: 4.70
	DriverTeeth int             // of the gear on the output shaft
	DrivenTeeth int             // of the pinion on the cable
}

// What axles and speedometer gears can be.
const (
	minAxleRatio, maxAxleRatio = 1, 10
	minTeeth, maxTeeth         = 1, 60 // a worm has as few as one
)

// Validate gives what is wrong with the drive, in the words of its fields.
func (d Drive) Validate() []fault.Field {
	var wrong []fault.Field
	if d.AxleRatio.Cmp(vehicle.Decimal{Coefficient: minAxleRatio}) < 0 ||
		d.AxleRatio.Cmp(vehicle.Decimal{Coefficient: maxAxleRatio}) > 0 {
		wrong = append(wrong, fault.Field{Name: "axle_ratio", Got: d.AxleRatio.String(), Want: "1 to 10, as in 4.70"})
	}
	return append(wrong, Teeth{d.DriverTeeth, d.DrivenTeeth}.Validate()...)
}

// Gears gives the pair of gears as driver and driven teeth, "5:15"; empty when
// they are not known.
func (d Drive) Gears() string {
	if d.DriverTeeth == 0 || d.DrivenTeeth == 0 {
		return ""
	}
	return fmt.Sprintf("%d:%d", d.DriverTeeth, d.DrivenTeeth)
}

// Teeth is one pair of gears for the speedometer drive.
type Teeth struct{ Driver, Driven int }

// Validate gives what is wrong with the pair, in the words of its fields.
func (t Teeth) Validate() []fault.Field {
	var wrong []fault.Field
	for _, gear := range []struct {
		name  string
		teeth int
	}{{"driver_teeth", t.Driver}, {"driven_teeth", t.Driven}} {
		if gear.teeth < minTeeth || gear.teeth > maxTeeth {
			wrong = append(wrong, fault.Field{Name: gear.name, Got: strconv.Itoa(gear.teeth), Want: "1 to 60"})
		}
	}
	return wrong
}

// cableTurnsPerMile is how often the cable turns in a true mile.
func (d Drive) cableTurnsPerMile(c Circumference) float64 {
	return RevsPerMile(c) * d.AxleRatio.Float64() * float64(d.DriverTeeth) / float64(d.DrivenTeeth)
}

// The factors that are believed, in parts per million. Beyond them a value was
// mistyped: no change of axle and tyres halves or doubles what a dial shows.
const (
	unity                = 1_000_000
	minFactor, maxFactor = unity / 2, unity * 2
)

// OdometerFactor gives the true distance over the indicated one in parts per
// million: 974,501 means that the odometer shows 2.6 % too much. It is K_i/K_v,
// with K_i the turns of the cable for which the dial counts one mile (a dial in
// kilometres is brought to miles first) and K_v the turns that the drive gives
// it in a true mile: N x axle ratio x driver teeth / driven teeth.
//
// The error is a *fault.Error of kind Invalid: it names each field of drive
// and dial that is wrong, or has the reason FACTOR_IMPLAUSIBLE when each is
// possible but the odometer would show less than half or more than twice the
// true distance.
func OdometerFactor(c Circumference, d Drive, dial vehicle.Dial) (ppm int64, err error) {
	var wrong []fault.Field
	if !(c.Millimetres > 0) || math.IsInf(c.Millimetres, 0) {
		wrong = append(wrong, fault.Field{
			Name: "circumference", Got: strconv.FormatFloat(c.Millimetres, 'g', -1, 64), Want: "more than 0 mm",
		})
	}
	wrong = append(append(wrong, prefixed("drive.", d.Validate())...), prefixed("dial.", dial.Validate())...)
	if err := fault.InvalidFields(wrong); err != nil {
		return 0, err
	}
	instrument := dialTurnsPerMile(dial)
	k := math.Round(unity * instrument / d.cableTurnsPerMile(c))
	if k < minFactor || k > maxFactor {
		return 0, fault.New(fault.Invalid, "FACTOR_IMPLAUSIBLE",
			"with these gears the cable turns %.0f times in a mile and the dial wants %.0f: "+
				"one of axle ratio, teeth, tyre and turns on the dial is mistyped",
			d.cableTurnsPerMile(c), instrument)
	}
	return int64(k), nil
}

// prefixed puts a path before the names of fields.
func prefixed(path string, fields []fault.Field) []fault.Field {
	for i := range fields {
		fields[i].Name = path + fields[i].Name
	}
	return fields
}

// TrueDistance is what an indicated distance really was, by the factor of
// OdometerFactor, rounded to the millimetre. It reports false on overflow.
func TrueDistance(indicated vehicle.Distance, ppm int64) (vehicle.Distance, bool) {
	return vehicle.Decimal{Coefficient: ppm, Scale: 6}.Times(indicated)
}
