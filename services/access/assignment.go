package access

import (
	"fmt"
	"strings"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// Ground is by what right a dealer sees a vehicle. The zero value is none.
type Ground uint8

// The grounds. Their numbers are those of the API's enumeration.
const (
	NoGround Ground = iota
	Consent         // an owner, executor or caretaker of the vehicle lets them
	Booking         // the vehicle is booked in with them
	ByWorks         // the works sends it to them, or asks their help
)

var groundNames = [...]string{"none", "consent", "booking", "works"}

func (g Ground) String() string {
	if int(g) < len(groundNames) {
		return groundNames[g]
	}
	return groundNames[NoGround]
}

// Valid reports whether an assignment can rest on the ground.
func (g Ground) Valid() bool { return g > NoGround && int(g) < len(groundNames) }

// Assignment lets the people of an organisation see one vehicle's technical
// record, and record work on it.
type Assignment struct {
	ID           string
	Vehicle      vehicle.Serial
	Organisation string // "organisations/{organisation}"
	Ground       Ground
	ConsentedBy  string       // "people/{person}" for a consent; otherwise empty
	Start        vehicle.Date // the first day
	Last         vehicle.Date // the last day, which still counts
	Purpose      string
	End          AssignmentEnd // zero while nobody ended it
	RecordedBy   string
	Created      time.Time
}

// AssignmentEnd is how an assignment came to its end before its last day.
type AssignmentEnd struct {
	Time       time.Time
	Complete   bool // the work is complete; otherwise it was taken back
	Reason     string
	RecordedBy string
}

// Name gives the resource name: "vehicles/AM0147P/assignments/0192f0".
func (a Assignment) Name() string {
	return "vehicles/" + string(a.Vehicle) + "/assignments/" + a.ID
}

// Ended reports whether somebody ended it before its last day.
func (a Assignment) Ended() bool { return !a.End.Time.IsZero() }

// Runs reports whether a day is among its days and nobody ended it: what can
// be said of it without asking about anybody else. An end counts at once, also
// for a clock that is behind.
func (a Assignment) Runs(on vehicle.Date) bool {
	return !a.Ended() && !a.Start.IsZero() && !on.Before(a.Start) && !on.After(a.Last)
}

// Open decides whether the assignment lets its organisation see the vehicle on
// a day in UTC. organisationOpen says whether the organisation is there and
// open. tied says whether a person is the vehicle's owner, caretaker or
// executor that day; it is asked about a consent only, which is over with the
// tie of whoever gave it.
func (a Assignment) Open(on vehicle.Date, organisationOpen bool, tied func(person string) bool) bool {
	if !a.Runs(on) || !organisationOpen {
		return false
	}
	switch a.Ground {
	case Consent:
		return a.ConsentedBy != "" && tied(a.ConsentedBy)
	case Booking, ByWorks:
		return true
	}
	return false
}

// How long assignments last, in days after the first.
const (
	bookingDays = 30
	longestDays = 366
)

// maxPurpose bounds purposes and reasons, in characters.
const maxPurpose = 300

// ProposedAssignment completes an assignment that is to be made on a day and
// says what is wrong with it. Its fields are those of the API: organisation,
// ground, consented_by, start_date, last_date, purpose. Whether the
// organisation is open, and the person tied, is for the caller to see.
func ProposedAssignment(a Assignment, today vehicle.Date) (Assignment, []fault.Field) {
	var faults []fault.Field
	wrong := func(name, got, want string) { faults = append(faults, fault.Field{Name: name, Got: got, Want: want}) }
	if _, ok := OrganisationID(a.Organisation); !ok {
		wrong("organisation", a.Organisation, "organisations/{organisation}")
	}
	if !a.Ground.Valid() {
		wrong("ground", a.Ground.String(), "consent, booking or works")
	}
	switch {
	case a.Ground == Consent && !personNamed(a.ConsentedBy):
		wrong("consented_by", a.ConsentedBy, "people/{person} of who gave the consent")
	case a.Ground != Consent && a.ConsentedBy != "":
		wrong("consented_by", a.ConsentedBy, "nothing, since the assignment does not rest on a consent")
	}
	a, days := a.withDays(today)
	faults = append(faults, days...)
	a.Purpose = strings.TrimSpace(a.Purpose)
	if a.Purpose == "" || !fits(a.Purpose, maxPurpose) {
		wrong("purpose", a.Purpose, fmt.Sprintf("what it is for, without names, in 1 to %d printable characters", maxPurpose))
	}
	return a, faults
}

// withDays fills in the days that were left out and says what is wrong with
// those that were not.
func (a Assignment) withDays(today vehicle.Date) (Assignment, []fault.Field) {
	var faults []fault.Field
	if a.Start.IsZero() {
		a.Start = today
	}
	if latest := today.AddDays(longestDays); a.Start.After(latest) {
		faults = append(faults, fault.Field{Name: "start_date", Got: a.Start.String(), Want: "a day until " + latest.String()})
	}
	usual, given := longestDays, !a.Last.IsZero()
	if a.Ground == Booking {
		usual = bookingDays
	}
	if !given {
		a.Last = a.Start.AddDays(usual)
	}
	earliest, latest := a.Start, a.Start.AddDays(longestDays)
	if earliest.Before(today) {
		earliest = today
	}
	switch {
	case latest.Before(today):
		faults = append(faults, fault.Field{Name: "start_date", Got: a.Start.String(), Want: fmt.Sprintf("a day from %s on, so that the last day has not passed", today.AddDays(-longestDays))})
	case !given && a.Last.Before(today): // nobody typed the last day
		faults = append(faults, fault.Field{Name: "start_date", Got: a.Start.String(),
			Want: fmt.Sprintf("a day from %s on, or a last_date as well: %d days after the first have passed", today.AddDays(-usual), usual)})
	case a.Last.Before(earliest) || a.Last.After(latest):
		faults = append(faults, fault.Field{Name: "last_date", Got: a.Last.String(), Want: fmt.Sprintf("a day from %s to %s", earliest, latest)})
	}
	return a, faults
}

// ProposedEnd completes the end of an assignment and says what is wrong with
// it. Its field is that of the API: reason. Staff say why they take one back;
// who completes the work, and an owner, need not.
func ProposedEnd(e AssignmentEnd, by Caller) (AssignmentEnd, []fault.Field) {
	e.Reason, e.RecordedBy = strings.TrimSpace(e.Reason), by.Bearer
	switch {
	case !fits(e.Reason, maxPurpose):
		return e, []fault.Field{{Name: "reason", Got: e.Reason, Want: fmt.Sprintf("why, without names, in at most %d printable characters", maxPurpose)}}
	case e.Reason == "" && !e.Complete && by.Role != Owner:
		return e, []fault.Field{{Name: "reason", Want: "why it is taken back, without names"}}
	}
	return e, nil
}

// MayEnd decides whether a caller who sees an assignment may end it so: nil, or
// the refusal. An owner takes back a consent or a booking; what the works sent
// elsewhere the works takes back. A dealer says that the work is complete.
func (a Assignment) MayEnd(by Caller, complete bool) error {
	switch {
	case by.Role == Owner && a.Ground == ByWorks:
		return fault.New(fault.Denied, "NOT_YOURS_TO_END", "The works made this assignment, and ends it: ask the works.")
	case by.Role == Dealer && !complete:
		return fault.InvalidField("complete", "false", "true: a dealer ends an assignment by completing the work")
	}
	return nil
}

// personNamed reports whether a text is "people/{person}".
func personNamed(name string) bool {
	id, ok := strings.CutPrefix(name, "people/")
	return ok && id != "" && !strings.Contains(id, "/") && printable(id)
}
