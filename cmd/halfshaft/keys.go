package main

import (
	"context"
	"time"

	"halfshaft/services/console"
)

type keysCommand struct {
	List   keysList   `cmd:"" help:"List the keys, and when each was last used."`
	Create keysCreate `cmd:"" help:"Make a key; its secret is printed once."`
	Rotate keysRotate `cmd:"" help:"Make a key in the place of another, which stays good for a while longer; the secret is printed once."`
	Revoke keysRevoke `cmd:"" help:"End a key at once."`
}

type keysCreate struct {
	Role         string        `arg:"" optional:"" help:"owner, dealer, support, engineer, administrator or service; not for an account's key."`
	Bearer       string        `arg:"" optional:"" help:"Who the records and the audit are to name; not for an owner's or an account's key."`
	Title        string        `help:"What it is for: 'front desk', 'workshop tablet'." required:""`
	Person       string        `help:"For an owner: p0031." placeholder:"PERSON"`
	Organisation string        `help:"For a dealer: ferncombe." placeholder:"NAME"`
	Account      string        `help:"For somebody who has an account: ida. The key has its role and organisation, and ends with it." placeholder:"NAME"`
	Scope        []string      `help:"Only for this service, or for reading from it: schedule, parts.read. May be repeated." placeholder:"SCOPE"`
	Lasts        time.Duration `help:"How long it lasts, in hours: 8760h. For ever when left out."`
}

// Run implements the command.
func (c *keysCreate) Run(ctx context.Context, g *globals) error {
	clock, err := g.clock()
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		key := console.NewKey{
			Role: c.Role, Bearer: c.Bearer, Title: c.Title, Person: c.Person,
			Organisation: c.Organisation, Account: c.Account, Scopes: c.Scope,
		}
		if c.Lasts > 0 {
			key.Ends = clock().Add(c.Lasts)
		}
		return k.CreateKey(ctx, key)
	})
}

type keysList struct{}

// Run implements the command.
func (c *keysList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Keys(ctx) })
}

type keysRotate struct {
	Name    string        `arg:"" help:"Name of the key: keys/ID."`
	Overlap time.Duration `help:"How long the older key stays good, in hours, at most 2160h; 0h ends it at once." default:"168h"`
}

// Run implements the command.
func (c *keysRotate) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.RotateKey(ctx, c.Name, c.Overlap) })
}

type keysRevoke struct {
	Name string `arg:"" help:"Name of the key: keys/ID."`
}

// Run implements the command.
func (c *keysRevoke) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.RevokeKey(ctx, c.Name) })
}
