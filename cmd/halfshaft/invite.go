package main

import (
	"context"

	"halfshaft/services/console"
)

// accountsInvite invites somebody who has an account.
type accountsInvite struct {
	Name string `arg:"" help:"Name of the account: ida."`
}

// Run implements the command.
func (c *accountsInvite) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Invite(ctx, c.Name) })
}

// accountsCommand sees to accounts.
type accountsCommand struct {
	accountsKept
	Invite accountsInvite `cmd:"" help:"Invite somebody who has an account: prints the address at which they set up how they sign in."`
}
