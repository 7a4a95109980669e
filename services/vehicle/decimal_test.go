package vehicle_test

import (
	"encoding/json"
	"math"
	"math/big"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// decimals generates numbers of all sizes and scales.
func decimals() *rapid.Generator[vehicle.Decimal] {
	return rapid.Custom(func(t *rapid.T) vehicle.Decimal {
		return vehicle.Decimal{
			Coefficient: rapid.Int64Min(-math.MaxInt64).Draw(t, "coefficient"),
			Scale:       rapid.Uint8Max(vehicle.MaxScale).Draw(t, "scale"),
		}
	})
}

// rational is the number as a fraction.
func rational(d vehicle.Decimal) *big.Rat {
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(d.Scale)), nil)
	return new(big.Rat).SetFrac(big.NewInt(d.Coefficient), scale)
}

func TestNumbersAreReadAsTheyAreWritten(t *testing.T) {
	for text, want := range map[string]vehicle.Decimal{
		"0.10":                 {10, 2},
		"0.1":                  {1, 1},
		"4.70":                 {470, 2},
		"12":                   {12, 0},
		"-0.05":                {-5, 2},
		"\u22120.05":           {-5, 2},
		"+3.5":                 {35, 1},
		".018":                 {18, 3},
		" 7 ":                  {7, 0},
		"00120":                {120, 0},
		"0":                    {0, 0},
		"0.000000001":          {1, 9},
		"9223372036854775807":  {math.MaxInt64, 0},
		"-9223372036854775807": {-math.MaxInt64, 0},
	} {
		if got, err := vehicle.ParseDecimal(text); err != nil || got != want {
			t.Errorf("ParseDecimal(%q) = %v, %v; want %v", text, got, err, want)
		}
	}
}

func TestWhatMayMeanTwoNumbersIsRefused(t *testing.T) {
	for _, text := range []string{
		"", " ", "-", "+", ".", "5.", "1,230", "1.230,5", "1 230", "1e3", "0x10", "1.2.3", "--1", "+-1", "NaN", "Inf",
		"0.0000000001", "9223372036854775808", "99999999999999999999999", "\u0661\u0662", "1\x00",
	} {
		if got, err := vehicle.ParseDecimal(text); !fault.Is(err, fault.Invalid) || got != (vehicle.Decimal{}) {
			t.Errorf("ParseDecimal(%q) = %v, %v; want an Invalid fault", text, got, err)
		}
	}
}

func TestDecimalsAreWrittenAndReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := decimals().Draw(t, "decimal")
		if got, err := vehicle.ParseDecimal(d.String()); err != nil || got != d {
			t.Fatalf("%#v is written %q and read back as %#v, %v", d, d.String(), got, err)
		}
		if want := rational(d).FloatString(int(d.Scale)); d.String() != want {
			t.Fatalf("%#v is written %q, as a fraction %q", d, d.String(), want)
		}
		if want, _ := rational(d).Float64(); d.Float64() != want {
			t.Fatalf("%s as a float is %v, want %v", d, d.Float64(), want)
		}
	})
}

func TestAFloatIsTheNearestEvenForManyDigits(t *testing.T) {
	// More digits than a float64 holds: dividing would round twice and give
	// 4416097439968014.5. Recomputed with Python's fractions.
	if got := (vehicle.Decimal{44160974399680140, 1}).Float64(); got != 4416097439968014.0 {
		t.Errorf("got %.1f", got)
	}
}

func TestDecimalsAreComparedAsNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := decimals().Draw(t, "a"), decimals().Draw(t, "b")
		if rapid.Bool().Draw(t, "near") { // random numbers are hardly ever equal
			a.Coefficient %= 1000
			b = vehicle.Decimal{Coefficient: a.Coefficient*10 + rapid.Int64Range(-1, 1).Draw(t, "off"), Scale: (a.Scale + 1) % 10}
		}
		if got, want := a.Cmp(b), rational(a).Cmp(rational(b)); got != want || b.Cmp(a) != -want {
			t.Fatalf("%s against %s: %d and %d, want %d", a, b, got, b.Cmp(a), want)
		}
		if a.Sign() != rational(a).Sign() {
			t.Fatalf("the sign of %s is %d", a, a.Sign())
		}
	})
	if (vehicle.Decimal{1, 1}).Cmp(vehicle.Decimal{10, 2}) != 0 {
		t.Error("0.1 and 0.10 are not equal")
	}
	if (vehicle.Decimal{5, 40}).Cmp(vehicle.Decimal{1, 0}) != -1 || (vehicle.Decimal{0, 40}).Cmp(vehicle.Decimal{}) != 0 {
		t.Error("a scale that is not allowed upsets the order")
	}
}

