package main

import (
	"context"
	"os"

	"halfshaft/services/console"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
)

type importCommand struct {
	Paths  []string `arg:"" help:"Files, or directories of files: XLSX, CSV, YAML." type:"existingpath"`
	DryRun bool     `help:"Only check and report."`
}

func (c *importCommand) Run(ctx context.Context, g *globals) error {
	clock, err := g.clock()
	if err != nil {
		return err
	}
	session, err := works.OpenNew(ctx, works.Target{
		Data: g.Data, Servers: g.Server, Key: g.Key, CA: g.CA, Clock: clock, Logger: g.logger(),
	})
	if err != nil {
		return err
	}
	defer session.Close()
	take := works.Import
	if g.JSON {
		take = works.ImportJSON
	}
	faultless, err := take(session.Context(ctx), session.Clients, vehicle.DateOf(clock()), c.Paths, c.DryRun, os.Stdout, os.Stderr)
	if err == nil && !faultless {
		return console.ErrRefused
	}
	return err
}

type exportCommand struct {
	Dir    string `arg:"" help:"Directory to write; made if absent, refused if not empty." type:"path"`
	Format string `help:"Format of the tables." default:"csv" enum:"csv,xlsx"`
}

func (c *exportCommand) Run(ctx context.Context, g *globals) error {
	session, err := g.open(ctx)
	if err != nil {
		return err
	}
	defer session.Close()
	return works.Export(session.Context(ctx), session.Clients, c.Dir, c.Format, os.Stdout, os.Stderr)
}

type demoCommand struct {
	serveFlags
	Desk string `help:"Address of the pages that staff and dealers' people sign in to." default:"127.0.0.1:7462"`
	Once bool   `help:"End after the tour."`
	Out  string `help:"Directory for the demo's data and mails; emptied of an earlier demo first." default:"halfshaft-demo" type:"path"`
}

func (c *demoCommand) Run(ctx context.Context, g *globals) error {
	return works.Demo(ctx, works.DemoConfig{
		Dir: c.Out, Listen: c.Listen, HTTP: c.HTTP, Desk: c.Desk, Reflection: c.Reflection, Once: c.Once,
		Out: os.Stdout, Logger: g.logger(),
	})
}

type snapshotCommand struct{}

func (c *snapshotCommand) Run(ctx context.Context, g *globals) error {
	return works.TakeSnapshot(ctx, g.Data, g.logger(), os.Stdout)
}

type restoreCommand struct {
	Snapshot string `arg:"" help:"The snapshot file." type:"existingfile"`
}

func (c *restoreCommand) Run(ctx context.Context, g *globals) error {
	return works.RestoreSnapshot(ctx, c.Snapshot, g.Data, g.logger(), os.Stdout)
}
