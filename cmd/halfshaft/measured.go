package main

import (
	"context"
	"strings"

	"halfshaft/services/console"
)

type measuredCommand struct {
	Serial         string   `arg:"" help:"Serial, as spoken."`
	Position       []string `arg:"" optional:"" help:"Where, or the beginning of it: hub. All quantities, in a line each, when left out."`
	Characteristic string   `help:"What was measured: end-float." placeholder:"NAME"`
	On             string   `help:"By this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *measuredCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	which := console.Quantity{Position: strings.Join(c.Position, " "), Characteristic: c.Characteristic}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Measured(ctx, c.Serial, which, on) })
}

type judgeCommand struct {
	Serial         string   `arg:"" help:"Serial, as spoken."`
	Value          []string `arg:"" help:"The value with its unit, and words for what was measured, in any order: 0.18 mm end float output shaft."`
	Characteristic string   `help:"What was measured: end-float." placeholder:"NAME"`
	Item           string   `help:"For which item of the programme: T02." placeholder:"ITEM"`
	On             string   `help:"Day it was measured (YYYY-MM-DD); today when left out." placeholder:"DATE"`
}

func (c *judgeCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	m := console.Measurement{Words: c.Value, Characteristic: c.Characteristic, Item: c.Item, On: on}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Judge(ctx, c.Serial, m) })
}
