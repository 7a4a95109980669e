package build

import (
	"cmp"
	"slices"
	"time"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// Change is something that happened to a vehicle on a date after the build.
// Which fields are read depends on the kind.
type Change struct {
	Serial      vehicle.Serial
	ID          string // unique for the vehicle
	Kind        ChangeKind
	Date        vehicle.Date
	Source      ChangeSource
	Component   Component        // Fit, Overhaul; of Remove its position only
	Tyre        drivetrain.Tyre  // Tyres
	Drive       drivetrain.Drive // AxleRatio: the ratio; SpeedometerDrive: the gears
	Dial        vehicle.Dial     // DialChanged: the odometer from that day on
	DialStart   vehicle.Entered  // DialChanged: what the new dial showed when fitted
	Reading     vehicle.Entered  // what the odometer showed at the change, before a new dial
	Release     string           // Upgrade: the release that Positions were brought to
	Positions   []string         // Upgrade
	Option      string           // OptionAdded, OptionRemoved
	Plate       string           // PlateChanged; empty when it has none
	Reason      string
	DoneBy      string
	Counterpart string // the other half of a move: resource name of a change, "" for none
	RecordedBy  string
	Created     time.Time
}

// ChangeKind says what sort of thing happened.
type ChangeKind int

// The kinds, numbered as in the API.
const (
	KindUnspecified  ChangeKind = iota
	Fit                         // a component fitted, in place of what stood there
	Remove                      // a component taken off, the position left empty
	Tyres                       // tyres of another size or pattern
	AxleRatio                   // another axle ratio
	SpeedometerDrive            // other speedometer drive gears
	DialChanged                 // the odometer replaced, reset or set to another unit
	Upgrade                     // some positions brought to another release
	OptionAdded                 // an option added after delivery
	OptionRemoved               // an option taken off after delivery
	Overhaul                    // a component put in order where it stands: bedding-in begins again
	PlateChanged                // another registration plate
)

var kindNames = [...]string{
	"", "FIT", "REMOVE", "TYRES", "AXLE_RATIO", "SPEEDOMETER_DRIVE", "DIAL",
	"UPGRADE", "OPTION_ADDED", "OPTION_REMOVED", "OVERHAUL", "PLATE",
}

// Valid says whether k is one of the kinds.
func (k ChangeKind) Valid() bool { return k > KindUnspecified && int(k) < len(kindNames) }

func (k ChangeKind) String() string {
	if !k.Valid() {
		return ""
	}
	return kindNames[k]
}

// ChangeSource says under which authority a change was made.
type ChangeSource int

// The sources, numbered as in the API.
const (
	SourceUnspecified ChangeSource = iota
	SourceService                  // ordinary service or repair
	SourceWorks                    // done by the works
	SourceCampaign                 // the remedy of a campaign: outranks what else happened that day
	SourceOwner                    // the owner's own modification, never taken for the standard
)

// Valid says whether s is one of the sources.
func (s ChangeSource) Valid() bool { return s >= SourceService && s <= SourceOwner }

// InOrder gives the changes in the order in which they take effect: by date;
// of one date those of a campaign last, for the remedy of a campaign outranks
// whatever else is recorded of that day; then as they were recorded.
func InOrder(changes []Change) []Change {
	ordered := slices.Clone(changes)
	slices.SortStableFunc(ordered, func(a, b Change) int {
		return cmp.Or(
			a.Date.Compare(b.Date),
			cmp.Compare(a.rank(), b.rank()),
			a.Created.Compare(b.Created),
			cmp.Compare(a.ID, b.ID),
		)
	})
	return ordered
}

func (c Change) rank() int {
	if c.Source == SourceCampaign {
		return 1
	}
	return 0
}
