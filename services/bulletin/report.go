package bulletin

import "halfshaft/services/vehicle"

// Quarter is a quarter of a calendar year.
type Quarter struct{ Year, Number int } // Number 1 to 4

// ParseQuarter reads "2026-Q1". The error is of kind Invalid.
func ParseQuarter(text string) (Quarter, error) { panic("unfinished") }

// QuarterOf is the quarter of a day.
func QuarterOf(d vehicle.Date) Quarter { panic("unfinished") }

// String is "2026-Q1".
func (q Quarter) String() string { panic("unfinished") }

// First and Last are its days.
func (q Quarter) First() vehicle.Date { panic("unfinished") }

// Last is its last day.
func (q Quarter) Last() vehicle.Date { panic("unfinished") }

// Counts are how many vehicles of a campaign stand where on a day. The classes
// are those that 49 CFR 573.7 asks for, as an example: counsel first.
type Counts struct {
	Vehicles      int // on the list
	Notified      int // told at least once
	Remedied      int
	NotNeeded     int // looked at, and in no need of it
	Unreachable   int // owner unknown
	Exported      int
	Scrapped      int
	Refused       int
	CalledOff     int
	Outstanding   int // none of these: open, notified, booked or done wrong
	NoLongerMeets int // of those not settled, how many meet the conditions no longer
}

// Missing is a vehicle of a campaign that is not settled, with why.
type Missing struct {
	FollowUp *FollowUp
	Standing Standing
	Why      vehicle.Reason
}

// CurvePoint is the completion of a campaign at the end of a day.
type CurvePoint struct {
	On        vehicle.Date
	Days      int // since the issue
	Vehicles  int // on the list by then
	Completed int // remedied, or looked at and in no need of it
	Scrapped  int // no more, and not completed: nobody waits for them
}

// Share is the share that is completed of those that can be, 0 to 1; 0 for none.
func (p CurvePoint) Share() float64 { panic("unfinished") }

// Report is where a campaign stands at the end of a day.
type Report struct {
	Bulletin  Bulletin
	On        vehicle.Date
	Quarter   Quarter // the zero value for a report of a day
	Counts    Counts
	InQuarter Counts // what was added in the quarter; may be negative, where work was found wrong
	States    map[FollowUpState]int
	Curve     []CurvePoint // the days on which something changed, until On
	Missing   []Missing    // by why, then serial
	NotifyBy  vehicle.Date // see NotifyBy; zero without a report
}

// ReportOn says where a campaign stands at the end of a day.
func ReportOn(b *Bulletin, all []FollowUp, on vehicle.Date) Report { panic("unfinished") }

// QuarterReport says what became of a campaign in a quarter, and where it stood
// at its end.
func QuarterReport(b *Bulletin, all []FollowUp, q Quarter) Report { panic("unfinished") }

// Sentences are the report for print. They say which law the classes are taken
// from, and that counsel goes first.
func (r *Report) Sentences() []string { panic("unfinished") }
