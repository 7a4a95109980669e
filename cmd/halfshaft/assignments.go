package main

import (
	"context"

	"halfshaft/services/console"
)

type assignmentsCommand struct {
	List   assignmentsList   `cmd:"" help:"Which organisation may see a vehicle, until when and by what right."`
	Create assignmentsCreate `cmd:"" help:"Let an organisation see a vehicle, and record work on it."`
	End    assignmentsEnd    `cmd:"" help:"End that before its last day."`
}

type assignmentsList struct {
	Serial       string `arg:"" help:"Serial, as spoken, or '-' for every vehicle." default:"-"`
	Organisation string `help:"Only of this organisation: ferncombe." placeholder:"NAME"`
	Open         bool   `help:"Only those that are open now."`
}

// Run implements the command.
func (c *assignmentsList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Assignments(ctx, c.Serial, c.Organisation, c.Open)
	})
}

type assignmentsCreate struct {
	Serial       string `arg:"" help:"Serial, as spoken."`
	Organisation string `arg:"" help:"Who is to see it: ferncombe."`
	Ground       string `help:"By what right: consent, booking or works. Of an owner it is their consent." placeholder:"GROUND"`
	ConsentOf    string `help:"For a consent: who gave it: p0031." placeholder:"PERSON"`
	For          string `help:"What it is for, without names: '24-month service'." required:"" placeholder:"WORDS"`
	From         string `help:"The first day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Until        string `help:"The last day (YYYY-MM-DD); 30 days after the first for a booking, 366 for others." placeholder:"DATE"`
}

// Run implements the command.
func (c *assignmentsCreate) Run(ctx context.Context, g *globals) error {
	from, err := dateFlag("from", c.From)
	if err != nil {
		return err
	}
	until, err := dateFlag("until", c.Until)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.CreateAssignment(ctx, console.NewAssignment{
			Serial: c.Serial, Organisation: c.Organisation, Ground: c.Ground, ConsentOf: c.ConsentOf,
			Start: from, Last: until, Purpose: c.For,
		})
	})
}

type assignmentsEnd struct {
	Name     string `arg:"" help:"Name of the assignment, as 'halfshaft assignments list' prints it."`
	Complete bool   `help:"The work is complete; otherwise it is taken back."`
	Reason   string `help:"Why, without names." placeholder:"WORDS"`
}

// Run implements the command.
func (c *assignmentsEnd) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.EndAssignment(ctx, c.Name, c.Complete, c.Reason)
	})
}
