package schedule

import "halfshaft/services/vehicle"

// Mark is one look at the odometer: a reading, or the reading of a service
// entry or an event. It is kept as it was entered.
type Mark struct {
	Date       vehicle.Date
	Value      vehicle.Entered
	Source     Source
	Record     string       // resource name, or any text that tells marks apart and never changes
	Alone      bool         // a reading of its own, which can be a duplicate
	Recorded   vehicle.Date // the day it was recorded; zero when that is not known
	Settlement *Settlement  // nil while nobody had to decide
}

// Source says who read the odometer; with nothing else to go by, the later
// ones are believed.
type Source uint8

// Who reads an odometer; the numbers are those of halfshaft.schedule.v1.
const (
	SourceUnspecified Source = iota
	ByOwner
	ByDealer
	ByWorks
	ByInspection
	sources
)

// Valid says whether s is a source.
func (s Source) Valid() bool { return s < sources }

// trust orders sources: an owner's look, a mechanic's, an official's, ours.
func (s Source) trust() int64 {
	switch s {
	case ByWorks:
		return 4
	case ByInspection:
		return 3
	case ByDealer:
		return 2
	case ByOwner:
		return 1
	}
	return 0
}

// Verdict is a person's decision about a doubtful reading.
type Verdict uint8

// The decisions; the numbers are those of halfshaft.schedule.v1.
const (
	NoVerdict Verdict = iota
	AsRead
	RolledOver
	Corrected
	Rejected
	verdicts
)

// Valid says whether v decides something.
func (v Verdict) Valid() bool { return v > NoVerdict && v < verdicts }

// Settlement is a decision with the value it gives, for Corrected.
type Settlement struct {
	Verdict   Verdict
	Corrected vehicle.Entered
}

// verdict is the decision about a mark, NoVerdict while there is none.
func (m *Mark) verdict() Verdict {
	if m.Settlement == nil {
		return NoVerdict
	}
	return m.Settlement.Verdict
}

// shown is what the dial showed, after a correction.
func (m *Mark) shown() vehicle.Entered {
	if m.verdict() == Corrected {
		return m.Settlement.Corrected
	}
	return m.Value
}

// ReadingState says whether a mark counts.
type ReadingState uint8

// The states; the numbers are those of halfshaft.schedule.v1.
const (
	StateUnspecified ReadingState = iota
	Counted
	Doubtful
	RejectedState
)

// Segment is a stretch of days on which the odometer counted alike.
type Segment struct {
	From      vehicle.Date
	Dial      vehicle.Dial
	FactorPPM int64           // true over indicated distance, in parts per million
	Start     vehicle.Entered // what the dial showed when it began; zero when not recorded
	End       vehicle.Entered // what it showed when it ended; zero when not recorded
	NewDial   bool            // it began with another dial, or with this one set anew
}

// Unity is the factor of an odometer that shows the true distance.
const Unity = 1_000_000
