package bulletin

import (
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Set says which vehicles a bulletin is for: those of the list, and those for
// which the condition holds; never those excepted.
type Set struct {
	Serials []vehicle.Serial // whatever the condition says
	Except  []vehicle.Serial // not these, whatever list and condition say
	When    *Condition       // nil: only the list
}

// Condition is a condition on a vehicle, as data. Exactly one of its fields is
// set; Release and Option have words beside them for today and as built.
type Condition struct {
	All []Condition // all of these hold
	Any []Condition // one of these holds
	Not *Condition  // this does not hold

	Release    *ReleaseCondition
	Option     *OptionCondition
	Serials    *SerialRange
	Built      *DateRange // it was built between these days
	Delivered  *DateRange // it was delivered between these days
	Fitted     *FittedUnit
	Use        *UseCondition
	Markets    []string // its market is one of these
	Wheelbases []string // its wheelbase is one of these
	Expression string   // in the language of vehicle.PredicateCompiler, over its makeup today
}

// ReleaseCondition asks for one of several releases.
type ReleaseCondition struct {
	Releases []string
	AsBuilt  bool // it left the works to one of them; else some position follows one of them today
}

// OptionCondition asks for an option.
type OptionCondition struct {
	Option  string
	AsBuilt bool // it left the works with it; else it is in force today
}

// SerialRange is a range of serials in the order in which the works gives them
// out: the shorter first, then by text, the check character aside. The bounds
// have their check characters, for "AM0120" may be a whole serial or lack its
// last character.
type SerialRange struct {
	First, Last vehicle.Serial // both included; empty for no bound
	Except      []vehicle.Serial
}

// DateRange is a range of days.
type DateRange struct {
	Start, End vehicle.Date // both included; zero for no bound
}

// FittedUnit is a unit by what is known of it. Fields that are empty do not
// matter; one unit must meet all the others.
type FittedUnit struct {
	Position string
	Parts    []string // one of these numbers
	Lots     []string // one of these lots
	Serials  []string // one of these serials of its own
	Ever     bool     // it is enough that it once stood there; else it stands there now, or did until a campaign replaced it
}

// UseCondition is how a vehicle is used.
type UseCondition struct {
	Kinds []schedule.UseKind // one of these
	Ever  bool               // it is enough that it once was; else it is so today
}
