package jobsheet

import (
	"time"

	"halfshaft/services/build"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Return is what came back on a sheet.
type Return struct {
	Date      vehicle.Date
	Reading   vehicle.Entered // zero where nobody read it
	Jobs      []Done
	Parts     []PartUsed
	Changes   []build.Change // day, odometer and who did it are the sheet's
	DoneBy    string
	Note      string
	Confirmed []Confirmation
	Records   []string // what it became
	TakenInBy string
	TakenIn   time.Time
}

// Done is what became of a job.
type Done struct {
	Number int
	Done   bool
	Note   string
	Values []Measured
	Shims  []schedule.ShimWork
}

// Measured is a value that came back.
type Measured struct {
	Line       string
	Value      vehicle.Quantity
	Instrument string
}

// PartUsed is a part that went in.
type PartUsed struct {
	Number, Lot string
	Quantity    int
}

// Confirmation says why a value is right though it is odd.
type Confirmation struct{ Line, Text string }

// ReadingLine is the line under which an odd reading is confirmed.
const ReadingLine = "reading"

// Doubt is something that somebody is to look at before a return is taken in.
type Doubt struct {
	Field      string // "jobs[2].values[0]"
	Line       string // "3.1"; empty for what has none
	CanConfirm bool   // what cannot be is wrong
	Reason     vehicle.Reason
}

// confirmed gives what was said of a line; empty for nothing.
func (r *Return) confirmed(line string) string {
	for _, c := range r.Confirmed {
		if c.Line == line {
			return c.Text
		}
	}
	return ""
}
