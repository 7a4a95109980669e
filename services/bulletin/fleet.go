package bulletin

import (
	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Vehicle is what is on record of a vehicle on a day, as far as conditions ask.
type Vehicle struct {
	Serial       vehicle.Serial
	BuiltRelease string
	Releases     []string // that its positions follow today, sorted
	BuiltOptions []string
	Options      []string // in force today
	Built        vehicle.Date
	Delivered    vehicle.Date // zero while it is at the works
	Market       string       // empty where it is not on record
	Wheelbase    string
	Stays        []Stay // in order of position, then of time
	Uses         []schedule.UseFact
	Makeup       vehicle.Makeup // of today, for expressions
}

// Stay is the time of one unit at one position of a vehicle. An overhaul that
// gave the unit another number begins a stay of its own, see Continues.
type Stay struct {
	Position, Part, Serial, Lot string
	From, Until                 vehicle.Date // Until zero: it stands there
	Began, Ended                string       // resource names of changes; empty for the build, and while it stands there
	Origin                      build.Origin
	ByCampaign                  bool           // a campaign took it off
	Continues                   bool           // the same unit goes on in the next stay
	CameFrom, WentTo            vehicle.Serial // by a move; empty for none on record
}

// VehicleOf makes a Vehicle of the records: as it is at the end of the day on.
// The error is of kind FailedPrecondition when the record's release is not in
// the set.
func VehicleOf(rec build.Record, changes []build.Change, releases build.ReleaseSet, on vehicle.Date) (Vehicle, error) {
	panic("unfinished")
}

// Fleet is vehicles on a day, made ready for many questions. It does not change
// and is safe for concurrent use.
type Fleet struct {
	on       vehicle.Date
	vehicles []Vehicle
}

// NewFleet makes a fleet. What is on record of a unit on one vehicle, its lot
// for example, counts on every other that it stood on, by its serial.
func NewFleet(vehicles []Vehicle, on vehicle.Date) *Fleet { panic("unfinished") }

// Len is how many vehicles it has.
func (f *Fleet) Len() int { return len(f.vehicles) }
