package main

import (
	"context"
	"os"

	"halfshaft/services/console"
)

type coverCommand struct {
	Serial   string `arg:"" help:"Serial, as spoken."`
	Position string `arg:"" optional:"" help:"Position that failed: front-axle-differential. Without one, the vehicle and all that has a term of its own."`
	On       string `help:"On this day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Distance string `help:"At this true distance, '1200 mi'; from the readings when left out." placeholder:"DISTANCE"`
}

// Run implements the command.
func (c *coverCommand) Run(ctx context.Context, g *globals) error {
	on, err := dateFlag("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Cover(ctx, c.Serial, c.Position, on, c.Distance)
	})
}

type warrantyDocumentCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
}

// Run implements the command.
func (c *warrantyDocumentCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.WarrantyDocument(ctx, c.Serial) })
}

type warrantyTermsCommand struct {
	Add  warrantyTermsAdd  `cmd:"" help:"Enter a version of a term from a YAML file. It never changes afterwards."`
	List warrantyTermsList `cmd:"" help:"Every version of every term."`
}

type warrantyTermsAdd struct {
	File string `arg:"" help:"YAML with the fields of a term: name, title, giver, start, months, distance, effective_date, …" type:"existingfile"`
}

// Run implements the command.
func (c *warrantyTermsAdd) Run(ctx context.Context, g *globals) error {
	raw, err := os.ReadFile(c.File)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.AddWarrantyTerm(ctx, raw) })
}

type warrantyTermsList struct{}

// Run implements the command.
func (c *warrantyTermsList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.WarrantyTerms(ctx) })
}

type outOfServiceCommand struct {
	Record outOfServiceRecord `cmd:"" help:"Record that a vehicle cannot be used for a fault."`
	End    outOfServiceEnd    `cmd:"" help:"Say on which day it could be used again, and whether the time counts."`
	List   outOfServiceList   `cmd:"" help:"When a vehicle could not be used."`
}

type outOfServiceRecord struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	Reason string `help:"Why, without names: 'waiting for a transfer case'." required:"" placeholder:"WORDS"`
	From   string `help:"The first day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Until  string `help:"The last day; left out while it lasts." placeholder:"DATE"`
	Claim  string `help:"The claim it belongs to." placeholder:"NAME"`
	Counts bool   `help:"The fault was covered: the days are added to the term."`
}

// Run implements the command.
func (c *outOfServiceRecord) Run(ctx context.Context, g *globals) error {
	from, err := dateFlag("from", c.From)
	if err != nil {
		return err
	}
	until, err := dateFlag("until", c.Until)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordOutOfService(ctx, console.OutOfService{Serial: c.Serial, Start: from, End: until, Reason: c.Reason, Claim: c.Claim, Counts: c.Counts})
	})
}

type outOfServiceEnd struct {
	Name   string `arg:"" help:"Name of the time, as 'halfshaft out-of-service list' prints it."`
	Until  string `help:"The last day (YYYY-MM-DD)." required:"" placeholder:"DATE"`
	Reason string `help:"Why, where it is to read otherwise." placeholder:"WORDS"`
	Counts bool   `help:"The fault was covered: the days are added to the term."`
}

// Run implements the command.
func (c *outOfServiceEnd) Run(ctx context.Context, g *globals) error {
	until, err := dateFlag("until", c.Until)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.EndOutOfService(ctx, console.OutOfService{Name: c.Name, End: until, Reason: c.Reason, Counts: c.Counts})
	})
}

type outOfServiceList struct {
	Serial string `arg:"" help:"Serial, as spoken."`
}

// Run implements the command.
func (c *outOfServiceList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.OutOfServiceSpans(ctx, c.Serial) })
}
