package main

import (
	"context"
	"fmt"

	"halfshaft/services/console"
	"halfshaft/services/works"
)

type privacyCommand struct {
	Inventory privacyInventory `cmd:"" help:"Which fields hold something personal, why, for how long, and whether a dealer sees them."`
	Due       privacyDue       `cmd:"" help:"What the next retention passes will remove, and why; nothing is removed."`
}

type privacyInventory struct{}

func (c *privacyInventory) Run(context.Context, *globals) error {
	_, err := fmt.Print(works.PersonalData())
	return err
}

type privacyDue struct{}

func (c *privacyDue) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.DueRetention(ctx) })
}
