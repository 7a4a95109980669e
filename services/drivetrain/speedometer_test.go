package drivetrain_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// o17 is the speedometer of O-17: N = 655, 4.70 axle, 5:15, 1000 turns a mile.
func o17(t interface{ Fatal(...any) }) drivetrain.Speedometer {
	return drivetrain.Speedometer{
		Tyre:  turning(655),
		Drive: drivetrain.Drive{AxleRatio: decimal(t, "4.70"), DriverTeeth: 5, DrivenTeeth: 15},
		Dial:  milesDial,
	}
}

func TestTheDialReadsByCableTurnsOverDialTurns(t *testing.T) {
	s := o17(t)
	// O-17 (F4): K_v = 1026.166667 against K_i = 1000: 2.617 % high, k = 0.974501.
	if !near(s.CableTurns(), 1026.166667) || s.DialTurns() != 1000 || math.Abs(s.Reads()-1.02617) > 5e-6 {
		t.Errorf("%f cable turns, %f dial turns, reads %f", s.CableTurns(), s.DialTurns(), s.Reads())
	}
	if k, err := s.Factor(); err != nil || k != 974_501 {
		t.Errorf("%d ppm, %v", k, err)
	}
	table := s.Table()
	if len(table) != 7 || table[4].Speed != 50 || !near(table[4].Indicated, 51.308333) || !near(table[4].True, 48.725030) {
		t.Errorf("got %+v", table) // by hand: 50 x 1.02616667 and 50 / 1.02616667
	}
	s.Dial = vehicle.Dial{Digits: 5, Unit: vehicle.Kilometres, TurnsPerUnit: 621}
	if table := s.Table(); len(table) != 6 || table[0].Speed != 20 || table[5].Speed != 120 || !near(table[5].Indicated, 120*1026.166667/999.402624) {
		t.Errorf("in kilometres %+v", table)
	}
}

func TestATyreHasAnOutsideDiameterWithItsSource(t *testing.T) {
	for _, c := range []struct {
		name, size, pattern string
		want                float64
		estimated           bool
	}{
		{"published", "LT255/85R16", "mud-terrain", 33.5 * 25.4, false}, // O-13
		{"another pattern of a published size", "315/75R16", "road", 34.9 * 25.4, false},
		{"the table before the formula", "205R16", "road", 736, true}, // from memory; 734.4 by F2 at 80 %
		{"calculated", "225/75R16", "road", 743.9, true},              // F2
	} {
		got, err := drivetrain.OutsideDiameter(drivetrain.Tyre{Size: c.size, Pattern: c.pattern})
		if err != nil || math.Abs(got.Millimetres-c.want) > 0.05 || got.Estimated != c.estimated || got.Source == "" {
			t.Errorf("%s: %+v, %v", c.name, got, err)
		}
	}
}

func TestTheAxleChangesTheRoadSpeedAtOneEngineSpeed(t *testing.T) {
	// Common practice, no source: what goes 50 mph on a 4.70 axle goes about 55
	// on a 4.12 and about 60 on a 3.75; the computed speeds agree within 6 %.
	tyre := turning(655)
	rpm := 50 / drivetrain.RoadSpeed(1, 1.0, 1.148, 4.70, tyre)
	for axle, about := range map[float64]float64{4.70: 50, 4.12: 55, 3.75: 60} {
		if mph := drivetrain.RoadSpeed(rpm, 1.0, 1.148, axle, tyre); math.Abs(mph/about-1) > 0.06 {
			t.Errorf("on a %.2f axle %.1f mph, want about %.0f", axle, mph, about)
		}
	}
}

func TestEveryGearInEachRangeHasItsSpeed(t *testing.T) {
	speeds := drivetrain.Gearing{
		Gears:  []vehicle.Decimal{decimal(t, "2.996"), decimal(t, "1.000")},
		Ranges: []drivetrain.Range{{Name: "high", Ratio: decimal(t, "1.148")}, {Name: "low", Ratio: decimal(t, "2.888")}},
		Axle:   decimal(t, "4.70"),
	}.Speeds(turning(655), 3000)
	if len(speeds) != 4 || speeds[1].Range.Name != "high" || speeds[1].Gear != 2 || speeds[2].Range.Name != "low" || speeds[2].Gear != 1 {
		t.Fatalf("got %+v", speeds)
	}
	// O-15; 3 x that at three times the engine speed; 1.148 x 4.70 = 5.3956 by hand.
	if !near(speeds[1].PerThousand, 16.977362) || !near(speeds[1].AtEngineSpeed, 3*16.977362) || !near(speeds[1].Overall, 5.3956) {
		t.Errorf("high top %+v", speeds[1])
	}
	if !near(speeds[2].PerThousand, 2.252543) {
		t.Errorf("low first %+v", speeds[2])
	}
}

