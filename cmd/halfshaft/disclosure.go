package main

import (
	"context"

	"halfshaft/services/console"
)

type disclosureCommand struct {
	Serial    string `arg:"" help:"Serial, as spoken."`
	On        string `help:"Day of the transfer (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	ModelYear int    `help:"Model year on the title; without it, the donor's year and that of the rebuild are both looked at." placeholder:"YEAR"`
}

func (c *disclosureCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Disclosure(ctx, c.Serial, on, c.ModelYear)
	})
}

type odometerNoticeCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	On     string `help:"By this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *odometerNoticeCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.OdometerNotice(ctx, c.Serial, on) })
}
