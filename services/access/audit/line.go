// Package audit is the pure part of the audit: its lines, the chain of hashes
// they stand in, and the proof of that chain.
package audit

import (
	"time"

	"halfshaft/services/access"
)

// Outcome is what came of a call. Its numbers are those of the API's
// enumeration.
type Outcome uint8

// The outcomes.
const (
	Unsaid Outcome = iota
	Changed
	Unchanged
	Read
	Refused
	Failed
)

// Line is what the audit says of one call. It never holds personal data but
// the names that staff go by, the identifiers of people, and a network.
type Line struct {
	Time        time.Time // UTC
	Actor       string    // access.Caller.Bearer
	Role        access.Role
	Credential  string // access.Caller.Credential
	Party       string // "people/…" for an owner, "organisations/…" for a dealer
	Through     string // the service that called for them; empty for themselves
	Method      string // full name
	Objects     []string
	Fields      []string // of a change: what of the record became another; names, no values
	Outcome     Outcome
	ErrorReason string
	Because     string
	Network     string // "192.0.2.17" or "2001:db8:1:2::/64"; empty for what came over none
	Count       int    // how many like it this line stands for; 0 is one
}
