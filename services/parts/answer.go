package parts

import (
	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// Vehicle is what a question is answered from: what stands on the vehicle on
// the day, and what its specification calls for (build.ConfigureSpecified).
type Vehicle struct {
	Configuration build.Configuration
	Specified     []build.Specified
	Built         vehicle.Date      // the day it was finished; zero when that is not known
	Filled        []build.FluidFill // what the build record says was filled in
}

// Answer is what support reads out.
type Answer struct {
	Serial   vehicle.Serial
	Question string         // as understood: "position gearbox", "part AP-2041", "words swivel seal left"
	On       vehicle.Date   // the day it is for
	Fluids   []SheetFluid   // when a fluid was asked for: then there are no choices
	Settings []SheetSetting // likewise, when a setting was
	Choices  []Choice       // one when the question was clear, several when it was not
	AskBack  string         // the question that tells several apart, or checks an uncertain one
	Refusal  *Refusal       // why nothing is offered, or not what was asked for; nil when it is
}

// Choice is one part for one position of the vehicle.
type Choice struct {
	Position      string
	Title         string // what the position is called
	Order         *Part
	Quantity      int    // needed at this position of this vehicle
	FittedPart    string // where it differs from the specification, or has a serial or lot
	FittedSerial  string
	FittedLot     string
	Origin        build.Origin // which record put the fitted part there
	FittedSince   vehicle.Date
	FittedBy      string          // resource name of the change that put it there; empty for the build
	Application   string          // resource name of the row that decided; empty where the release does
	SpecifiedPart string          // before any supersession; empty where the specification has nothing
	Supersessions []*Supersession // from the specified or fitted part to the one to order
	RenewWith     []Line
	AlsoOrder     []Line // the rest of a split
	Contents      []Line // of a kit, as it is to be had today
	Capacities    []*Capacity
	Settings      []*Setting
	Tools         []string
	Reasons       []vehicle.Reason
	Caution       string
}

// The rules by which an answer is refused.
const (
	NotOnThisVehicle = "NOT_ON_THIS_VEHICLE" // the part exists and does not belong here
	NoSuchPart       = "NO_SUCH_PART"        // nothing of that number or name is in the catalogue
	CannotBeHad      = "UNAVAILABLE"         // no longer to be had, and nothing takes its place
	NothingSupplied  = "NOTHING_SUPPLIED"    // the catalogue says why nothing is supplied there
	NoApplication    = "NO_APPLICATION"      // no row of the catalogue holds for what this vehicle carries
	PositionEmpty    = "POSITION_EMPTY"      // the vehicle has nothing there and its specification neither
	ConditionNotMet  = "CONDITION_NOT_MET"   // the part would take the place of another, but does not yet, or not here
)

// Refusal says why a part is not offered.
type Refusal struct {
	Rule      string
	Sentence  string   // can be read out
	BelongsTo []string // where it does belong, in words
	Reasons   []vehicle.Reason
}

// Answerer answers questions from a sealed catalogue and the releases.
type Answerer struct {
	Catalogue *Catalogue
	Places    *Places
}

// mostChoices is how many candidates are worth reading out.
const mostChoices = 12

// Answer answers one question about one vehicle on the day of its
// configuration. It always answers; what it cannot offer it refuses.
func (a *Answerer) Answer(v *Vehicle, question string) Answer {
	return a.Prepare(v).Answer(question)
}