func TestTheResolutionIsTheLastDigitThatWasWritten(t *testing.T) {
	for text, want := range map[string]string{"0.10": "0.01", "0.1": "0.1", "12": "1", "-3.125": "0.001"} {
		d, err := vehicle.ParseDecimal(text)
		if got := d.Resolution().String(); err != nil || got != want {
			t.Errorf("the resolution of %s is %s, want %s", text, got, want)
		}
	}
}

func TestAReadingTimesItsUnitIsExact(t *testing.T) {
	for _, c := range []struct {
		value string
		unit  vehicle.Distance
		want  vehicle.Distance
	}{
		{"12345.6", vehicle.Mile, 19_868_317_286}, // O-18: 19 868.3172864 km
		{"1", vehicle.Mile, 1_609_344},            // O-18
		{"0.5", 1, 1},                             // halves away from zero
		{"-0.5", 1, -1},
		{"0.4", 1, 0},
		{"0", vehicle.Mile, 0},
		{"974501", 1, 974501},
		{"1", math.MaxInt64, math.MaxInt64},
		{"-1", math.MaxInt64, -math.MaxInt64},
	} {
		d, err := vehicle.ParseDecimal(c.value)
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := d.Times(c.unit); !ok || got != c.want {
			t.Errorf("%s x %d mm = %d, %v; want %d", c.value, c.unit, got, ok, c.want)
		}
	}
}

func TestAProductRoundsOnceAndNeverWraps(t *testing.T) {
	most := big.NewInt(math.MaxInt64)
	rapid.Check(t, func(t *rapid.T) {
		d := decimals().Draw(t, "decimal")
		distance := vehicle.Distance(rapid.Int64().Draw(t, "distance"))
		exact := new(big.Rat).Mul(rational(d), new(big.Rat).SetInt64(int64(distance)))
		want, _ := new(big.Int).SetString(exact.FloatString(0), 10) // rounds halves away from zero
		got, ok := d.Times(distance)
		if fits := new(big.Int).Abs(want).Cmp(most) <= 0; fits != ok || ok && want.Int64() != int64(got) {
			t.Fatalf("%s x %d mm = %d, %v; want %s", d, distance, got, ok, want)
		}
	})
	// 2.5 x (2^64-1)/5 is half a millimetre more than the most that fits.
	if got, ok := (vehicle.Decimal{25, 1}).Times(3689348814741910323); ok {
		t.Errorf("rounding up beyond the most gives %d", got)
	}
	if _, ok := (vehicle.Decimal{1, vehicle.MaxScale + 1}).Times(vehicle.Mile); ok {
		t.Error("a scale that is not allowed is multiplied")
	}
}

func TestDecimalsKeepTheirDigitsInJSON(t *testing.T) {
	text, err := json.Marshal(vehicle.Decimal{10, 2})
	if err != nil || string(text) != `"0.10"` {
		t.Errorf("in JSON %s, %v", text, err)
	}
	var d vehicle.Decimal
	if err := json.Unmarshal(text, &d); err != nil || d != (vehicle.Decimal{10, 2}) {
		t.Errorf("from JSON %v, %v", d, err)
	}
	if err := json.Unmarshal([]byte(`"1,5"`), &d); err == nil {
		t.Error("a comma is read from JSON")
	}
}

func FuzzParseDecimal(f *testing.F) {
	for _, seed := range []string{
		"0.10", "-0.05", "12", ".018", "+3.5", "1,230", "1e3", "", "-", "0.0000000001", "9223372036854775808",
		"\u22125", "00.00", "-0", strings.Repeat("9", 100),
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		d, err := vehicle.ParseDecimal(text)
		if err != nil {
			if !fault.Is(err, fault.Invalid) || d != (vehicle.Decimal{}) {
				t.Fatalf("ParseDecimal(%q) = %v, %v", text, d, err)
			}
			return
		}
		plain := strings.Replace(strings.TrimSpace(text), "\u2212", "-", 1)
		if want, ok := new(big.Rat).SetString(plain); !ok || want.Cmp(rational(d)) != 0 {
			t.Fatalf("ParseDecimal(%q) = %s", text, d)
		}
		if again, err := vehicle.ParseDecimal(d.String()); err != nil || again != d {
			t.Fatalf("%q is written %q and read back as %v, %v", text, d, again, err)
		}
	})
}
