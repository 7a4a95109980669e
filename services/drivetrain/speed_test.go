package drivetrain_test

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/drivetrain"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// near compares with a relative tolerance of 1e-6, that of checks.md.
func near(got, want float64) bool { return math.Abs(got-want) <= 1e-6*math.Abs(want) }

// turning is the circumference of a tyre that turns that often in a mile.
func turning(perMile float64) drivetrain.Circumference {
	return drivetrain.Circumference{Millimetres: float64(vehicle.Mile) / perMile}
}

// decimal reads a number in a test.
func decimal(t interface{ Fatal(...any) }, text string) vehicle.Decimal {
	d, err := vehicle.ParseDecimal(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// milesDial is the classic dial: 1000 turns of the cable for a mile.
var milesDial = vehicle.Dial{Digits: 5, Unit: vehicle.Miles, TurnsPerUnit: 1000, Tenths: true}

func TestRoadSpeedFollowsFromTurnsAndRatios(t *testing.T) {
	// O-15: N = 655, 4.70 axle; 1.148 high with top, 2.888 low with first 2.996.
	top := drivetrain.RoadSpeed(1000, 1.0, 1.148, 4.70, turning(655))
	if !near(top, 16.977362) || !near(top*1.609344, 27.322415) {
		t.Errorf("top gear: %f mph per 1000 rpm", top)
	}
	if low := drivetrain.RoadSpeed(1000, 2.996, 2.888, 4.70, turning(655)); !near(low, 2.252543) {
		t.Errorf("low first: %f mph per 1000 rpm", low)
	}
	// O-16: with the geometric circumference of a wheel one inch across and a
	// ratio of one, rpm / mph is 63 360 / (60 pi).
	inch := drivetrain.Circumference{Millimetres: math.Pi * 25.4}
	if got := 1 / drivetrain.RoadSpeed(1, 1, 1, 1, inch); !near(got, 336.135240) {
		t.Errorf("the constant is %f", got)
	}
	if got := drivetrain.RoadSpeed(1000, 0, 1, 1, turning(655)); got != 0 {
		t.Errorf("with a ratio of nothing %f mph", got)
	}
	if got := drivetrain.RoadSpeed(1000, 1, 1, 1, drivetrain.Circumference{}); got != 0 {
		t.Errorf("on no tyre %f mph", got)
	}
}

func TestTheOdometerFactorIsTrueOverIndicated(t *testing.T) {
	drive := drivetrain.Drive{AxleRatio: decimal(t, "4.70"), DriverTeeth: 5, DrivenTeeth: 15}
	k, err := drivetrain.OdometerFactor(turning(655), drive, milesDial)
	if err != nil || k != 974_501 { // O-17: K_v = 1026.166667, reads 2.617 % high, k = 0.974501
		t.Errorf("%d ppm, %v", k, err)
	}
	if high := 1e6/float64(k) - 1; math.Abs(high-0.02617) > 5e-6 {
		t.Errorf("reads %.4f %% high, want 2.617", 100*high)
	}

	// By hand: the same drive on a dial in kilometres. For 1000 turns per mile it
	// is 1000/1.609344 = 621.37 times for one, cut to whole turns: K_i is 621 x 1.609344
	// = 999.402624 per mile, and 999.402624/1026.166667 = 0.973918.
	km := vehicle.Dial{Digits: 5, Unit: vehicle.Kilometres, TurnsPerUnit: 621}
	if k, err := drivetrain.OdometerFactor(turning(655), drive, km); err != nil || k != 973_918 {
		t.Errorf("on a dial in kilometres %d ppm, %v", k, err)
	}
}

func TestAChangeOfTyresScalesTheFactorAsTheirCircumferences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		drive := drivetrain.Drive{
			AxleRatio:   vehicle.Decimal{Coefficient: rapid.Int64Range(400, 500).Draw(t, "axle"), Scale: 2},
			DriverTeeth: 5, DrivenTeeth: 15,
		}
		before := turning(rapid.Float64Range(600, 700).Draw(t, "before"))
		after := turning(rapid.Float64Range(600, 700).Draw(t, "after"))
		a, errA := drivetrain.OdometerFactor(before, drive, milesDial)
		b, errB := drivetrain.OdometerFactor(after, drive, milesDial)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		if got, want := float64(b)/float64(a), after.Millimetres/before.Millimetres; math.Abs(got-want) > 3e-6 {
			t.Fatalf("the factor changes by %f, the tyres by %f", got, want)
		}
	})
}

func TestAFactorNobodyCanBelieveIsRefused(t *testing.T) {
	drive := drivetrain.Drive{AxleRatio: decimal(t, "4.70"), DriverTeeth: 5, DrivenTeeth: 15}
	turned := drivetrain.Drive{AxleRatio: decimal(t, "4.70"), DriverTeeth: 15, DrivenTeeth: 5}
	for _, c := range []struct {
		name   string
		tyre   drivetrain.Circumference
		drive  drivetrain.Drive
		dial   vehicle.Dial
		reason string
		fields []string
	}{
		{"driver and driven gear changed about", turning(655), turned, milesDial, "FACTOR_IMPLAUSIBLE", nil},
		{"no tyre", drivetrain.Circumference{}, drive, milesDial, "INVALID_FIELD", []string{"circumference"}},
		{"a tyre of no number", drivetrain.Circumference{Millimetres: math.NaN()}, drive, milesDial,
			"INVALID_FIELD", []string{"circumference"}},
		{"nothing at all", drivetrain.Circumference{}, drivetrain.Drive{}, vehicle.Dial{}, "INVALID_FIELD", []string{
			"circumference", "drive.axle_ratio", "drive.driver_teeth", "drive.driven_teeth",
			"dial.digits", "dial.unit", "dial.turns_per_unit"}},
	} {
		k, err := drivetrain.OdometerFactor(c.tyre, c.drive, c.dial)
		var f *fault.Error
		if !errors.As(err, &f) || f.Kind != fault.Invalid || f.Reason != c.reason || k != 0 {
			t.Errorf("%s: %d ppm, %v; want an Invalid fault %s", c.name, k, err, c.reason)
			continue
		}
		if len(f.Fields) != len(c.fields) {
			t.Errorf("%s: fields %v, want %v", c.name, f.Fields, c.fields)
			continue
		}
		for i, field := range f.Fields {
			if field.Name != c.fields[i] {
				t.Errorf("%s: field %s, want %s", c.name, field.Name, c.fields[i])
			}
		}
	}
}

func TestAnIndicatedDistanceBecomesTrue(t *testing.T) {
	got, ok := drivetrain.TrueDistance(1000*vehicle.Mile, 974_501) // by hand: 974.501 mi
	if want, _ := decimal(t, "974.501").Times(vehicle.Mile); !ok || got != want {
		t.Errorf("1000 indicated miles are %d mm, want %d", got, want)
	}
	if _, ok := drivetrain.TrueDistance(math.MaxInt64, 2_000_000); ok {
		t.Error("an overflow is not reported")
	}
}
