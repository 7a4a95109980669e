package jobsheet

import (
	"strconv"
	"time"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// State is where a sheet stands; the numbers are those of halfshaft.jobsheet.v1.
type State uint8

// The states.
const (
	NoState        State = iota
	Open                 // it is out; nothing has come back
	TakenIn              // what came back is being put on record
	Returned             // all of it is on record
	Cancelled            // it is not used
	BeingStruckOut       // what came back is being struck out
	StruckOut            // what came back counts for nothing
)

// String is the state in a word.
func (s State) String() string {
	return [...]string{"unknown", "open", "taken in", "returned", "cancelled", "being struck out", "struck out"}[min(s, StruckOut)]
}

// Sheet is the sheet for one visit.
type Sheet struct {
	Serial   vehicle.Serial
	Number   int // of the vehicle's sheets, from 1; 0 while it is only looked at
	Visit    vehicle.Date
	Plate    string
	State    State
	Identity []Fact
	Distance Distance
	Cautions []string
	Warnings []vehicle.Reason
	Jobs     []Job
	Parts    []Part
	Fluids   []Fluid
	Tools    []string
	Sample   bool
	Sources  []string
	Gaps     []vehicle.Reason
	Return   *Return
	MadeBy   string
	Created  time.Time
	Refusal  *vehicle.Reason // why what came back last was not put on record
}

// Fact is a row of a name and a value.
type Fact struct{ Label, Value string }

// Distance is what is known of the odometer.
type Distance struct {
	Last     vehicle.Entered // zero for never
	LastDate vehicle.Date
	Expected vehicle.Distance // on the dial, about, on the day; 0 where it cannot be said
	Unit     vehicle.Unit     // of the dial
	Dial     string
}

// Job is one item of the programme, or one of a campaign's remedy.
type Job struct {
	Number     int
	Item       string // "T02", or of a remedy "C-2026-02/C1"
	Title      string
	Group      string
	Position   string
	Why        string
	Cautions   []string
	Methods    []string
	Docs       []string
	Parts      []Part
	Fluids     []Fluid
	Tools      []string
	Settings   []Setting
	Values     []Value
	Shims      []Shims
	Minutes    int
	FollowUp   string // of a remedy
	RemedyItem string // "C1"
}

// Remedy reports whether the job is of a campaign's remedy.
func (j *Job) Remedy() bool { return j.FollowUp != "" }

// Part is a part and how many.
type Part struct {
	Number, Title string
	Quantity      int
	Position, Why string
	IfNeeded      bool
}

// Fluid is a fluid and how much.
type Fluid struct {
	Fluid    string
	Quantity vehicle.Quantity // zero where nobody said
	Position string
	Method   string
	NeverMix string
	Caution  string
}

// Setting is a value that something is set to. Its numbers are decimal text.
type Setting struct {
	Title, Position, Lower, Target, Upper, Unit, Method string
}

// Value is a value that is to be measured.
type Value struct {
	Line     string // "3.1"
	Limit    schedule.MeasuredLimit
	Title    string
	Position string
	Last     []LastValue // the latest first
	Trend    string
	Renewed  bool // it began anew since the last; known only while the sheet is made
}

// LastValue is a value that was measured before.
type LastValue struct {
	Date  vehicle.Date
	Value vehicle.Quantity
}

// Shims is a pack of shims, and what may replace it.
type Shims struct {
	Line                              string // "2.s1"
	Position, Characteristic, Subject string
	Pack                              vehicle.Quantity // zero where nobody knows
	PackText, Window, Sizes           string
	Choices                           []Choice
}

// Choice is the pack to fit for one measured value.
type Choice struct {
	Measured vehicle.Quantity
	Last     bool             // it is the last value on record
	PackText string           // empty where no pack serves
	Pack     vehicle.Quantity // likewise zero
	Result   vehicle.Quantity // what is then to be measured
	Sentence string
}

// Name is the resource name of the sheet; of one that is only looked at, empty.
func (s *Sheet) Name() string {
	if s.Number == 0 {
		return ""
	}
	return Name(s.Serial, s.Number)
}

// Name is the resource name of a vehicle's sheet.
func Name(serial vehicle.Serial, number int) string {
	return "vehicles/" + string(serial) + "/jobSheets/" + strconv.Itoa(number)
}

// job gives the job of a number; nil for none.
func (s *Sheet) job(number int) *Job {
	if number < 1 || number > len(s.Jobs) {
		return nil
	}
	return &s.Jobs[number-1]
}

// packLine is the line under which a change of a pack that came back is
// confirmed: that of the sheet at its place. Where the sheet has none there, the
// lines after those of the sheet are counted on.
func (j *Job) packLine(d *Done, k int) string {
	w := &d.Shims[k]
	for i := range j.Shims {
		if s := &j.Shims[i]; s.Position == w.Position && s.Characteristic == w.Characteristic {
			return s.Line
		}
	}
	return shimLine(d.Number, len(j.Shims)+k)
}

// value gives the value of a line; nil for none.
func (j *Job) value(line string) *Value {
	for i := range j.Values {
		if j.Values[i].Line == line {
			return &j.Values[i]
		}
	}
	return nil
}
