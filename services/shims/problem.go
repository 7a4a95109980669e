package shims

import (
	"strings"

	"halfshaft/services/vehicle"
)

// The bounds of a problem, which keep the work of the worst one to a fraction
// of a second.
const (
	MaxSizes = 20  // thicknesses to choose from, those of a fitted pack included
	MaxCount = 12  // shims in a pack
	MaxPacks = 100 // that an answer writes out; it counts them all
)

// Problem is what is known before a pack is chosen. Lengths are in mm, cm, µm,
// in or thou, each in its own; a load is in N, kgf or lbf, or N·m, N·cm, kgf·m,
// kgf·cm, lbf·ft or lbf·in where a torque is read. Lower, Upper and Target may
// be in another unit of the same kind than Measured.
type Problem struct {
	// Measured is the end float, negative for preload; or, in a unit of load,
	// the load that keeps it turning. A load of nothing is refused: it says that
	// there is no preload, but not how much float there is.
	Measured vehicle.Quantity
	Fitted   Fitted // the pack with which it was measured

	Lower, Upper vehicle.Quantity // the window, both ends included
	Target       vehicle.Quantity // in the window; the zero quantity stands for its middle

	Design Design
	Slope  vehicle.Quantity // for a load only: what a unit of shim changes it by, as in "12 kgf/mm"; more than 0

	Sizes        []Size // no thickness twice
	LargestCount int    // 1 to MaxCount
	Rule         Rule
	ReuseFitted  bool // the shims of Fitted count as stock; without, the pack is renewed

	Joint Joint // for the cautions
}

// Fitted is the pack in the joint: its total as measured with a micrometer, or
// the shims it was recorded with. A joint without shims has a total of 0 mm.
type Fitted struct {
	Total vehicle.Quantity
	Shims []Held
}

// Held is some shims of one thickness in a fitted pack.
type Held struct {
	Thickness vehicle.Quantity
	Count     int
	Part      string // "" when not recorded
}

// Size is a shim that can be had.
type Size struct {
	Thickness vehicle.Quantity // more than 0
	Part      string           // its number, "" when not recorded
	Stock     int              // pieces; without meaning when Unlimited
	Unlimited bool
}

// Design says which way a shim works.
type Design int

// The designs. The zero value is none of them: a guess would double the error.
const (
	_            Design = iota
	AddsFloat           // under a bearing housing or a cap: more shim, more float
	TakesUpFloat        // in the stack of bearings and spacers: more shim, less float
)

func (d Design) valid() bool { return d == AddsFloat || d == TakesUpFloat }

// Rule says which of the packs in the window is best.
type Rule int

// The rules. The first is recommended, for every face between two shims settles
// a little.
const (
	FewestThenNearest Rule = iota
	NearestThenFewest
)

func (r Rule) valid() bool { return r == FewestThenNearest || r == NearestThenFewest }

func (r Rule) String() string {
	if r == NearestThenFewest {
		return "NEAREST_THEN_FEWEST"
	}
	return "FEWEST_THEN_NEAREST"
}

// Joint is where the pack goes, as far as the cautions differ.
type Joint int

// The joints that have cautions of their own.
const (
	OtherJoint Joint = iota
	OutputShaft
	SwivelPin
	WheelHub
)

func (j Joint) valid() bool { return j >= OtherJoint && j <= WheelHub }

// JointAt gives the joint of a position of a release: "swivel-pin-left" has a
// SwivelPin. A position it does not know has OtherJoint.
func JointAt(position string) Joint {
	switch {
	case position == "output-shaft-bearing":
		return OutputShaft
	case strings.HasPrefix(position, "swivel-pin"):
		return SwivelPin
	case position == "hub" || strings.HasPrefix(position, "hub-"):
		return WheelHub
	}
	return OtherJoint
}
