package vehicle_test

import (
	"math"
	"math/big"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

func quantityOf(t testing.TB, text string) vehicle.Quantity {
	t.Helper()
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// The factors of NIST SP 811 (2008), Appendix B.8, with as many digits as it
// prints, and which of them it prints in bold, as exact. The values of the
// first three rows are also in checks O-18 and O-19, with more digits.
func TestUnitsConvertByThePublishedFactors(t *testing.T) {
	for _, c := range []struct {
		from, to, want string
		exact          bool
	}{
		{"1 lbf·ft", "N·m", "1.3558179483", false}, // O-19
		{"25 psi", "kPa", "172.368932", false},     // O-19
		{"1 in", "mm", "25.4", true},
		{"1 thou", "mm", "0.0254", true}, // "mil (0.001 in)"
		{"1 mil", "m", "0.0000254", true},
		{"1 ft", "m", "0.3048", true},
		{"1 micron", "mm", "0.001", true},
		{"1 kgf", "N", "9.80665", true},
		{"1 lbf", "N", "4.448222", false},
		{"1 kgf·m", "N·m", "9.80665", true},
		{"1 lbf·in", "N·m", "0.1129848", false},
		{"1 psi", "kPa", "6.894757", false},
		{"1 kgf/cm²", "kPa", "98.0665", true},
		{"1 bar", "kPa", "100", true},
		{"1 imp gal", "l", "4.54609", true},
		{"1 imp pt", "ml", "568.2613", false},
		{"1 US gal", "l", "3.785412", false},
		{"1 US qt", "l", "0.9463529", false},
		{"1 US pt", "l", "0.4731765", false},
		{"1 lb", "kg", "0.4535924", false},
		{"1 oz", "g", "28.34952", false},
		{"32 °F", "°C", "0", true},
		{"212 °F", "°C", "100", true},
		{"-40 °C", "°F", "-40", true},
		{"0 °C", "K", "273.15", true},
	} {
		got, ok := quantityOf(t, c.from).In(c.to)
		if !ok {
			t.Errorf("%s: not in %s", c.from, c.to)
			continue
		}
		want, _ := new(big.Rat).SetString(c.want)
		if c.exact && got.Cmp(want) != 0 {
			t.Errorf("%s is %s %s, want exactly %s", c.from, got.RatString(), c.to, c.want)
		}
		// the printed factor is right to half of its last digit
		_, digits, _ := strings.Cut(c.want, ".")
		if got.FloatString(len(digits)) != c.want {
			t.Errorf("%s is %s %s, want %s", c.from, got.FloatString(12), c.to, c.want)
		}
	}
}

// A second way to the same numbers, in floating point, written from the
// definitions: 1 in = 25.4 mm, 1 lb = 0.45359237 kg, g = 9.80665 m/s².
func TestUnitsAgreeWithTheirDefinitions(t *testing.T) {
	const in, lb, g = 0.0254, 0.45359237, 9.80665
	for _, c := range []struct {
		from, to string
		factor   float64
	}{
		{"lbf·ft", "N·m", lb * g * 12 * in}, {"lbf·in", "N·m", lb * g * in}, {"psi", "kPa", lb * g / in / in / 1000},
		{"kgf", "lbf", 1 / lb}, {"kgf·m", "lbf·ft", 1 / (lb * 12 * in)}, {"kgf·cm", "N·m", g / 100}, {"bar", "psi", 1e5 * in * in / lb / g},
		{"thou", "µm", 25.4}, {"MPa", "kgf/cm²", 1e6 / g / 1e4}, {"imp gal", "imp pt", 8}, {"US gal", "US qt", 4}, {"US gal", "US pt", 8},
		{"lb", "oz", 16}, {"V", "mV", 1000}, {"ft", "in", 12}, {"kN", "kgf", 1000 / g}, {"Pa", "mbar", 0.01}, {"cm", "thou", 10 / 0.0254},
	} {
		rapid.Check(t, func(t *rapid.T) {
			d := vehicle.Decimal{Coefficient: rapid.Int64Range(-1e9, 1e9).Draw(t, "coefficient"), Scale: rapid.Uint8Range(0, 9).Draw(t, "scale")}
			q := vehicle.Quantity{Value: d, Unit: c.from}
			got, ok := q.In(c.to)
			f, _ := got.Float64()
			if want := d.Float64() * c.factor; !ok || math.Abs(f-want) > 1e-12*math.Abs(want) {
				t.Fatalf("%s is %g %s, want %g", q, f, c.to, want)
			}
		})
	}
}

func TestAQuantityInItsOwnUnitIsItself(t *testing.T) {
	for _, unit := range []string{"mm", "N·m", "°F", "notches", "true/indicated", "lbf·ft"} {
		rapid.Check(t, func(t *rapid.T) {
			d := vehicle.Decimal{Coefficient: rapid.Int64().Draw(t, "coefficient"), Scale: rapid.Uint8Range(0, 9).Draw(t, "scale")}
			got, ok := vehicle.Quantity{Value: d, Unit: unit}.In(unit)
			if !ok || got.Cmp(d.Rat()) != 0 {
				t.Fatalf("%s %s in itself: %v", d, unit, got)
			}
		})
	}
}

func TestWhatMeasuresSomethingElseDoesNotConvert(t *testing.T) {
	for _, c := range [][2]string{
		{"5 lb", "kgf"}, {"5 kg", "N"}, {"5 kgf", "kg"}, {"3 mm", "N·m"}, {"1 pt", "l"}, {"1 gal", "imp gal"},
		{"4 notches", "mm"}, {"4 notches", "wraps"}, {"3 MV", "V"}, {"5 mN·m", "N·m"}, {"1 C", "°C"},
	} {
		if got, ok := quantityOf(t, c[0]).In(c[1]); ok || vehicle.Convertible(quantityOf(t, c[0]).Unit, c[1]) {
			t.Errorf("%s is %v %s", c[0], got, c[1])
		}
	}
}

func TestUnitsAreKnownHoweverTheyAreWritten(t *testing.T) {
	for _, c := range [][2]string{
		{"N.m", "N·m"}, {"Nm", "N·m"}, {"N ⋅ m", "N·m"}, {"ft lb", "lbf·ft"}, {"lbf.ft", "lbf·ft"}, {"MM", "mm"}, {"Psi", "psi"}, {"PSI", "psi"},
		{"KGF", "kgf"}, {"Thou", "thou"}, {`"`, "in"}, {"lbf/in^2", "psi"}, {"BAR", "bar"}, {"RPM", "rev/min"}, {"  mm ", "mm"}, {"degC", "°C"},
	} {
		if got, ok := vehicle.UnitName(c[0]); !ok || got != c[1] {
			t.Errorf("%q is %q, want %q", c[0], got, c[1])
		}
	}
	for _, text := range []string{"mPa", "MV", "MN", "pt", "notches", "C", "F", ""} {
		if got, ok := vehicle.UnitName(text); ok {
			t.Errorf("%q is taken for %q", text, got)
		}
	}
}

func TestTheOtherUnitHasAsManyDigitsAsTheResolutionBears(t *testing.T) {
	for _, c := range [][3]string{
		{"40 N·m", "lbf·ft", "40 N·m (30 lbf·ft)"},
		{"30 lbf·ft", "N·m", "30 lbf·ft (41 N·m)"},
		{"25 psi", "kPa", "25 psi (172 kPa)"},
		{"0.18 mm", "thou", "0.18 mm (7.1 thou)"},
		{"0.1 mm", "thou", "0.1 mm (4 thou)"},
		{"7 thou", "mm", "7 thou (0.18 mm)"},
		{"6.4 kgf", "N", "6.4 kgf (63 N)"},
		{"2 m", "mm", "2 m (2000 mm)"},
		{"0 m", "mm", "0 m (0 mm)"},
		{"-20 °C", "°F", "-20 °C (-4 °F)"},
		{"5.0 l", "imp pt", "5.0 l (8.8 imp pt)"},
		{"65 N.m", "N·m", "65 N.m"},              // its own unit
		{"4 notches", "mm", "4 notches"},         // no other
		{"0.02 mm", "in", "0.02 mm (0.0008 in)"}, // a step of 0.00039
	} {
		if got := quantityOf(t, c[0]).Also(c[1]); got != c[2] {
			t.Errorf("got %s, want %s", got, c[2])
		}
	}
}

// What is printed in the other unit lies within seven tenths of a step of what
// was read.
func TestRoundingAddsLessThanTheResolution(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := vehicle.Decimal{Coefficient: rapid.Int64Range(-1e6, 1e6).Draw(t, "coefficient"), Scale: rapid.Uint8Range(0, 3).Draw(t, "scale")}
		pair := rapid.SampledFrom([][2]string{{"mm", "thou"}, {"thou", "mm"}, {"N·m", "lbf·ft"}, {"psi", "kPa"}, {"kgf", "N"}, {"lbf", "N"}}).Draw(t, "units")
		q := vehicle.Quantity{Value: d, Unit: pair[0]}
		text := q.Also(pair[1])
		open := len(q.String()) + 2
		printed, err := vehicle.ParseQuantity(text[open : len(text)-1])
		if err != nil {
			t.Fatal(text, err)
		}
		exact, _ := q.In(pair[1])
		step, _ := q.StepIn(pair[1])
		off := new(big.Rat).Sub(printed.Value.Rat(), exact)
		if off.Abs(off).Cmp(step.Mul(step, big.NewRat(708, 1000))) > 0 {
			t.Fatalf("%s is off by %s", text, off.FloatString(9))
		}
	})
}

func TestCustomaryUnitsAreOfTheOtherHabit(t *testing.T) {
	for _, c := range [][2]string{{"mm", "thou"}, {"N.m", "lbf·ft"}, {"psi", "kPa"}, {"kgf", "lbf"}, {"l", ""}, {"notches", ""}} {
		got, ok := vehicle.CustomaryUnit(c[0])
		if got != c[1] || ok != (c[1] != "") {
			t.Errorf("%s: %q, want %q", c[0], got, c[1])
		}
		if ok && !vehicle.Convertible(c[0], got) {
			t.Errorf("%s does not convert into %s", c[0], got)
		}
	}
}

func TestADecimalAsAFractionIsItsNumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := vehicle.Decimal{Coefficient: rapid.Int64().Draw(t, "coefficient"), Scale: rapid.Uint8Range(0, 9).Draw(t, "scale")}
		want, _ := new(big.Rat).SetString(strconv.FormatInt(d.Coefficient, 10) + "e-" + strconv.Itoa(int(d.Scale)))
		if d.Rat().Cmp(want) != 0 {
			t.Fatalf("%s is %s", d, d.Rat())
		}
	})
}
