package parts

import "halfshaft/services/vehicle"

// Position is a place on the vehicle as the catalogue knows it: one on an
// assembly that the releases do not name themselves, or words, tools and
// cautions for one that they do.
type Position struct {
	ID      string   // "front-axle-differential-pinion-seal"
	Title   string   // "Pinion oil seal, front axle"
	Within  string   // the position of the assembly it is on; empty for one that the releases name
	Words   []string // other words for it
	Tools   []string
	Caution string
	Drawing string
	Notes   string
	Stamp
}

// Key implements Record.
func (p Position) Key() string { return p.ID }

// Group implements Record.
func (p Position) Group() string { return p.Within }

// Application says that a part belongs at a position of some vehicles.
type Application struct {
	ID         string
	Position   string
	Part       string // empty when nothing stands there, or nothing that is supplied: then Text says why
	Quantity   int    // 0 counts as 1, see Count
	Conditions Conditions
	Text       string
	Stamp
}

// Count is the quantity, at least 1.
func (a *Application) Count() int { return max(a.Quantity, 1) }

// what is the part that it gives, for print.
func (a *Application) what() string {
	if a.Part == "" {
		return "no part (" + a.ID + ")"
	}
	return a.Part
}

// Key implements Record.
func (a Application) Key() string { return a.ID }

// Group implements Record.
func (a Application) Group() string { return a.Position }

func (a *Application) conditions() *Conditions { return &a.Conditions }
func (a *Application) subject() string         { return "" }
func (a *Application) record() string          { return ApplicationName(a.ID) }

// Setting is a value that something is set, adjusted or tightened to when it
// is put together.
type Setting struct {
	ID             string
	Position       string
	Characteristic string // "end-float", "torque"
	Subject        string // of what, where a position has several: "housing bolts"
	Unit           string
	Lower, Upper   string // decimal text; empty for no limit on that side
	Target         string // decimal text; empty for the middle of the window
	Conditions     Conditions
	Method         string
	Tools          []string
	Caution        string
	DocRef         string
	SourceMark     string
	Sample         bool        // no engineer has signed it
	Shims          *ShimDesign // nil when it is not set with shims
	Stamp
}

// Key implements Record.
func (s Setting) Key() string { return s.ID }

// Group implements Record.
func (s Setting) Group() string { return s.Position }

func (s *Setting) conditions() *Conditions { return &s.Conditions }
func (s *Setting) subject() string         { return s.Characteristic + "\x00" + s.Subject }
func (s *Setting) record() string          { return SettingName(s.ID) }

// ShimDesign says how a setting answers to shims.
type ShimDesign struct {
	Sign      ShimSign
	LoadPerMM string // decimal text, in the setting's unit; empty for a setting measured as a length
	Largest   int    // the most shims of one pack; 0 means 6
	Rule      ShimRule
	Sizes     []ShimSize
}

// ShimSign says what a thicker pack does.
type ShimSign int

// The signs, numbered as in the API.
const (
	ShimSignUnsaid ShimSign = iota
	AddsFloat               // shims under a housing or cap
	TakesFloat              // shims behind a bearing
)

// ShimRule says which of several packs that serve is best.
type ShimRule int

// The rules, numbered as in the API.
const (
	ShimRuleUnsaid ShimRule = iota // fewest, then nearest
	FewestThenNearest
	NearestThenFewest
)

// ShimSize is a shim that can be had.
type ShimSize struct {
	Thickness vehicle.Quantity
	Part      string
	Stock     int // how many there are; see Limited
	Limited   bool
}

// Capacity is a fluid and how much of it belongs at a position.
type Capacity struct {
	ID         string
	Position   string
	Fluid      string // class and grade
	Family     string // one word; NeverMix names families
	Quantity   vehicle.Quantity
	Method     string // "to the level plug"
	NeverMix   []string
	Conditions Conditions
	Caution    string
	DocRef     string
	SourceMark string
	Sample     bool
	Stamp
}

// Key implements Record.
func (c Capacity) Key() string { return c.ID }

// Group implements Record.
func (c Capacity) Group() string { return c.Position }

func (c *Capacity) conditions() *Conditions { return &c.Conditions }
func (c *Capacity) subject() string         { return "" }
func (c *Capacity) record() string          { return CapacityName(c.ID) }

// PositionName gives the resource name of a position.
func PositionName(id string) string { return "positions/" + id }

// ApplicationName gives the resource name of an application,
// "applications/A0147".
func ApplicationName(id string) string { return "applications/" + id }

// SettingName gives the resource name of a setting, "settings/T0031".
func SettingName(id string) string { return "settings/" + id }

// CapacityName gives the resource name of a capacity, "capacities/F012".
func CapacityName(id string) string { return "capacities/" + id }
