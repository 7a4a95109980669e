package owner

import (
	"fmt"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// UsualYears is how long the record of somebody who is nothing to any vehicle
// any more is kept where the works has not said otherwise: common practice
// among small works, of no statute.
const UsualYears = 3

// DocumentMonths is how long a photograph is kept.
const DocumentMonths = 24

// Expiry says since when something personal is past its time.
type Expiry struct {
	Last vehicle.Date // the last day it was needed: of a tie, or when the record or the file came
	Due  vehicle.Date // the first day on which it may no longer be kept
	Tied bool         // whether Last is the end of a tie
}

// PersonExpiry says when the record of a person is past its time, which is
// years after their last tie ended, or after the record was made for somebody
// who never was tied to anything; false while a tie lasts or is to begin.
// Ties count by the day in UTC.
func PersonExpiry(p Person, ties []Tie, years int, today vehicle.Date) (Expiry, bool) {
	e := Expiry{Last: vehicle.DateOf(p.Created.UTC())}
	for _, t := range ties {
		if !t.Over(today) {
			return Expiry{}, false
		}
		if !e.Tied || t.End.After(e.Last) {
			e.Last, e.Tied = t.End, true
		}
	}
	if p.Created.IsZero() && !e.Tied {
		return Expiry{}, false // of a record whose age nobody knows, nothing can be said
	}
	e.Due = e.Last.AddMonths(12 * years)
	return e, !e.Due.After(today)
}

// Sentence says of a person why their record goes, without a name.
func (e Expiry) Sentence() string {
	if e.Tied {
		return fmt.Sprintf("Erased: tied to no vehicle since %s.", e.Last)
	}
	return fmt.Sprintf("Erased: never tied to a vehicle, on record since %s.", e.Last)
}

// DocumentExpiry says when a photograph is past its time.
func DocumentExpiry(d Document, today vehicle.Date) (Expiry, bool) {
	e := Expiry{Last: vehicle.DateOf(d.Created.UTC())}
	e.Due = e.Last.AddMonths(DocumentMonths)
	return e, !d.Created.IsZero() && !e.Due.After(today)
}

const maxHold = 200 // characters

// holdFaults says what is wrong with the reason of a hold.
func holdFaults(hold string) []fault.Field {
	if !oneLine(hold, maxHold) {
		return []fault.Field{{Name: "retention_hold", Got: Described(hold),
			Want: "why the record is kept, without details, " + fault.AtMost(maxHold) + " on one line"}}
	}
	return nil
}
