package access

import (
	"strings"

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

// Closed refuses who has, or is spoken of with, an account or organisation that
// was closed. what is "account" or "organisation". Only who proved who they are
// is told.
func Closed(what string) *fault.Error {
	return fault.New(fault.Unauthenticated, strings.ToUpper(what)+"_CLOSED", "This %s was closed.", what)
}

// NoOrganisation is the refusal for an organisation that is not there, or not
// for this caller's eyes.
func NoOrganisation(id string) *fault.Error {
	return fault.New(fault.NotFound, "ORGANISATION_NOT_FOUND", "There is no organisation %s here.", id)
}

// NoAccount is the refusal for an account that is not there.
func NoAccount(id string) *fault.Error {
	return fault.New(fault.NotFound, "ACCOUNT_NOT_FOUND", "There is no account %s here.", id)
}

// NoAssignment is the refusal for an assignment that is not there, or not for
// this caller's eyes.
func NoAssignment(id string) *fault.Error {
	return fault.New(fault.NotFound, "ASSIGNMENT_NOT_FOUND", "There is no assignment %s of this vehicle here.", id)
}

// NoKey is the refusal for a key that is not there.
func NoKey(id string) *fault.Error {
	return fault.New(fault.NotFound, "KEY_NOT_FOUND", "There is no key %s here.", id)
}
