package build

import (
	"time"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// Release is one frozen version of the specification. It is never changed
// once made, so a pointer to one may be shared.
type Release struct {
	ID        string // "R3"
	Title     string
	Effective vehicle.Date // first day on which a vehicle could be built to it
	Fitments  []Fitment    // the standard vehicle, one for each position
	Options   []Option     // in the order in which they apply: of two at one position the later stands
	Programme string       // identifier of the service programme, "packhorse"; empty for none
	Driveline Driveline
	Notes     string
	Created   time.Time
}

// Fitment is a part at a position.
type Fitment struct {
	Position string   // "front-axle-differential"
	Part     string   // part number of the works, "AP-2041"
	Quantity int      // how many; 0 counts as 1, see Count
	Traits   []string // what it is like, as far as the service programme asks: "oil-filled"
	Note     string

	// Ratios of a gearbox or transfer case that an option fits, as in Driveline.
	// The standard vehicle's are in the drive line.
	Ratios []vehicle.Decimal

	// Within is the position of the assembly that it is in, and comes and goes
	// with; empty for what stands by itself.
	Within string
}

// Count is the quantity, at least 1.
func (f Fitment) Count() int { return max(f.Quantity, 1) }

// Option is something a customer may order with a release.
type Option struct {
	ID       string // unique in the release: "lsd-rear"
	Title    string
	Fitments []Fitment // positions that it adds, or whose part it replaces
	Removes  []string  // positions of the standard that it leaves empty
	Requires []string  // options that it needs
	Excludes []string  // options that it rules out, whichever of the two says so
}

// Driveline is what stands between engine and road in the standard vehicle.
type Driveline struct {
	Gears        []vehicle.Decimal // of the part at GearboxPosition, from first upwards
	TransferHigh vehicle.Decimal   // of the part at TransferCasePosition
	TransferLow  vehicle.Decimal   // zero where it has one range
	Tyre         drivetrain.Tyre
	Drive        drivetrain.Drive // axle ratio and speedometer drive gears
	Dial         vehicle.Dial
	Synchronised []int // the gears that have synchromesh, counted from 1

	Drives []drivetrain.Teeth // speedometer drive gears that the works has for this transfer case
	Sample bool               // the values are samples, to be signed by the works' engineer
}

// ReleaseSet finds a release by its identifier.
type ReleaseSet map[string]*Release

// Option finds an option of the release by its identifier; nil when the
// release has none of that name.
func (r *Release) Option(id string) *Option {
	for i := range r.Options {
		if r.Options[i].ID == id {
			return &r.Options[i]
		}
	}
	return nil
}

// Fitment finds what the standard vehicle has at a position; nil for nothing.
func (r *Release) Fitment(position string) *Fitment { return fitmentAt(r.Fitments, position) }

// Fitment finds what the option puts at a position; nil for nothing.
func (o *Option) Fitment(position string) *Fitment { return fitmentAt(o.Fitments, position) }

func fitmentAt(fitments []Fitment, position string) *Fitment {
	for i := range fitments {
		if fitments[i].Position == position {
			return &fitments[i]
		}
	}
	return nil
}

// Knows says whether the release or one of its options has the position.
func (r *Release) Knows(position string) bool {
	if r.Fitment(position) != nil {
		return true
	}
	for i := range r.Options {
		if r.Options[i].Fitment(position) != nil {
			return true
		}
	}
	return false
}
