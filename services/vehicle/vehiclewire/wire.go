// Package vehiclewire converts the values that all services share between
// services/vehicle and their protos.
//
// Towards the domain a conversion checks the form of what it reads and returns
// a fault whose field is relative ("value", "unit"); the caller puts its own
// path in front with fault.Under. Absent messages become zero values, and zero
// values become absent messages.
package vehiclewire

import (
	"strconv"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/types/known/timestamppb"

	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/drivetrain"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Date reads a civil date. A date without a day or a month is refused: nothing
// in the trade is that vague without saying so in words.
func Date(d *date.Date) (vehicle.Date, error) {
	if d == nil || (d.GetYear() == 0 && d.GetMonth() == 0 && d.GetDay() == 0) {
		return vehicle.Date{}, nil
	}
	return vehicle.NewDate(int(d.GetYear()), time.Month(d.GetMonth()), int(d.GetDay()))
}

// DateProto writes a civil date; the zero date is absent.
func DateProto(d vehicle.Date) *date.Date {
	if d.IsZero() {
		return nil
	}
	return &date.Date{Year: int32(d.Year), Month: int32(d.Month), Day: int32(d.Day)}
}

// Quantity reads a number with its unit.
func Quantity(q *vehiclev1.Quantity) (vehicle.Quantity, error) {
	if q == nil {
		return vehicle.Quantity{}, nil
	}
	value, err := vehicle.ParseDecimal(q.GetValue())
	if err != nil {
		return vehicle.Quantity{}, err
	}
	return vehicle.Quantity{Value: value, Unit: q.GetUnit()}, nil
}

// QuantityProto writes a number with its unit; nothing at all is absent.
func QuantityProto(q vehicle.Quantity) *vehiclev1.Quantity {
	if q == (vehicle.Quantity{}) {
		return nil
	}
	return &vehiclev1.Quantity{Value: q.Value.String(), Unit: q.Unit}
}

// Entered reads a distance as a person entered it. Millimetres that do not
// belong to the digits are refused, so that the two can never disagree.
func Entered(d *vehiclev1.Distance) (vehicle.Entered, error) {
	if d == nil || (d.GetEnteredValue() == "" && d.GetEnteredUnit() == "" && d.GetMillimetres() == 0) {
		return vehicle.Entered{}, nil
	}
	value, err := vehicle.ParseDecimal(d.GetEnteredValue())
	if err != nil {
		return vehicle.Entered{}, fault.Under("entered_value", err)
	}
	unit, err := vehicle.ParseUnit(d.GetEnteredUnit())
	if err != nil {
		return vehicle.Entered{}, fault.Under("entered_unit", err)
	}
	entered := vehicle.Entered{Value: value, Unit: unit}
	exact, err := entered.Distance()
	if err != nil {
		return vehicle.Entered{}, err
	}
	if mm := d.GetMillimetres(); mm != 0 && mm != int64(exact) {
		return vehicle.Entered{}, fault.InvalidField("millimetres", strconv.FormatInt(mm, 10),
			strconv.FormatInt(int64(exact), 10)+" or nothing, for "+entered.String())
	}
	return entered, nil
}

// EnteredProto writes a distance as entered, with its exact millimetres. A
// distance that no dial can show was refused on the way in.
func EnteredProto(e vehicle.Entered) *vehiclev1.Distance {
	if e.IsZero() {
		return nil
	}
	exact, _ := e.Distance()
	return &vehiclev1.Distance{
		Millimetres: int64(exact), EnteredValue: e.Value.String(), EnteredUnit: string(e.Unit),
	}
}

// Distance reads a distance, entered or computed, in millimetres.
func Distance(d *vehiclev1.Distance) (vehicle.Distance, error) {
	if d.GetEnteredUnit() == "" && d.GetEnteredValue() == "" {
		return vehicle.Distance(d.GetMillimetres()), nil
	}
	entered, err := Entered(d)
	if err != nil {
		return 0, err
	}
	return entered.Distance()
}

// DistanceProto writes a computed distance.
func DistanceProto(d vehicle.Distance) *vehiclev1.Distance {
	return &vehiclev1.Distance{Millimetres: int64(d)}
}

// Dial reads an odometer. What no odometer can be is for vehicle.Dial.Validate
// to say.
func Dial(d *vehiclev1.Dial) vehicle.Dial {
	unit, err := vehicle.ParseUnit(d.GetUnit())
	if err != nil {
		unit = vehicle.Unit(d.GetUnit())
	}
	return vehicle.Dial{
		Digits: int(d.GetDigits()), Unit: unit, TurnsPerUnit: int(d.GetTurnsPerUnit()), Tenths: d.GetTenths(),
	}
}

// DialProto writes an odometer.
func DialProto(d vehicle.Dial) *vehiclev1.Dial {
	if d == (vehicle.Dial{}) {
		return nil
	}
	return &vehiclev1.Dial{
		Digits: int32(d.Digits), Unit: string(d.Unit), TurnsPerUnit: int32(d.TurnsPerUnit), Tenths: d.Tenths,
	}
}

// Tyre reads a tyre.
func Tyre(t *vehiclev1.Tyre) drivetrain.Tyre {
	return drivetrain.Tyre{Size: t.GetSize(), Pattern: t.GetPattern(), Measured: int(t.GetCircumferenceMm())}
}

// TyreProto writes a tyre.
func TyreProto(t drivetrain.Tyre) *vehiclev1.Tyre {
	if t == (drivetrain.Tyre{}) {
		return nil
	}
	return &vehiclev1.Tyre{Size: t.Size, Pattern: t.Pattern, CircumferenceMm: int32(t.Measured)}
}

// Drive reads the pair of speedometer gears; the axle ratio, which our protos
// keep apart, is given with it.
func Drive(d *vehiclev1.SpeedometerDrive, axleRatio vehicle.Decimal) drivetrain.Drive {
	return drivetrain.Drive{
		AxleRatio: axleRatio, DriverTeeth: int(d.GetDriverTeeth()), DrivenTeeth: int(d.GetDrivenTeeth()),
	}
}

// DriveProto writes the pair of speedometer gears.
func DriveProto(d drivetrain.Drive) *vehiclev1.SpeedometerDrive {
	if d.DriverTeeth == 0 && d.DrivenTeeth == 0 {
		return nil
	}
	return &vehiclev1.SpeedometerDrive{DriverTeeth: int32(d.DriverTeeth), DrivenTeeth: int32(d.DrivenTeeth)}
}

// Reasons writes the steps of an explanation.
func Reasons(reasons []vehicle.Reason) []*vehiclev1.Reason {
	if len(reasons) == 0 {
		return nil
	}
	out := make([]*vehiclev1.Reason, len(reasons))
	for i, r := range reasons {
		out[i] = ReasonProto(r)
	}
	return out
}

// ReasonProto writes one step of an explanation.
func ReasonProto(r vehicle.Reason) *vehiclev1.Reason {
	facts := make([]*vehiclev1.Fact, len(r.Facts))
	for i, f := range r.Facts {
		facts[i] = &vehiclev1.Fact{Name: f.Name, Value: f.Value}
	}
	return &vehiclev1.Reason{Rule: r.Rule, Facts: facts, Record: r.Record, Sentence: r.Sentence}
}

// Moment reads a time; one that is left out is the zero time.
func Moment(t *timestamppb.Timestamp) time.Time {
	if t == nil {
		return time.Time{}
	}
	return t.AsTime()
}

// MomentProto writes a time; the zero time is left out.
func MomentProto(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(t)
}
