// Package signin decides about signing in: when a session ends, how long who
// guesses must wait, which passwords are taken, and the form of the secrets. It
// knows no clock, no store and no cipher.
package signin

import "halfshaft/services/fault"

// Refused is what whoever is not let in is told, whatever was wrong: whether an
// account is there, is closed or has a password can not be learnt by trying.
func Refused() *fault.Error {
	return fault.New(fault.Unauthenticated, "SIGN_IN_REFUSED", "The name, the password or the code is wrong.")
}

// SessionOver is the refusal of a secret that is no session's, or no longer.
func SessionOver() *fault.Error {
	return fault.New(fault.Unauthenticated, "SESSION_OVER", "This session is over. Sign in again.")
}

// InvitationOver is the refusal of a secret that is no invitation's, or no
// longer.
func InvitationOver() *fault.Error {
	return fault.New(fault.Unauthenticated, "INVITATION_OVER",
		"This invitation was used, is too old, or was replaced by a later one. Ask for another.")
}

// CeremonyOver is the refusal of a second step that comes too late, twice, or
// from another browser.
func CeremonyOver() *fault.Error {
	return fault.New(fault.FailedPrecondition, "CEREMONY_OVER", "That took too long or was done before. Begin again.")
}
