package main

import (
	"context"
	"strings"

	"halfshaft/services/console"
	"halfshaft/services/fault"
)

type shimsCommand struct {
	Serial   string   `arg:"" help:"Serial, as spoken."`
	Position string   `arg:"" help:"Where: output-shaft-bearing."`
	Measured []string `arg:"" help:"What was measured with the fitted pack: 0.15mm, or minus 0.04mm for preload, which is a negative float."`

	Pack   string `help:"How thick the fitted pack is; as it is on record when left out, if nothing is recorded with it." placeholder:"0.76mm"`
	Fitted string `help:"Or its shims." placeholder:"'0.51 mm x1; 0.25 mm x1'"`
	Reuse  bool   `help:"The fitted shims may be fitted again."`

	Characteristic string `help:"What is set, where several things are: end-float." placeholder:"NAME"`
	Subject        string `help:"Of what." placeholder:"NAME"`
	Window         string `help:"Another window than the setting's." placeholder:"'0.05..0.10 mm'"`
	Target         string `help:"Another target." placeholder:"'0.08 mm'"`
	Rule           string `help:"Which pack is best: of the fewest shims, then nearest to the target; or nearest, then fewest." placeholder:"fewest|nearest"`
	Stock          string `help:"The shims at hand, with how many; without a number there are always enough." placeholder:"'0.08 mm x4; 0.13 mm'"`
	Largest        int    `help:"The most shims of a pack." placeholder:"N"`

	Record        string `help:"Record the pack in a service entry, for this item." placeholder:"ITEM"`
	By            string `help:"Who did the work." placeholder:"NAME"`
	Choose        int    `help:"Which of several packs was fitted." placeholder:"N"`
	MeasuredAfter string `help:"What was measured with the new pack." placeholder:"0.06mm"`
	Reading       string `help:"What the dial showed." placeholder:"VALUE"`
	Note          string `help:"Words about the work." placeholder:"TEXT"`
	Date          string `name:"on" help:"Day of the work (YYYY-MM-DD); today when left out." placeholder:"DATE"`
}

func (c *shimsCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.Date)
	if err != nil {
		return err
	}
	q := console.ShimQuestion{
		Position: c.Position, Characteristic: c.Characteristic, Subject: c.Subject, Measured: strings.Join(c.Measured, " "),
		Pack: c.Pack, Fitted: c.Fitted, Reuse: c.Reuse, Window: c.Window, Target: c.Target, Rule: c.Rule, Stock: c.Stock,
		Largest: c.Largest, On: on,
	}
	if c.Record != "" {
		q.Record = &console.ShimRecord{
			Item: c.Record, DoneBy: c.By, Choose: c.Choose, After: c.MeasuredAfter, On: on, Reading: c.Reading, Note: c.Note,
		}
	} else if c.By+c.MeasuredAfter+c.Reading+c.Note != "" || c.Choose != 0 {
		return fault.InvalidField("record", "", "the item of the programme to record the work for: --record T02")
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Shims(ctx, c.Serial, q) })
}
