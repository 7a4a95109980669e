package main

import (
	"context"

	"halfshaft/services/console"
)

// jobSheetCommand has the plain question as its default: "jobsheet AM0147P".
type jobSheetCommand struct {
	Make   jobSheetMake   `cmd:"" default:"withargs" help:"The sheet for a visit: look at it, keep it, write it to a file."`
	List   jobSheetList   `cmd:"" help:"Sheets of a vehicle, or with '-' of all, the latest first."`
	Show   jobSheetShow   `cmd:"" help:"A sheet; or write its paper to a file."`
	Cancel jobSheetCancel `cmd:"" help:"Say that a sheet is not used."`
	Return jobSheetReturn `cmd:"" help:"Take in what came back on a sheet."`
	Strike jobSheetStrike `cmd:"" help:"Strike out all that came back on a sheet, as on that of another vehicle."`
}

type jobSheetMake struct {
	Serial string   `arg:"" help:"Serial, as spoken."`
	Visit  string   `help:"The day of the visit (YYYY-MM-DD); the next planned one when left out." placeholder:"DATE"`
	Items  []string `help:"What is to be done: T02, or of a campaign's remedy C-2026-02/C1; what is planned when left out." placeholder:"ITEM"`
	Keep   bool     `help:"Give it a number and keep it, so that it can come back."`
	PDF    string   `name:"pdf" help:"Keep it, and write it to this file." placeholder:"FILE" type:"path"`
	Paper  string   `help:"A4 or Letter." placeholder:"PAPER"`
}

// Run implements the command.
func (c *jobSheetMake) Run(ctx context.Context, g *globals) error {
	on, err := dateFlag("visit", c.Visit)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.MakeJobSheet(ctx, c.Serial, console.JobSheet{On: on, Items: c.Items, Keep: c.Keep, PDF: c.PDF, Paper: c.Paper})
	})
}

type jobSheetList struct {
	Serial string `arg:"" help:"Serial, as spoken, or '-' for all." default:"-"`
}

// Run implements the command.
func (c *jobSheetList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ListJobSheets(ctx, c.Serial) })
}

type jobSheetShow struct {
	Name  string `arg:"" help:"Name of the sheet: vehicles/AM0147P/jobSheets/4."`
	PDF   string `name:"pdf" help:"Write it to this file." placeholder:"FILE" type:"path"`
	Paper string `help:"A4 or Letter." placeholder:"PAPER"`
}

// Run implements the command.
func (c *jobSheetShow) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.ShowJobSheet(ctx, c.Name, c.PDF, c.Paper)
	})
}

type jobSheetCancel struct {
	Name string `arg:"" help:"Name of the sheet."`
}

// Run implements the command.
func (c *jobSheetCancel) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CancelJobSheet(ctx, c.Name) })
}

type jobSheetReturn struct {
	Name    string   `arg:"" help:"Name of the sheet."`
	File    string   `arg:"" optional:"" help:"What came back, as YAML." type:"path"`
	Line    []string `help:"A value: 3.1=0.12mm. May be repeated." sep:"none" placeholder:"LINE=VALUE"`
	Confirm []string `help:"Why a line is right though it is odd: 3.1=REASON, or reading=REASON. May be repeated." sep:"none" placeholder:"LINE=REASON"`
	Done    string   `help:"The day the work was done (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Reading string   `help:"What the odometer showed: 4120mi." placeholder:"READING"`
	By      string   `help:"Who did the work." placeholder:"WHO"`
	Note    string   `help:"What else was seen."`
	Check   bool     `help:"Only say what is odd about it."`
}

// Run implements the command.
func (c *jobSheetReturn) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("done", c.Done)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.ReturnJobSheet(ctx, c.Name, console.JobReturn{
			File: c.File, Lines: c.Line, Confirm: c.Confirm, On: on, Reading: c.Reading, DoneBy: c.By, Note: c.Note, Check: c.Check,
		})
	})
}

type jobSheetStrike struct {
	Name   string `arg:"" help:"Name of the sheet."`
	Reason string `help:"Why, without names." required:"" placeholder:"TEXT"`
}

// Run implements the command.
func (c *jobSheetStrike) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.StrikeJobSheet(ctx, c.Name, c.Reason) })
}
