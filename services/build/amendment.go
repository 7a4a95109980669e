package build

import (
	"time"

	"halfshaft/services/vehicle"
)

// Amendment is one correction of a record: who, when, why, and every field
// before and after.
type Amendment struct {
	Serial  vehicle.Serial
	ID      string // unique for the vehicle
	Reason  string
	Author  string
	Created time.Time
	Fields  []AmendedField // what Diff gave
	Before  Record         // whole, so that nothing depends on Fields
}

// AmendedField is one field of an amendment, for people.
type AmendedField struct {
	Path   string // "components[transfer-case].lot"
	Before string // empty when it was not set
	After  string // empty when it was cleared
}

// Name gives the resource name, "builds/AM0147P/amendments/0192f0".
func (a Amendment) Name() string { return Name(a.Serial) + "/amendments/" + a.ID }
