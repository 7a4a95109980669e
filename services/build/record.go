package build

import (
	"time"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// Record is what left the works under one serial. A part of the drive line
// that is zero stands as the release has it.
type Record struct {
	Serial          vehicle.Serial
	FrameNumber     string   // as stamped on the donor's frame
	Release         string   // identifier of the release it was built to, "R3"
	Options         []string // identifiers of the options it was built with
	Wheelbase       string   // "short", "long"
	Market          string
	DonorYear       int
	Components      []Component // what the works recorded beyond release and options
	Measurements    []Measurement
	Fluids          []FluidFill
	Tyre            drivetrain.Tyre
	Drive           drivetrain.Drive // axle ratio and speedometer drive gears
	Dial            vehicle.Dial
	DeliveryReading vehicle.Entered
	Finish          Finish
	FinishNote      string
	Deviations      []Deviation
	RoadTest        []RoadTestLine
	KeyNumbers      []string
	Plate           string // at the build, or as last amended
	Built           vehicle.Date
	Delivered       vehicle.Date // zero while it is at the works
	Created         time.Time
}

// Component is one real unit at a position, with a life of its own.
type Component struct {
	Position  string
	Part      string          // in a record: empty for the part that release and options give
	Serial    string          // the unit's own, where it has one
	Lot       string          // where it is known
	Fitted    vehicle.Date    // the day it was fitted here; in a build record zero means the build date
	Prior     vehicle.Entered // what it had covered before; zero means new
	BeddingIn vehicle.Date    // the day its bedding-in began, when that is not the day it was fitted
	Traits    []string        // what it is like; in a record empty means that it does not say, see TraitsFrom
	Note      string
}

// BeddingStart is the day from which first limits that belong to the unit
// count: the last overhaul, or when its bedding-in began, or when it was
// fitted here.
func (c Component) BeddingStart() vehicle.Date {
	if !c.BeddingIn.IsZero() {
		return c.BeddingIn
	}
	return c.Fitted
}

// Has says whether the component has a trait.
func (c Component) Has(trait string) bool {
	for _, t := range c.Traits {
		if t == trait {
			return true
		}
	}
	return false
}

// Measurement is one value measured at a position when the vehicle was built.
type Measurement struct {
	Position       string
	Characteristic string // "end-float", "shim-pack"
	Value          vehicle.Quantity
	Measured       vehicle.Date
	MeasuredBy     string
	Instrument     string
}

// FluidFill is a fluid put in at a position.
type FluidFill struct {
	Position string
	Fluid    string           // class and grade: "SAE 80W-90 API GL-5"
	Quantity vehicle.Quantity // zero when not recorded
	Batch    string
}

// Deviation is an approved departure from the release.
type Deviation struct {
	ID         string // unique in the record: "D1"
	Position   string // empty for the whole vehicle
	Text       string
	ApprovedBy string
	Approved   vehicle.Date
}

// RoadTestLine is one line of the road-test log.
type RoadTestLine struct {
	Tested  vehicle.Date
	Reading vehicle.Entered
	Text    string
	Driver  string
}

// Finish says what was done with the donor's own surface.
type Finish int

// The finishes.
const (
	FinishUnspecified      Finish = iota // not recorded
	FinishOriginalRetained               // kept and preserved
	FinishRefinished                     // renewed
)

func (f Finish) String() string {
	switch f {
	case FinishOriginalRetained:
		return "original retained"
	case FinishRefinished:
		return "refinished"
	}
	return ""
}
