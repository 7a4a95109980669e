package bulletin

import "halfshaft/services/vehicle"

// MatchState is whether a bulletin is for a vehicle. Its numbers are those of
// the API's enumeration.
type MatchState int

// The answers.
const (
	NoMatchState MatchState = iota
	In                      // it is
	Unknown                 // it cannot be told from what is on record; on the list until somebody has looked
	Near                    // it is not, but all conditions save one hold, or it is close
	Out                     // it is not
)

// OnList says whether a vehicle of this state belongs on the list of a
// campaign: what cannot be told is looked at.
func (s MatchState) OnList() bool { return s == In || s == Unknown }

// Match is whether a bulletin is for a vehicle.
type Match struct {
	Serial  vehicle.Serial
	State   MatchState
	Reasons []vehicle.Reason // for staff, what decides first
	Cure    *Cure            // the vehicle has the remedy's parts; it is in the set none the less
}

// Sentence is the reasons in one text.
func (m *Match) Sentence() string { panic("unfinished") }

// Cure is the remedy as the build record shows it: units that a campaign
// fitted, of the parts that the remedy names, none of which the bulletin is
// about.
type Cure struct {
	Date   vehicle.Date // of the last of them
	Record string       // resource name of that change
	Parts  []PartUsed
}

// Ready is a set made ready to be judged; safe for concurrent use.
type Ready struct{ bulletin Bulletin }

// Prepare makes a version ready to be judged. Only set and remedy are looked
// at, so that a draft can be previewed. The error names every wrong field
// ("set.condition.all.conditions[1].expression").
func Prepare(b Bulletin, compiler vehicle.PredicateCompiler) (*Ready, error) { panic("unfinished") }

// Match judges one vehicle of a fleet; false when it has none of that serial.
func (r *Ready) Match(f *Fleet, serial vehicle.Serial) (Match, bool) { panic("unfinished") }

// Preview judges every vehicle of a fleet.
func (r *Ready) Preview(f *Fleet) Preview { panic("unfinished") }

// Preview is what a set comes to.
type Preview struct {
	On                     vehicle.Date
	Matches                []Match // in order of serial, all states
	In, Unknown, Near, Out int
	Loose                  []LooseUnit // units of the set's conditions that stand on no vehicle
}

// Sentences are the preview for print: the counts, each vehicle that is not
// out with why, and the loose units.
func (p *Preview) Sentences() []string { panic("unfinished") }

// LooseUnit is a unit that a condition names, or may name, and that stands on
// no vehicle: it was taken off and is not on record elsewhere.
type LooseUnit struct {
	Unit    Stay
	Last    vehicle.Serial // the vehicle that it was taken off
	Certain bool           // whether it certainly is one; else its lot, part or serial is not on record
}

// Sentence says where it was last.
func (u *LooseUnit) Sentence() string { panic("unfinished") }

// Members gives the serials that belong on the list of a campaign: in the set,
// or not to be told. Sorted.
func (r *Ready) Members(f *Fleet) []vehicle.Serial { panic("unfinished") }

// Growth is what came of comparing a list with the fleet of a day.
type Growth struct {
	Entered []Match          // that were not on the list, to be entered and notified once; by serial
	Cured   []Match          // on the list, whose remedy the build record shows; by serial
	Left    []Match          // on the list, that meet the conditions no longer: they stay; by serial
	Gone    []vehicle.Serial // on the list, that the fleet does not have: they stay too
}

// Grow compares the serials that were ever entered with a fleet. Given the same
// list with Entered added, it enters nobody again.
func (r *Ready) Grow(previous []vehicle.Serial, f *Fleet) Growth { panic("unfinished") }
