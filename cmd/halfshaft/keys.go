package main

import (
	"context"
	"strings"
	"time"

	"halfshaft/services/console"
	"halfshaft/services/fault"
)

type keysCommand struct {
	List   keysList   `cmd:"" help:"List the keys, and when each was last used."`
	Create keysCreate `cmd:"" help:"Make a key; its secret is printed once."`
	Rotate keysRotate `cmd:"" help:"Make a key in the place of another, which stays good for a while longer; the secret is printed once."`
	Revoke keysRevoke `cmd:"" help:"End a key at once."`
}

type keysCreate struct {
	Role         string   `arg:"" optional:"" help:"owner, dealer, support, engineer, administrator or service; not for an account's key."`
	Bearer       string   `arg:"" optional:"" help:"Who the records and the audit are to name; not for an owner's or an account's key."`
	Title        string   `help:"What it is for: 'front desk', 'workshop tablet'." required:""`
	Person       string   `help:"For an owner: p0031." placeholder:"PERSON"`
	Organisation string   `help:"For a dealer: ferncombe." placeholder:"NAME"`
	Account      string   `help:"For somebody who has an account: ida. The key has its role and organisation, and ends with it." placeholder:"NAME"`
	Scope        []string `help:"Only for this service, or for reading from it: schedule, parts.read. May be repeated." placeholder:"SCOPE"`
	Lasts        string   `help:"How long it lasts: 365d, 8w, 12h. For ever when left out." placeholder:"TIME"`
}

// Run implements the command.
func (c *keysCreate) Run(ctx context.Context, g *globals) error {
	clock, err := g.clock()
	if err != nil {
		return err
	}
	ends := time.Time{}
	if c.Lasts != "" {
		lasts, err := howLong("lasts", c.Lasts)
		if err != nil {
			return err
		}
		if lasts == 0 {
			return fault.InvalidField("lasts", c.Lasts, "a time longer than nothing, as in 365d, 8w or 12h")
		}
		ends = clock().Add(lasts)
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.CreateKey(ctx, console.NewKey{
			Role: c.Role, Bearer: c.Bearer, Title: c.Title, Person: c.Person,
			Organisation: c.Organisation, Account: c.Account, Scopes: c.Scope, Ends: ends,
		})
	})
}

type keysList struct{}

// Run implements the command.
func (c *keysList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Keys(ctx) })
}

type keysRotate struct {
	Name    string `arg:"" help:"Name of the key: keys/ID."`
	Overlap string `help:"How long the older key stays good: 7d, 2w, 12h, at most 90d; 0h ends it at once." default:"7d" placeholder:"TIME"`
}

// Run implements the command.
func (c *keysRotate) Run(ctx context.Context, g *globals) error {
	overlap, err := howLong("overlap", c.Overlap)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.RotateKey(ctx, c.Name, overlap) })
}

// howLong reads "90d", "8w" or "12h". A minus is refused: what is to end in the
// past must not become what never ends.
func howLong(flag, text string) (time.Duration, error) {
	if days, err := span(text); err == nil && strings.ContainsAny(text, "dw") {
		return time.Duration(days) * 24 * time.Hour, nil
	}
	d, err := time.ParseDuration(text)
	if err != nil || d < 0 {
		return 0, fault.InvalidField(flag, text, "days, weeks or hours, as in 365d, 8w or 12h")
	}
	return d, nil
}

type keysRevoke struct {
	Name string `arg:"" help:"Name of the key: keys/ID."`
}

// Run implements the command.
func (c *keysRevoke) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.RevokeKey(ctx, c.Name) })
}
