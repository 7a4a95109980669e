package main

import (
	"context"

	"halfshaft/services/console"
)

type tieCommand struct {
	Add     tieAdd     `cmd:"" help:"Say that somebody is owner, caretaker, payer or executor of a vehicle."`
	End     tieEnd     `cmd:"" help:"Say that somebody is no longer what they were to a vehicle."`
	Notices tieNotices `cmd:"" help:"Say whether service notices about a vehicle go to somebody."`
}

type tieAdd struct {
	Serial  string `arg:"" help:"Serial, as spoken."`
	Person  string `arg:"" help:"Identifier: p0031."`
	Role    string `arg:"" help:"owner, caretaker, payer or executor." enum:"owner,caretaker,payer,executor"`
	Since   string `help:"The first day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Notices bool   `help:"Service notices go to them." default:"true" negatable:""`
	Joint   bool   `help:"A second owner beside the present one is meant."`
}

func (c *tieAdd) Run(ctx context.Context, g *globals) error {
	since, err := dateFlag("since", c.Since)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.AddTie(ctx, c.Serial, c.Person, c.Role, since, c.Notices, c.Joint)
	})
}

type tieEnd struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	Person string `arg:"" help:"Identifier: p0031."`
	On     string `help:"The day from which it no longer counts (YYYY-MM-DD); today when left out." placeholder:"DATE"`
}

func (c *tieEnd) Run(ctx context.Context, g *globals) error {
	on, err := dateFlag("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.EndTie(ctx, c.Serial, c.Person, on) })
}

type tieNotices struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	Person string `arg:"" help:"Identifier: p0031."`
	Switch string `arg:"" help:"on or off." enum:"on,off"`
}

func (c *tieNotices) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.SwitchNotices(ctx, c.Serial, c.Person, c.Switch == "on")
	})
}
