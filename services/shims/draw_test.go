package shims_test

import (
	"fmt"
	"math/big"

	"pgregory.net/rapid"

	"halfshaft/services/shims"
	"halfshaft/services/vehicle"
)

// drawn is a random problem with its slope in N to the millimetre.
type drawn struct {
	shims.Problem
	slope *big.Rat
}

func draw(t *rapid.T) drawn {
	unit := rapid.SampledFrom([]string{"mm", "mm", "thou", "µm", "in"}).Draw(t, "unit")
	// A number of hundredths of a millimetre, or what comes near it.
	length := func(n int, unit string) vehicle.Quantity {
		switch unit {
		case "mm":
			return quantity(fmt.Sprintf("%s mm", vehicle.Decimal{Coefficient: int64(n), Scale: 2}))
		case "µm":
			return quantity(fmt.Sprintf("%d µm", n*10))
		case "in":
			return quantity(fmt.Sprintf("%s in", vehicle.Decimal{Coefficient: int64(n), Scale: 4}))
		}
		return quantity(fmt.Sprintf("%s thou", vehicle.Decimal{Coefficient: int64(n), Scale: 1}))
	}
	mixed := func(name string) string {
		if rapid.IntRange(0, 5).Draw(t, name+" in another unit") == 0 {
			return rapid.SampledFrom([]string{"mm", "thou", "µm", "in"}).Draw(t, name+" unit")
		}
		return unit
	}
	d := drawn{Problem: shims.Problem{
		Design:       rapid.SampledFrom([]shims.Design{shims.AddsFloat, shims.TakesUpFloat}).Draw(t, "design"),
		Rule:         rapid.SampledFrom([]shims.Rule{shims.FewestThenNearest, shims.NearestThenFewest}).Draw(t, "rule"),
		LargestCount: rapid.IntRange(1, 5).Draw(t, "largest count"),
		Fitted:       shims.Fitted{Total: length(rapid.IntRange(0, 80).Draw(t, "fitted"), mixed("fitted"))},
	}}
	seen := map[string]bool{}
	thickest := rapid.SampledFrom([]int{8, 30}).Draw(t, "thickest") // of 8, many packs are equal
	for _, n := range rapid.SliceOfNDistinct(rapid.IntRange(1, thickest), 1, 7, rapid.ID).Draw(t, "sizes") {
		s := shims.Size{Thickness: length(n, mixed("size")), Stock: rapid.IntRange(0, 3).Draw(t, "stock")}
		s.Unlimited = rapid.Bool().Draw(t, "unlimited")
		if at := base(s.Thickness).RatString(); !seen[at] {
			seen[at] = true
			d.Sizes = append(d.Sizes, s)
		}
	}
	if rapid.Bool().Draw(t, "load") {
		d.load(t)
		return d
	}
	d.Measured = length(rapid.IntRange(-20, 40).Draw(t, "measured"), unit)
	lower := rapid.IntRange(-10, 15).Draw(t, "lower")
	width := rapid.IntRange(0, 8).Draw(t, "width")
	in := mixed("window")
	d.Lower, d.Upper = length(lower, in), length(lower+width, in)
	if rapid.Bool().Draw(t, "with a target") {
		d.Target = length(lower+rapid.IntRange(0, width).Draw(t, "target"), in)
	}
	return d
}

// load makes a turning load of the problem, with a slope that does not divide.
func (d *drawn) load(t *rapid.T) {
	unit := rapid.SampledFrom([]string{"N", "kgf", "lbf"}).Draw(t, "load unit")
	tenths := func(n int) vehicle.Quantity {
		return quantity(fmt.Sprintf("%s %s", vehicle.Decimal{Coefficient: int64(n), Scale: 1}, unit))
	}
	d.Measured = tenths(rapid.IntRange(1, 150).Draw(t, "load"))
	lower := rapid.IntRange(0, 90).Draw(t, "lower load")
	d.Lower, d.Upper = tenths(lower), tenths(lower+rapid.IntRange(0, 30).Draw(t, "width of the window"))
	each := rapid.SampledFrom([]string{"30 N/mm", "7 kgf/mm", "0.3 lbf/thou", "210 lbf/in", "0.7 N per thou"}).Draw(t, "slope")
	d.Slope = quantity(each)
	d.slope = map[string]*big.Rat{
		"30 N/mm":        rat("30"),
		"7 kgf/mm":       new(big.Rat).Mul(rat("7"), rat("9.80665")),
		"0.3 lbf/thou":   new(big.Rat).Quo(new(big.Rat).Mul(rat("0.3"), rat("4.4482216152605")), rat("0.0254")),
		"210 lbf/in":     new(big.Rat).Quo(new(big.Rat).Mul(rat("210"), rat("4.4482216152605")), rat("25.4")),
		"0.7 N per thou": new(big.Rat).Quo(rat("0.7"), rat("0.0254")),
	}[each]
}
