package build

import (
	"sort"

	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// Configuration is what is on a vehicle on a date, with the record behind
// each position.
type Configuration struct {
	Serial    vehicle.Serial
	On        vehicle.Date // zero for the vehicle as built
	AsBuilt   bool
	Release   string   // the release it was built to
	Options   []string // in force, in the order in which they apply
	Titles    []string // of the options, in their order
	Fitted    []Fitted // in order of position
	Tyre      drivetrain.Tyre
	Drive     drivetrain.Drive
	Dial      vehicle.Dial
	Wheelbase string
	Market    string
	Plate     string
	Programme string // identifier of the service programme of the release it was built to
}

// At finds what stands at a position; nil for nothing.
func (c *Configuration) At(position string) *Fitted {
	i := sort.Search(len(c.Fitted), func(i int) bool { return c.Fitted[i].Component.Position >= position })
	if i == len(c.Fitted) || c.Fitted[i].Component.Position != position {
		return nil
	}
	return &c.Fitted[i]
}

// Fitted is what stands at one position. Its component has everything
// resolved: the part, the day it was fitted, and the traits, of which
// TraitsFrom says how they are known.
type Fitted struct {
	Component  Component
	Quantity   int
	Origin     Origin
	Change     string // resource name of the change that put it there; empty for the build
	Release    string // whose standard the position follows: an upgraded one, a later release
	Standard   bool   // whether the part is what the specification calls for; never for an owner's own
	TraitsFrom TraitsFrom

	source fitmentOf // of the traits, where they are another fitment's or assumed
	called called    // what the specification calls for
	steps  []step    // what happened beside it
}

// Origin says which record put a unit at a position.
type Origin int

// The origins, numbered as in the API.
const (
	OriginUnspecified Origin = iota
	FromRelease
	FromOption
	FromBuild    // the build record of this vehicle
	FromService  // service, repair or the works, after the build
	FromCampaign // outranks the as-built entry
	FromOwner    // the owner's own modification
)

var originNames = [...]string{"", "RELEASE", "OPTION", "BUILD", "SERVICE", "CAMPAIGN", "OWNER"}

func (o Origin) String() string {
	if o < 0 || int(o) >= len(originNames) {
		return ""
	}
	return originNames[o]
}

// origin is what a change of this source makes of what it fits.
func (s ChangeSource) origin() Origin {
	switch s {
	case SourceCampaign:
		return FromCampaign
	case SourceOwner:
		return FromOwner
	}
	return FromService
}
