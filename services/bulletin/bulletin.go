package bulletin

import (
	"strconv"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Bulletin is one version of advice for a set of vehicles, or of a campaign
// whose remedy the works must see carried out on each of them.
type Bulletin struct {
	ID             string // "C-2026-02": letters, digits and hyphens
	Version        int    // from 1; a new version takes the place of text, set and remedy
	Kind           Kind   // the same in all versions
	State          State
	Title          string // what it is about, in a line
	Fault          string // what is wrong
	Consequence    string // what can happen
	Meanwhile      string // what to do until it is put right
	Caution        string // what can hurt; stop-use asks for it
	HoldDelivery   bool   // no vehicle of the set leaves the works before the remedy
	StopUse        bool   // no vehicle of the set is to be driven before the remedy
	Set            Set
	Remedy         []RemedyItem // none for advice without work
	Plan           Plan         // when owners are written to
	Issued         vehicle.Date // zero for a draft
	SupersededBy   string       // identifier of the bulletin that takes its place; empty for none
	WithdrawReason string
	Determined     vehicle.Date // the day on which the works found that there is a fault; zero where nobody said
	Reported       vehicle.Date // the day on which a report was filed with an authority; zero for none
	Sample         bool         // no engineer has signed it
	SignedBy       string       // the works' engineer
}

// Name is the resource name of the version, "bulletins/C-2026-02/versions/1".
func (b *Bulletin) Name() string { return Name(b.ID) + "/versions/" + strconv.Itoa(b.Version) }

// Name is the resource name of a bulletin, "bulletins/C-2026-02".
func Name(id string) string { return "bulletins/" + id }

// Safety says whether somebody can be hurt: then letters go on until it is done.
func (b *Bulletin) Safety() bool { return b.HoldDelivery || b.StopUse }

// Kind is whether the works must see a remedy carried out. Its numbers are
// those of the API's enumeration.
type Kind int

// The kinds.
const (
	NoKind   Kind = iota
	Advice        // to be read
	Campaign      // to be carried out, and followed until it is
)

// State is where a version stands. Its numbers are those of the API's
// enumeration.
type State int

// The states.
const (
	NoState    State = iota
	Draft            // being written
	Issued           // it holds
	Superseded       // a later version, or another bulletin, holds instead
	Withdrawn        // taken back, with a reason
)

// RemedyItem is a service item of a bulletin's own.
type RemedyItem struct {
	ID           string // unique in the bulletin: "C1"
	Title        string
	Parts        []RemedyPart
	Tools        []string
	Caution      string
	Minutes      int
	Measured     []schedule.MeasuredLimit // what must be measured, and its window
	Reinspection Reinspection
}

// RemedyPart is a part of a remedy.
type RemedyPart struct {
	Position string // where it goes; empty for what has no position
	Part     string // number
	Quantity int    // from 1
}

// Reinspection is when a remedy is looked at again, whichever comes first; the
// zero value is never.
type Reinspection struct {
	Days     int              // 0 for no limit of time
	Distance vehicle.Distance // true; 0 for no limit of distance
}

// IsZero says whether it is never looked at again.
func (r Reinspection) IsZero() bool { return r == Reinspection{} }

// Plan says when owners are written to, in days from the beginning of a round.
type Plan struct {
	LetterDays []int // of the first, second and later letters, rising; none: 0, 30, 90 (common practice, no source)
	RepeatDays int   // after the last of these; 0: each year on its day; NoRepeat: never
}

// NoRepeat in Plan.RepeatDays ends the letters with the last of LetterDays. A
// bulletin that holds delivery or stops use may not have it.
const NoRepeat = -1
