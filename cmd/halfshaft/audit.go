package main

import (
	"context"
	"errors"
	"os"

	"halfshaft/services/console"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
)

type auditCommand struct {
	List       auditList       `cmd:"" help:"Print lines of the audit: what was done, read and refused, by whom."`
	Verify     auditVerify     `cmd:"" help:"Prove the chain of the audit; exit status 1 when a line was changed, put in, taken out or moved."`
	Export     auditExport     `cmd:"" help:"Write the whole audit to a file, to be kept elsewhere and checked there."`
	Checkpoint auditCheckpoint `cmd:"" help:"Print where the chain has come to, to be kept apart from the store."`
}

type auditList struct {
	After   int64    `help:"Only lines after this number." placeholder:"NUMBER"`
	Since   string   `help:"Only lines of this day (YYYY-MM-DD, UTC) or later." placeholder:"DATE"`
	Until   string   `help:"Only lines of this day (YYYY-MM-DD, UTC) or before." placeholder:"DATE"`
	Actor   string   `help:"Only what was done by this one, as lines name them." placeholder:"NAME"`
	Object  string   `help:"Only what is about this and what is below it: a serial as spoken, people/p0031, keys/ID." placeholder:"NAME"`
	Outcome []string `help:"Only changed, unchanged, read, refused or failed. May be repeated." placeholder:"OUTCOME"`
}

func (c *auditList) Run(ctx context.Context, g *globals) error {
	since, err := dateFlag("since", c.Since)
	if err != nil {
		return err
	}
	until, err := dateFlag("until", c.Until)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.AuditLines(ctx, console.AuditFilter{
			After: c.After, Since: since, Until: until, Actor: c.Actor, Object: c.Object, Outcomes: c.Outcome,
		})
	})
}

type auditVerify struct {
	Checkpoint []string `help:"File with checkpoints taken before, as 'halfshaft audit checkpoint' prints them. May be repeated." type:"existingfile" placeholder:"FILE"`
	File       string   `help:"Prove this export instead of what is in the store; no service is asked." type:"existingfile" placeholder:"FILE"`
}

func (c *auditVerify) Run(ctx context.Context, g *globals) error {
	checkpoints, err := works.ReadCheckpoints(c.Checkpoint)
	if err != nil {
		return err
	}
	if c.File == "" {
		return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CheckAudit(ctx, checkpoints) })
	}
	clock, err := g.clock()
	if err != nil {
		return err
	}
	r, err := works.VerifyAuditFile(c.File, checkpoints, vehicle.DateOf(clock().UTC()))
	if err != nil {
		return err
	}
	return (&console.Console{Out: os.Stdout, JSON: g.JSON}).PrintAuditCheck(r, len(checkpoints))
}

type auditExport struct {
	File string `arg:"" help:"File to write; it must not be there yet."`
}

func (c *auditExport) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		// Who did what is nobody's business but the administrators'.
		file, err := os.OpenFile(c.File, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
		if err != nil {
			return err
		}
		err = k.ExportAudit(ctx, file, c.File)
		if err == nil {
			err = file.Sync()
		}
		if err = errors.Join(err, file.Close()); err != nil {
			return errors.Join(err, os.Remove(c.File))
		}
		return nil
	})
}

type auditCheckpoint struct{}

func (c *auditCheckpoint) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.AuditCheckpoint(ctx) })
}

type historyCommand struct {
	Name string `arg:"" help:"A serial as spoken, or a name: people/p0031, vehicles/AM0147P/readings/ID, keys/ID."`
}

func (c *historyCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.History(ctx, c.Name) })
}
