package main

import (
	"context"

	"halfshaft/services/console"
)

type whereUsedCommand struct {
	Part              string `help:"A part, with or without separators." placeholder:"NUMBER"`
	Lot               string `help:"A lot, as marked." placeholder:"LOT"`
	Serial            string `help:"The serial of a component, as stamped." placeholder:"SERIAL"`
	WithSupersessions bool   `help:"Also what took the part's place, and what it took the place of."`
	On                string `help:"Who has it on this day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	From              string `help:"Only uses of the days from this one on (YYYY-MM-DD)." placeholder:"DATE"`
	Until             string `help:"Only uses of the days until this one (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *whereUsedCommand) Run(ctx context.Context, g *globals) error {
	q := console.UsesQuestion{Part: c.Part, Lot: c.Lot, Serial: c.Serial, WithSupersessions: c.WithSupersessions}
	var err error
	if q.On, err = g.dateOr("on", c.On); err != nil {
		return err
	}
	if q.From, err = dateFlag("from", c.From); err != nil {
		return err
	}
	if q.Until, err = dateFlag("until", c.Until); err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.WhereUsed(ctx, q) })
}
