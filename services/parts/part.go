package parts

import (
	"slices"
	"time"

	"halfshaft/services/vehicle"
)

// Part is one entry of the catalogue.
type Part struct {
	Number    string   // of the works, as printed: "AP-2041"
	Title     string   // as on the label
	Words     []string // other words for it, misspellings included; each may be a phrase
	Positions []string // where it may stand; the release decides where it does
	Hand      Hand
	Unit      string // "each", "set", "l"
	Minimum   int    // the least that can be ordered, in units; 0 counts as 1
	Status    Status
	Drawing   string   // the drawing it can be remade from; empty for none
	Contents  []Line   // what a kit holds; empty for a single part
	RenewWith []Line   // what must be renewed with one of it
	Releases  []string // identifiers of the releases it is for, "R3"; empty for all that name it
	Caution   string   // where handling or fitting it can hurt, what to mind
	Notes     string
	Traits    []string // what it is like, as far as the service programme asks
	Created   time.Time
	Revision  int64 // of the record in its store; 0 outside of one
}

// Available says whether the part can be ordered at all.
func (p *Part) Available() bool { return p.Status != Unavailable }

// suits says whether the part may go on a vehicle whose position follows the
// release.
func (p *Part) suits(release string) bool {
	return len(p.Releases) == 0 || slices.Contains(p.Releases, release)
}

// Line is a part and how many of it.
type Line struct {
	Part     string
	Quantity int // 0 counts as 1, see Count
}

// Count is the quantity, at least 1.
func (l Line) Count() int { return max(l.Quantity, 1) }

// Hand says on which side a part belongs, seen from the driving seat.
type Hand int

// The hands, numbered as in the API.
const (
	EitherHand Hand = iota // or it does not matter
	Left
	Right
)

func (h Hand) String() string {
	switch h {
	case Left:
		return "left"
	case Right:
		return "right"
	}
	return ""
}

// Status says whether a part can be had.
type Status int

// The states, numbered as in the API.
const (
	StatusUnspecified Status = iota
	Orderable
	UseUp       // stock is used up first; no more is made
	Unavailable // no longer to be had; the drawing says how it is remade
)

// Supersession says that one part takes the place of another.
type Supersession struct {
	ID        string // "S014"
	Old       string // number of the part that goes
	New       []Line // what takes its place: several when it is split
	Effective vehicle.Date
	TwoWay    bool     // whether the old one may also stand in for the new one
	Releases  []string // identifiers of the releases it holds for; empty for all
	Together  []string // parts that must be on the vehicle, or be fitted with it, for it to hold
	Text      string   // what was changed and why
	Created   time.Time
	Revision  int64 // of the record in its store; 0 outside of one
}

// PartName gives the resource name of a part, "parts/AP-2041".
func PartName(number string) string { return "parts/" + number }

// SupersessionName gives the resource name of a supersession,
// "supersessions/S014".
func SupersessionName(id string) string { return "supersessions/" + id }
