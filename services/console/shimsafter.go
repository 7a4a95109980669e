package console

import (
	"math/big"

	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// settles is what a float may differ by when the joint has settled (common
// practice, no source).
var settles = vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 2, Scale: 2}, Unit: "mm"}

// notAsItShould says of a joint that was measured with its new pack that this is
// not what the pack should give: off by more than a step of either reading, and
// by more than a tenth of the window, or for a float by more than it may settle.
// It is empty where the two agree.
func notAsItShould(a *partsv1.ShimSelection, pack *partsv1.ShimPack, measured *vehiclev1.Quantity) string {
	gives, err := vehiclewire.Quantity(pack.GetResult())
	after, errAfter := vehiclewire.Quantity(measured)
	if err != nil || errAfter != nil {
		return ""
	}
	is, ok := after.In(gives.Unit)
	if !ok {
		return ""
	}
	off := new(big.Rat).Sub(is, gives.Value.Rat())
	most := tolerated(a, gives, after)
	if new(big.Rat).Abs(off).Cmp(most) <= 0 {
		return ""
	}
	than := "more"
	if off.Sign() < 0 {
		than = "less"
	}
	by := new(big.Rat).Abs(off).FloatString(int(max(gives.Value.Scale, after.Value.Scale)))
	return after.String() + " was measured with it, and " + about(pack.GetRounded()) + gives.String() + " should have come of it: " + by + " " + gives.Unit + " " + than +
		". Measure again. If it stands, a shim may not be what it was taken for, or the pack has not settled, or it is bolted up against something: turn the shaft, tighten it again, and measure each shim."
}

// tolerated is by how much the two may differ.
func tolerated(a *partsv1.ShimSelection, gives, after vehicle.Quantity) *big.Rat {
	most := new(big.Rat)
	atLeast := func(r *big.Rat, ok bool) {
		if ok && r.Cmp(most) > 0 {
			most = r
		}
	}
	atLeast(after.StepIn(gives.Unit))
	if before, err := vehiclewire.Quantity(a.GetMeasured()); err == nil {
		atLeast(before.StepIn(gives.Unit))
	}
	atLeast(tenthOfWindow(a, gives.Unit))
	atLeast(settles.In(gives.Unit)) // a load does not convert
	return most
}

// tenthOfWindow is a tenth of the window that was asked for, which the answer
// tells as facts; false where it does not.
func tenthOfWindow(a *partsv1.ShimSelection, unit string) (*big.Rat, bool) {
	ends := map[string]*big.Rat{}
	for _, r := range a.GetReasons() {
		for _, f := range r.GetFacts() {
			if q, err := vehicle.ParseQuantity(f.GetValue()); err == nil && r.GetRule() == "MEASURED" {
				if in, ok := q.In(unit); ok {
					ends[f.GetName()] = in
				}
			}
		}
	}
	if ends["lower"] == nil || ends["upper"] == nil {
		return nil, false
	}
	width := new(big.Rat).Sub(ends["upper"], ends["lower"])
	return width.Quo(width, big.NewRat(10, 1)), true
}