func TestTheLawAllowsFromTrueUpwards(t *testing.T) {
	// O-54: UN Regulation No. 39 § 5.3.
	for v, want := range map[float64]float64{40: 48, 80: 92, 120: 136} {
		if least, most := drivetrain.Allowed(v); least != v || !near(most, want) {
			t.Errorf("at %.0f km/h from %f to %f", v, least, most)
		}
	}
}

func TestAdviceNamesThePairsInTheBandTheNearestFirst(t *testing.T) {
	s := o17(t)
	// By hand, with K_v = 3078.5 x driver/driven: 5/15 reads 1.0262, 5/16 0.9620
	// (slow: never lawful), 6/18 as 5/15, 5/14 1.0995, 6/16 1.1544 (138.5 at 120: too fast).
	choice := []drivetrain.Teeth{{6, 16}, {5, 14}, {5, 16}, {6, 18}, {5, 15}, {5, 15}, {0, 15}}
	a := s.Advise(choice)
	if !a.Now.Meets || len(a.Now.Band) != 3 || !near(a.Now.Band[1].Indicated, 80*1.02616667) {
		t.Errorf("now %+v", a.Now)
	}
	got := []drivetrain.Teeth{}
	for _, f := range a.Pairs {
		got = append(got, f.Teeth)
	}
	if len(got) != 3 || got[0] != (drivetrain.Teeth{Driver: 5, Driven: 15}) || got[1].Driven != 18 || got[2].Driven != 14 {
		t.Errorf("pairs %v", got)
	}
	// 1000/3078.5, and 136/120 of it
	if !near(a.Least, 0.324833523) || !near(a.Most, 0.368144659) {
		t.Errorf("ratio from %.9f to %.9f", a.Least, a.Most)
	}

	a = s.Advise([]drivetrain.Teeth{{6, 16}, {5, 16}})
	if len(a.Pairs) != 0 || a.Nearest.Teeth != (drivetrain.Teeth{Driver: 6, Driven: 16}) {
		t.Errorf("where none does: %+v", a)
	}
	if a = s.Advise(nil); len(a.Pairs) != 0 || a.Nearest.Teeth != (drivetrain.Teeth{}) {
		t.Errorf("with nothing to choose from: %+v", a)
	}
}

func TestAPairThatDoesWhateverTheTyreIsGoesFirst(t *testing.T) {
	s := o17(t)
	s.Tyre.Tolerance = 0.0275 // by hand: 5/15 then reads from 0.9987, 5/14 from 1.0700 to 1.1305
	a := s.Advise([]drivetrain.Teeth{{5, 15}, {5, 14}})
	if len(a.Pairs) != 2 || a.Pairs[0].Teeth.Driven != 14 || !a.Pairs[0].Surely || a.Pairs[1].Surely {
		t.Errorf("got %+v", a.Pairs)
	}
}

// Whatever the vehicle, the advice agrees with the law read word by word.
func TestAdviceAgreesWithTheLaw(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := o17(t)
		s.Tyre = turning(rapid.Float64Range(560, 760).Draw(t, "turns"))
		s.Tyre.Tolerance = rapid.SampledFrom([]float64{0, 0.01, 0.02}).Draw(t, "tolerance")
		choice := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) drivetrain.Teeth {
			return drivetrain.Teeth{Driver: rapid.IntRange(3, 8).Draw(t, "driver"), Driven: rapid.IntRange(10, 22).Draw(t, "driven")}
		}), 0, 12).Draw(t, "choice")
		a := s.Advise(choice)
		meeting := map[drivetrain.Teeth]bool{}
		for _, c := range choice {
			indicated := float64(c.Driver) / float64(c.Driven) * 4.70 * drivetrain.RevsPerMile(s.Tyre) / 1000
			ok := true
			for _, v := range []float64{40, 80, 120} {
				if excess := indicated*v - v; excess < 0 || excess > v/10+4 {
					ok = false
				}
			}
			if ok {
				meeting[c] = true
			}
			if ratio := float64(c.Driver) / float64(c.Driven); ok != (ratio >= a.Least && ratio <= a.Most) {
				t.Fatalf("%v: %v by the law, and the ratio should be %f to %f", c, ok, a.Least, a.Most)
			}
		}
		if len(meeting) != len(a.Pairs) {
			t.Fatalf("%d pairs meet the law, %d are named", len(meeting), len(a.Pairs))
		}
		for i, f := range a.Pairs {
			if !meeting[f.Teeth] {
				t.Fatalf("%v is named and does not meet the law", f.Teeth)
			}
			if i > 0 && a.Pairs[i-1].Surely == f.Surely && a.Pairs[i-1].Reads > f.Reads {
				t.Fatalf("%v before %v", a.Pairs[i-1], f)
			}
		}
	})
}
