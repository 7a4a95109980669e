package jobsheet

import (
	"strings"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// Facts are all that a sheet is made from, as the services said it on the day
// on which it is made.
type Facts struct {
	Serial    vehicle.Serial
	Visit     vehicle.Date
	Plate     string
	Identity  []Fact
	Distance  Distance
	Options   []string
	Positions []string         // at which something stands
	Warnings  []vehicle.Reason // what comes first; those of campaigns are made from Remedies
	Items     []Item           // what is to be done
	Remedies  []Remedy
	Parts     map[string][]Part // by position: the part to fit today
	Settings  []SheetSetting
	Fluids    []Fill
	Series    []Series
	Packs     []Pack // as they were last fitted, the latest first
	Sample    bool
	Sources   []string
	Gaps      []vehicle.Reason // what could not be read, and why
}

// Item is an item of the programme that is to be done.
type Item struct {
	ID, Title, Group, Position, Why, Caution, Doc string
	Tools                                         []string
	Measured                                      []schedule.MeasuredLimit
	Fluid                                         Fluid // of the programme; empty for none
	Needs                                         []Need
}

// Need is a part that an item asks for.
type Need struct {
	Position string
	Quantity int // 0: as many as the vehicle has
	IfNeeded bool
}

// Remedy is an open campaign with what it asks for.
type Remedy struct {
	FollowUp string // "vehicles/AM0147P/followUps/C-2026-02"
	Campaign string // "C-2026-02"
	Title    string
	Caution  string
	StopUse  bool
	Why      string
	Items    []RemedyItem
	Sample   bool
}

// RemedyItem is one item of a remedy.
type RemedyItem struct {
	ID, Title, Caution string
	Parts              []Part
	Tools              []string
	Minutes            int
	Measured           []schedule.MeasuredLimit
}

// SheetSetting is a setting of this vehicle, with what shims it is reached by.
type SheetSetting struct {
	Setting
	Characteristic, Subject, Doc, Caution string
	Tools                                 []string
	Shimmed                               bool
	Window                                string
	Sizes                                 string
}

// Fill is what is filled in at a position.
type Fill struct {
	Fluid
	Family string
	Doc    string
}

// Series is what was measured of one quantity.
type Series struct {
	Position, Characteristic string
	Values                   []LastValue // the latest first
	Trend                    string      // where it is going, or what happened since the last value
	Renewed                  bool        // it began anew since
}

// Pack is a pack of shims as it was last fitted.
type Pack struct {
	Position, Characteristic string
	Thickness                vehicle.Quantity
	Text                     string
}

// covers reports whether something about a position is about another: the same,
// or a part of it. "hub" covers "hub-front-left".
func covers(position, other string) bool {
	rest, ok := strings.CutPrefix(other, position)
	return position != "" && ok && (rest == "" || rest[0] == '-')
}
