// Package schedulestore keeps programmes and histories in etcd, and all of them
// in memory for reading.
package schedulestore

import (
	"fmt"
	"strings"

	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys stand and writes are waited for.
const Service = "schedule"

// The keys:
//
//	/halfshaft/v1/schedule/programmes/<programme>/<version, four digits>  Programme, written once
//	/halfshaft/v1/schedule/readings/<serial>/<reading>      Reading; a settlement is added once
//	/halfshaft/v1/schedule/entries/<serial>/<entry>         ServiceEntry; a void reason is added once
//	/halfshaft/v1/schedule/events/<serial>/<event>          Event, written once
//	/halfshaft/v1/schedule/uses/<serial>/<use fact>         UseFact; an end date is added
//
// Computed fields, etags and the names of a vehicle's records are never stored. The reading of a service entry or
// an event is a Reading of its own, with the identifier of the entry or event,
// written in the same transaction: so it is settled like any other.
var prefix = kv.Prefix(Service)

// Kind is a sort of record of a vehicle.
type Kind int

// The kinds.
const (
	Readings Kind = iota
	Entries
	Events
	Uses
	kinds
)

var kindSegments = [kinds]string{"readings", "entries", "events", "uses"}
var kindNames = [kinds]string{"readings", "serviceEntries", "events", "useFacts"}

// Key is where a record of a vehicle stands.
func (k Kind) Key(serial vehicle.Serial, id string) string {
	return prefix + kindSegments[k] + "/" + string(serial) + "/" + id
}

// Name is a record's resource name: "vehicles/AM0147P/readings/0192f0".
func (k Kind) Name(serial vehicle.Serial, id string) string {
	return "vehicles/" + string(serial) + "/" + kindNames[k] + "/" + id
}

// Pattern is the form of the names of the kind.
func (k Kind) Pattern(id string) string { return "vehicles/{serial}/" + kindNames[k] + "/{" + id + "}" }

// ProgrammeKey is where a version of a programme stands.
func ProgrammeKey(id string, version int) string {
	return programmeKey(id, fmt.Sprintf("%04d", version))
}

func programmeKey(id, number string) string { return prefix + "programmes/" + id + "/" + number }

// parse takes a key apart; ok is false for a key of no kind known here.
func parse(key string) (kind Kind, of, id string, programme, ok bool) {
	segment, rest, _ := strings.Cut(strings.TrimPrefix(key, prefix), "/")
	of, id, _ = strings.Cut(rest, "/")
	if segment == "programmes" {
		return 0, of, id, true, true
	}
	for k, s := range kindSegments {
		if s == segment {
			return Kind(k), of, id, false, true
		}
	}
	return 0, "", "", false, false
}
