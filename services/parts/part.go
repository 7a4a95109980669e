package parts

import (
	"slices"
	"time"

	"halfshaft/services/vehicle"
)

// Part is one entry of the catalogue.
type Part struct {
	Number       string   // of the works, as printed: "AP-2041"
	Title        string   // as on the label
	Words        []string // other words for it, misspellings included; each may be a phrase
	Positions    []string // where it may stand; the release decides where it does
	Hand         Hand
	Unit         string // "each", "set", "l"
	Minimum      int    // the least that can be ordered, in units; 0 counts as 1
	Status       Status
	Drawing      string   // the drawing it is made after, and can be remade from; empty for none
	OtherNumbers []string // numbers it was or is known by elsewhere
	Contents     []Line   // what a kit holds; empty for a single part
	RenewWith    []Line   // what must be renewed with one of it
	Releases     []string // identifiers of the releases it is for, "R3"; empty for all that name it
	Caution      string   // where handling or fitting it can hurt, what to mind
	Notes        string
	Traits       []string         // what it is like, as far as the service programme asks
	Weight       vehicle.Quantity // of one unit; zero when it is not known
	Dimensions   []Dimension      // as far as they tell it from others
	Stamp
}

// Stamp is what a store knows of a record.
type Stamp struct {
	Created  time.Time // when it was made
	Revision int64     // of the record in its store; 0 outside of one

	Withdrawn bool // only of a row of an import: the record was a mistake and is taken out
}

// Stamped gives the stamp, to be read or set.
func (s *Stamp) Stamped() *Stamp { return s }

// Key implements Record.
func (p Part) Key() string { return p.Number }

// Available says whether the part can be ordered at all.
func (p *Part) Available() bool { return p.Status != Unavailable }

// suits says whether the part may go on a vehicle whose position follows the
// release.
func (p *Part) suits(release string) bool {
	return len(p.Releases) == 0 || slices.Contains(p.Releases, release)
}

// holds says whether a kit holds a part.
func (p *Part) holds(number string) bool {
	return slices.ContainsFunc(p.Contents, func(l Line) bool { return l.Part == number })
}

// Line is a part and how many of it.
type Line struct {
	Part     string
	Quantity int // 0 counts as 1, see Count
}

// Count is the quantity, at least 1.
func (l Line) Count() int { return max(l.Quantity, 1) }

// Dimension is one size of a part.
type Dimension struct {
	Title string // "length", "thread"
	Size  string // with its unit, "52 mm", or the name of a thread, "M8"
}

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
	AlsoOld   []string // further parts that go at the same time: one set of the new takes the place of one of each
	OldStock  OldStock // what happens to stock of the old
	Stamp
}

// Key implements Record.
func (s Supersession) Key() string { return s.ID }

// olds is every part that goes.
func (s *Supersession) olds() []string { return append([]string{s.Old}, s.AlsoOld...) }

// OldStock says what is done with stock of a part that was superseded.
type OldStock int

// The fates of old stock, numbered as in the API.
const (
	OldStockUnsaid OldStock = iota // fitted where two-way or marked as to be used up; else the engineer is asked
	UsedUpFirst                    // on vehicles that it still fits
	Reworked                       // to the new pattern before it is used
	Scrapped                       // not to be fitted any more
	Kept                           // for the vehicles that the supersession does not hold for
)

// PartName gives the resource name of a part, "parts/AP-2041".
func PartName(number string) string { return "parts/" + number }

// SupersessionName gives the resource name of a supersession,
// "supersessions/S014".
func SupersessionName(id string) string { return "supersessions/" + id }
