package bulletin

import (
	"time"

	"halfshaft/services/vehicle"
)

// FollowUp is a vehicle on the list of a campaign. Its steps stand in the order
// in which they were recorded; they are added to and never taken away.
type FollowUp struct {
	Serial   vehicle.Serial
	Bulletin string // identifier: "C-2026-02"
	Version  int    // the version that put it on the list
	Entered  vehicle.Date
	Because  []vehicle.Reason // why it came on the list
	Steps    []Step           // the first is Entered
	Imported time.Time        // when it was taken over from another store; zero: it was not
}

// FollowUpName is the resource name, "vehicles/AM0147P/followUps/C-2026-02".
func FollowUpName(serial vehicle.Serial, bulletin string) string {
	return "vehicles/" + string(serial) + "/followUps/" + bulletin
}

// Name is the resource name of the follow-up.
func (f *FollowUp) Name() string { return FollowUpName(f.Serial, f.Bulletin) }

// Step is something that happened to a vehicle of a campaign.
type Step struct {
	Kind         StepKind
	Date         vehicle.Date  // the day on which it happened; of a booking, the day agreed
	Evidence     string        // resource name of the service entry, of the change of the build record, or of the version that began a round
	Parts        []PartUsed    // that went in
	Measured     []Measurement // what was measured
	Text         string        // in words, without names
	Organisation string        // who carried it out: identifier; empty for the works
	Reading      vehicle.Entered
	Letter       string // of a letter that went out: its cycle, "C-2026-02.1-2"
	RecordedBy   string
	Recorded     time.Time // in the works' zone: the day of it is theirs
}

// ByService stands in Step.RecordedBy of a step that the service made from
// other records.
const ByService = "bulletin"

// PartUsed is a part that went in.
type PartUsed struct {
	Part, Lot string
	Position  string // empty where nobody said
	Quantity  int    // 0 counts as 1
}

// Measurement is a value measured at a remedy.
type Measurement struct {
	Item           string // of the remedy: "C1"; empty for the only item that asks for it
	Characteristic string
	Value          vehicle.Quantity
}

// StepKind is what happened. Its numbers are those of the API's enumeration.
type StepKind int

// The kinds. Those that the service makes itself are said so.
const (
	NoStep            StepKind = iota
	StepEntered                // it came on the list; by the service
	StepNotified               // the owner was written to or told
	StepBooked                 // a day was agreed
	StepDone                   // the remedy was carried out: with evidence
	StepNotNeeded              // it was looked at and needs none: with evidence
	StepFoundWrong             // the work was found wrong: a new round begins
	StepReinspected            // it was looked at again and is right
	StepRefused                // the owner does not want it
	StepOwnerUnknown           // nobody knows whose it is; by the service too
	StepExported               // it has left the country; by the service too
	StepScrapped               // it is no more; by the service too
	StepReopened               // it is back, its owner known again, or willing: a new round begins
	StepCalledOff              // the campaign was withdrawn; by the service
	StepNoLongerMeets          // the conditions hold no longer; by the service
	StepPartNotThere           // the part that the bulletin is about is not on it: with evidence
	StepMeetsAgain             // the conditions hold again; by the service
	StepWritten                // a letter went out; by the reminder service alone
	StepNewVersion             // a new version forbids more, or its remedy is another: a new round begins; by the service
	stepKinds
)

// FollowUpState is where a vehicle of a campaign stands. Its numbers are those
// of the API's enumeration.
type FollowUpState int

// The states.
const (
	NoFollowUpState FollowUpState = iota
	Open                          // nothing is done yet
	Booked                        // a day is agreed
	Done                          // the remedy was carried out
	NotNeeded                     // it was looked at and needs no remedy, or the part is not there
	DoneWrong                     // the remedy was found wrong: open again
	Refused                       // the owner does not want it
	OwnerUnknown                  // nobody knows whose it is; it stays on the list
	Exported                      // it has left the country; it stays on the list
	Scrapped                      // it is no more
	CalledOff                     // the campaign was withdrawn
	Notified                      // nothing is done yet, but the owner has been told
	followUpStates
)

// Settled says whether nothing is to be done any more, unless it is reopened
// or found wrong.
func (s FollowUpState) Settled() bool {
	return s == Done || s == NotNeeded || s == Scrapped || s == CalledOff
}

// Completed says whether it counts as completed: remedied, or looked at and in
// no need of it.
func (s FollowUpState) Completed() bool { return s == Done || s == NotNeeded }
