package main

import (
	"context"
	"strings"

	"halfshaft/services/console"
)

type fluidsCommand struct {
	Serial   string   `arg:"" help:"Serial, as spoken."`
	Position []string `arg:"" optional:"" help:"Only this position and what is on it, in words."`
	On       string   `help:"On this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *fluidsCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Fluids(ctx, c.Serial, strings.Join(c.Position, " "), on)
	})
}

type settingsCommand struct {
	Serial   string   `arg:"" help:"Serial, as spoken."`
	Position []string `arg:"" optional:"" help:"Only this position and what is on it, in words."`
	On       string   `help:"On this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *settingsCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Settings(ctx, c.Serial, strings.Join(c.Position, " "), on)
	})
}

type searchCommand struct {
	Words   []string `arg:"" help:"A part number, with or without separators, or words."`
	Vehicle string   `help:"Only what fits this vehicle." placeholder:"SERIAL"`
	On      string   `help:"That fits on this date (YYYY-MM-DD)." placeholder:"DATE"`
	Most    int32    `help:"At most this many." default:"20"`
}

func (c *searchCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Search(ctx, strings.Join(c.Words, " "), c.Vehicle, on, c.Most)
	})
}

type checkCatalogueCommand struct{}

func (c *checkCatalogueCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CheckCatalogue(ctx) })
}
