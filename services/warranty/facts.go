package warranty

import (
	"time"

	"halfshaft/services/vehicle"
)

// TrueDistance is a true distance of the vehicle, by the ledger and not by the
// dial; the zero value is not known.
type TrueDistance struct {
	Value vehicle.Distance
	Known bool

	// Where Value was worked out and not read, what it is at least and at most.
	Low, High vehicle.Distance
}

// True is a distance that is known.
func True(d vehicle.Distance) TrueDistance { return TrueDistance{Value: d, Known: true} }

// workedOut says whether it may be another than its value.
func (d TrueDistance) workedOut() bool { return d.Known && d.Low < d.High }

// least is what it is at least.
func (d TrueDistance) least() vehicle.Distance {
	if d.workedOut() {
		return d.Low
	}
	return d.Value
}

// Source is how a unit came to its position.
type Source uint8

// The sources.
const (
	SourceUnknown  Source = iota
	SourceBuild           // with the build
	SourceService         // in service or by a repair, whoever did it
	SourceCampaign        // by a campaign of the works
	SourceOwner           // the owner's own modification
)

// Unit is what stands at a position on the day asked about.
type Unit struct {
	Part        string // part number; empty when not known
	Source      Source
	Fitted      vehicle.Date // here; zero for one of the build, or when not known
	FittedAt    TrueDistance // of the vehicle on that day
	Moved       bool         // came from another vehicle
	FirstFitted vehicle.Date // of a moved unit, on the first of its vehicles; zero when not known
	Prior       TrueDistance // of a moved unit, what it ran before it came here

	// Of a moved unit, the days after FirstFitted on which it came to somebody else,
	// with the vehicle where it stood or by a move, and whether nobody knows whose
	// it is.
	OwnerChanges  []vehicle.Date
	OwnersUnknown bool

	Record string // resource name of the change that fitted it; empty for none
}

// Repair is a repair or replacement at a position that somebody paid for.
type Repair struct {
	Position string
	Date     vehicle.Date
	At       TrueDistance // of the vehicle on that day
	Term     string       // resource name of the version that paid; empty: none did
	Record   string       // resource name of the claim or the service entry
}

// Span is a time in which the vehicle could not be used for a fault: whole
// days, the first and the last among them.
type Span struct {
	Start, End vehicle.Date // End is zero while it lasts
	Counts     bool         // the fault was covered
	Record     string
}

// Facts is what is on record about one vehicle.
type Facts struct {
	Serial    vehicle.Serial
	Release   string // empty when not known
	AtWorks   bool   // known not to be delivered yet
	Delivered vehicle.Date
	// Distance at delivery, at first registration and at the end of the build.
	DeliveredAt, RegisteredAt, BuiltAt TrueDistance
	Registered, Built                  vehicle.Date // zero when not known

	// OwnerChanges are the days on which another owner began, the oldest first,
	// see OwnerChanges. OwnersUnknown says that nobody recorded who owns it.
	OwnerChanges  []vehicle.Date
	OwnersUnknown bool

	Spans    []Span
	Repairs  []Repair
	Serviced Serviced
}

// Serviced is where the vehicle was serviced since delivery.
type Serviced struct {
	Elsewhere bool   // by others than the works and its dealers, for one time at least
	Record    string // resource name of the latest such service entry
}

// Goodwill says how long after the end of a term the works looks at a fault all
// the same. The zero value is never.
type Goodwill struct {
	Months   int
	Distance vehicle.Distance
}

// StandardGoodwill is what the works looks at unless it says otherwise: common
// practice, no source.
func StandardGoodwill() Goodwill {
	return Goodwill{Months: 3, Distance: 1000 * vehicle.Mile}
}

// Question asks about one position, or the vehicle, on a day.
type Question struct {
	Facts    Facts
	Terms    []Term // all versions of all terms, in any order
	Position string // empty for the vehicle as a whole
	Unit     *Unit  // what stands there; nil when not known
	Bare     bool   // nothing stands there

	// On is the day. Where the moment is known, At is it, and the day is that of
	// the works' zone and of the owner's; a zone that is nil is taken as UTC for
	// the works and as the works' for the owner.
	On                   vehicle.Date
	At                   time.Time
	WorksZone, OwnerZone *time.Location

	Distance   TrueDistance // of the vehicle on the day
	Exclusions []string     // that an examination found, by their short names
	Goodwill   Goodwill
	Print      vehicle.Unit // the unit in which reasons tell distances; miles when empty
}
