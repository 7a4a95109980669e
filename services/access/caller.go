package access

import "context"

// Caller is the one on whose behalf a method runs: the originating person,
// not the service in between.
type Caller struct {
	Role         Role
	Bearer       string // who the records and the audit name: "front desk", "jobs"
	Person       string // "people/{person}" for an owner; otherwise empty
	Organisation string // "organisations/{organisation}" for a dealer; otherwise empty
	Account      string // "accounts/{account}" of who signed in or holds the key; empty for programs
	Credential   string // how they proved it: "keys/…", "sessions/…", "link", "socket", "process"
}

// Staff reports whether the caller works for the works: support, engineer or
// administrator. Candidates near a misheard serial, for example, are for them
// only.
func (c Caller) Staff() bool {
	return c.Role == Support || c.Role == Engineer || c.Role == Administrator
}

// String names the caller for logs: role and bearer, never the person.
func (c Caller) String() string {
	if c.Bearer == "" {
		return c.Role.String()
	}
	return c.Role.String() + " " + c.Bearer
}

type callerKey struct{}

// NewContext gives a context that carries the caller.
func NewContext(ctx context.Context, c Caller) context.Context {
	return context.WithValue(ctx, callerKey{}, c)
}

// CallerFrom gives the caller the context carries; without one, Nobody.
func CallerFrom(ctx context.Context) Caller {
	c, _ := ctx.Value(callerKey{}).(Caller)
	return c
}
