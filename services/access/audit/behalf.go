package audit

import (
	"context"

	"halfshaft/services/access"
)

// Principal is for whom a call is made, where that comes out on the way only:
// somebody who shows a secret to a page, which calls in its own name.
type Principal struct {
	Actor      string
	Role       access.Role
	Credential string
	Party      string // as in a Line
	Network    string
}

// For puts the principal into a line that begins with who called for them.
func (p Principal) For(l Line) Line {
	if p.Actor == "" {
		return l
	}
	l.Through = l.Actor
	l.Actor, l.Role, l.Credential, l.Party, l.Network = p.Actor, p.Role, p.Credential, p.Party, p.Network
	return l
}

type behalfKey struct{}

// WithNaming gives a context in which a handler may say for whom it acts. name
// takes that in, and gives the context for what follows.
func WithNaming(ctx context.Context, name func(context.Context, Principal) context.Context) context.Context {
	return context.WithValue(ctx, behalfKey{}, name)
}

// OnBehalf says for whom a call is made: its line names them from now on. It
// must be said before the first effect. Where no audit is kept, it says nothing.
func OnBehalf(ctx context.Context, p Principal) context.Context {
	if name, ok := ctx.Value(behalfKey{}).(func(context.Context, Principal) context.Context); ok {
		return name(ctx, p)
	}
	return ctx
}
