package shims

import (
	"math/big"
	"testing"

	"halfshaft/services/vehicle"
)

func TestUnitsAreWhatTheyAreByDefinition(t *testing.T) {
	// NIST SP 811 appendix B: an inch is 25.4 mm, a pound 0.45359237 kg, standard
	// gravity 9.80665 m/s², a foot 0.3048 m; 1 lbf·ft = 1.355818 N·m (checks.md
	// O-19: 1.3558179483).
	times := func(a ...string) *big.Rat {
		r := big.NewRat(1, 1)
		for _, s := range a {
			r.Mul(r, number(s))
		}
		return r
	}
	for text, want := range map[string]*big.Rat{
		"in": times("25.4"), "thou": times("25.4", "0.001"), "µm": times("0.001"), "cm": times("10"),
		"kgf": times("9.80665"), "lbf": times("0.45359237", "9.80665"),
		"lbf·ft": times("0.45359237", "9.80665", "0.3048"), "lbf.in": times("0.45359237", "9.80665", "0.0254"),
		"kgf·cm": times("9.80665", "0.01"), "kgf m": times("9.80665"), "N⋅m": times("1"), "N-cm": times("0.01"),
	} {
		if u, ok := unitOf(text); !ok || u.per.Cmp(want) != 0 {
			t.Errorf("%s is %v, want %s", text, u.per, want.FloatString(16))
		}
	}
	for _, text := range []string{"", "mil", "MM", "n", "nm", "psi", "mm/N"} {
		if _, ok := unitOf(text); ok {
			t.Errorf("%q is taken for a unit", text)
		}
	}
}

func TestEveryThicknessIsWholeInTicks(t *testing.T) {
	for name, u := range units {
		if u.dimension != length {
			continue
		}
		finest := inTicks(new(big.Rat).Mul(u.per, fraction(vehicle.Decimal{Coefficient: 1, Scale: vehicle.MaxScale})))
		if !finest.IsInt() {
			t.Errorf("the ninth decimal of a %s is %s ticks", name, finest)
		}
	}
	if thickest := wholeTicks(mostLength); thickest != 1e15 || thickest*MaxCount >= mostTicks/2 {
		t.Errorf("the thickest shim has %d ticks: sums may not fit", thickest)
	}
}

func TestAnAmountIsExactOrSaysThatItIsNot(t *testing.T) {
	mm := gauge{unit: "mm", per: number("1"), scale: 2, round: 4}
	thou := gauge{unit: "thou", per: number("0.0254"), round: 3}
	for _, c := range []struct {
		g    gauge
		r    *big.Rat
		want string
	}{
		{mm, number("0.1"), "0.10 mm"},
		{mm, number("0.0685"), "0.0685 mm"},
		{mm, number("-0.000000001"), "-0.000000001 mm"},
		{mm, number("-0.0000000001"), "about 0.0000 mm"},
		{mm, big.NewRat(1, 3), "about 0.3333 mm"},
		{mm, big.NewRat(-2, 3), "about -0.6667 mm"},
		{mm, number("0.00005"), "0.00005 mm"},
		{thou, number("0.0254"), "1 thou"},
		{thou, number("1"), "about 39.370 thou"}, // 1/0.0254
		{mm, number("123456789012345678"), "123456789012345678.0 mm"},
		{mm, number("1234567890123456789.5"), "about 1234567890123456790 mm"},
	} {
		if got := c.g.amount(c.r).String(); got != c.want {
			t.Errorf("%s: %s, want %s", c.r, got, c.want)
		}
	}
}

func TestAWindowWiderThanAnyPackIsHeld(t *testing.T) {
	for _, c := range []struct {
		text string
		want int64
	}{{"1", 1}, {"-7", -7}, {"99999999999999999999", mostTicks}, {"-99999999999999999999", -mostTicks}} {
		n, _ := new(big.Int).SetString(c.text, 10)
		if got := ticks(n); got != c.want {
			t.Errorf("%s: %d, want %d", c.text, got, c.want)
		}
	}
}
