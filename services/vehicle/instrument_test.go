package vehicle_test

import (
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// fiveDigits is the usual dial: five wheels and tenths, miles, 1000 turns.
var fiveDigits = vehicle.Dial{Digits: 5, Unit: vehicle.Miles, TurnsPerUnit: 1000, Tenths: true}

// shown reads what a dial shows, in its own unit.
func shown(t interface{ Fatal(...any) }, dial vehicle.Dial, text string) vehicle.Distance {
	value, err := vehicle.ParseDecimal(text)
	if err != nil {
		t.Fatal(err)
	}
	d, ok := value.Times(dial.Unit.Distance())
	if !ok {
		t.Fatal("overflow")
	}
	return d
}

func TestADialRollsOverAtItsModulus(t *testing.T) {
	if got := fiveDigits.Modulus(); got != 100_000*vehicle.Mile { // F5: 100 000 for five digits, tenths not counted
		t.Errorf("the modulus is %s", got.Text(vehicle.Miles))
	}
	for _, c := range []struct{ from, to, want string }{
		{"99870.0", "00120.0", "250.0"}, // O-65
		{"99999.9", "00000.4", "0.5"},   // O-65
		{"00120.0", "00120.0", "0"},
		{"00120.0", "00121.0", "1.0"},
	} {
		// The least step forward, in whole millimetres, as both readings are.
		got, want := fiveDigits.Advance(shown(t, fiveDigits, c.from), shown(t, fiveDigits, c.to)), shown(t, fiveDigits, c.want)
		if off := got - want; off < -1 || off > 1 {
			t.Errorf("from %s to %s is %d mm, want %d", c.from, c.to, got, want)
		}
	}
}

func TestAdvancingTheDialBringsItToTheReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dial := vehicle.Dial{Digits: rapid.IntRange(4, 7).Draw(t, "digits"), TurnsPerUnit: 1000,
			Unit: rapid.SampledFrom([]vehicle.Unit{vehicle.Miles, vehicle.Kilometres}).Draw(t, "unit")}
		reading := rapid.Int64Range(0, int64(dial.Modulus())-1)
		from, to := vehicle.Distance(reading.Draw(t, "from")), vehicle.Distance(reading.Draw(t, "to"))
		step := dial.Advance(from, to)
		if step < 0 || step >= dial.Modulus() || (from+step)%dial.Modulus() != to {
			t.Fatalf("from %d to %d by %d", from, to, step)
		}
	})
}

func TestADialShowsOnlyWhatItsWheelsCan(t *testing.T) {
	noTenths := fiveDigits
	noTenths.Tenths = false
	for _, c := range []struct {
		name  string
		dial  vehicle.Dial
		value string
		want  bool
	}{
		{"its greatest value", fiveDigits, "99999.9", true},
		{"whole units of a dial with tenths", fiveDigits, "12345", true},
		{"one digit too many", fiveDigits, "100000", false},
		{"hundredths", fiveDigits, "123.45", false},
		{"a negative value", fiveDigits, "-1", false},
		{"tenths without the wheel", noTenths, "123.4", false},
		{"whole units", noTenths, "99999", true},
		{"a dial of no digits", vehicle.Dial{Unit: vehicle.Miles}, "0", false},
	} {
		value, err := vehicle.ParseDecimal(c.value)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.dial.Shows(value); got != c.want {
			t.Errorf("%s: Shows(%s) = %v", c.name, c.value, got)
		}
	}
}

func TestADialThatCannotBeSaysWhichField(t *testing.T) {
	if wrong := fiveDigits.Validate(); len(wrong) != 0 {
		t.Errorf("the usual dial: %v", wrong)
	}
	wrong := vehicle.Dial{Digits: 9, Unit: "furlong", TurnsPerUnit: 1}.Validate()
	if len(wrong) != 3 || wrong[0].Name != "digits" || wrong[1].Name != "unit" || wrong[2].Name != "turns_per_unit" {
		t.Errorf("three wrong fields: %v", wrong)
	}
	if none := (vehicle.Dial{}); none.Modulus() != 0 || none.Advance(5, 3) != 0 {
		t.Error("the zero dial counts")
	}
}

func TestAReasonGivesItsFactsByName(t *testing.T) {
	r := vehicle.Reason{
		Rule:     "TIME_LIMB",
		Facts:    []vehicle.Fact{{"months_since", "12 months"}, {"driven", "180 miles"}},
		Sentence: "12 months since the last change; 180 miles driven.",
	}
	if r.Fact("driven") != "180 miles" || r.Fact("cost") != "" || r.String() != r.Sentence {
		t.Errorf("%q, %q, %q", r.Fact("driven"), r.Fact("cost"), r.String())
	}
}
