package console

import (
	"strings"
	"testing"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func typed(text string) *vehiclev1.Quantity {
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return vehiclewire.QuantityProto(q)
}

func TestWhatAPackGaveIsHeldAgainstWhatItShould(t *testing.T) {
	for _, c := range []struct{ gives, after, before, lower, upper, off string }{
		{"0.09 mm", "0.11 mm", "0.15 mm", "0.05 mm", "0.15 mm", ""}, // what settles
		{"0.09 mm", "0.12 mm", "0.15 mm", "0.05 mm", "0.15 mm", "0.03 mm more"},
		{"0.09 mm", "0.06 mm", "0.15 mm", "0.05 mm", "0.15 mm", "0.03 mm less"},
		{"0.09 mm", "0.1 mm", "0.15 mm", "0.05 mm", "0.15 mm", ""},  // a step of a coarser dial
		{"0.09 mm", "0.12 mm", "0.15 mm", "0.05 mm", "0.35 mm", ""}, // a tenth of the window
		{"0.09 mm", "0.13 mm", "0.15 mm", "0.05 mm", "0.35 mm", "0.04 mm more"},
		{"4 thou", "4.7 thou", "6.0 thou", "0.05 mm", "0.15 mm", ""},              // 0.018 mm
		{"4 thou", "4.8 thou", "6.0 thou", "0.05 mm", "0.15 mm", "0.8 thou more"}, // 0.0203 mm
		{"6.5 kgf", "6.8 kgf", "3.5 kgf", "5 kgf", "8 kgf", ""},
		{"6.5 kgf", "6.9 kgf", "3.5 kgf", "5 kgf", "8 kgf", "0.4 kgf more"},
		{"6.5 kgf", "0.4 mm", "3.5 kgf", "5 kgf", "8 kgf", ""}, // was refused elsewhere
	} {
		a := &partsv1.ShimSelection{Measured: typed(c.before), Reasons: []*vehiclev1.Reason{
			{Rule: "MEASURED", Facts: []*vehiclev1.Fact{{Name: "lower", Value: c.lower}, {Name: "upper", Value: c.upper}}}}}
		got := notAsItShould(a, &partsv1.ShimPack{Result: typed(c.gives)}, typed(c.after))
		if !strings.Contains(got, c.off) || (got == "") != (c.off == "") {
			t.Errorf("%s for %s: %q, want %q", c.after, c.gives, got, c.off)
		}
	}
}
