package access

import (
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// NoVehicle is the refusal for a vehicle that is not there. A limited caller
// gets the same for one that is not theirs, so that nothing can be learnt from
// asking.
func NoVehicle(serial vehicle.Serial) *fault.Error {
	return fault.New(fault.NotFound, "BUILD_NOT_FOUND", "There is no vehicle %s here.", serial)
}

// NoPerson is the refusal for a person who is not there, or not for this
// caller's eyes. id is the identifier, never a name.
func NoPerson(id string) *fault.Error {
	return fault.New(fault.NotFound, "PERSON_NOT_FOUND", "There is no person %s here.", id)
}
