package main

import (
	"context"
	"os"

	"halfshaft/services/console"
)

type claimCommand struct {
	Create    claimCreate    `cmd:"" help:"Begin a claim, from a YAML file, flags or both."`
	Update    claimUpdate    `cmd:"" help:"Change what a draft says, or a claim about which something was asked."`
	Show      claimShow      `cmd:"" help:"Everything about a claim."`
	List      claimList      `cmd:"" help:"Claims of a vehicle, or with '-' of all."`
	Submit    claimSubmit    `cmd:"" help:"Hand a draft in, or answer what was asked."`
	Ask       claimAsk       `cmd:"" help:"Ask who claims for something that is missing."`
	Authorise claimAuthorise `cmd:"" help:"Let work begin before the decision, up to an amount."`
	Decide    claimDecide    `cmd:"" help:"Decide a claim, or as somebody else its appeal."`
	Appeal    claimAppeal    `cmd:"" help:"Ask that a decision be looked at again."`
	Recovery  claimRecovery  `cmd:"" help:"Record what a supplier was asked for and gave back."`
	Close     claimClose     `cmd:"" help:"Say that a claim is done with."`
	Withdraw  claimWithdraw  `cmd:"" help:"Take a claim back that is not decided, or an appeal."`
	Sums      claimSums      `cmd:"" help:"What claims came to, by vehicle, position, part, lot, supplier or quarter."`
}

// claimSaid is what a claim says.
type claimSaid struct {
	File         string   `help:"YAML with the fields of a claim; flags go before it." type:"existingfile" placeholder:"FILE"`
	Position     string   `help:"The position that failed." placeholder:"POSITION"`
	Failed       string   `help:"The day on which it failed or was found (YYYY-MM-DD)." placeholder:"DATE"`
	Reading      string   `help:"What the odometer showed: '1200 mi'." placeholder:"DISTANCE"`
	Symptom      string   `help:"What was noticed, without names." placeholder:"WORDS"`
	Cause        string   `help:"What caused it." placeholder:"WORDS"`
	Remedy       string   `help:"What was done or is to be done." placeholder:"WORDS"`
	Part         []string `help:"A part: 'AP-1110 x2 at 120.00'. May be repeated." placeholder:"PART" sep:"none"`
	Labour       []string `help:"Work: 'gearbox out and in, 300 minutes at 60.00', or '2.5 hours', the rate of an hour. May be repeated." placeholder:"WORK" sep:"none"`
	Cost         []string `help:"Another cost: 'carriage at 15.00'. May be repeated." placeholder:"COST" sep:"none"`
	Currency     string   `help:"Currency of the amounts: GBP." placeholder:"CODE"`
	Exclusion    []string `help:"An exclusion that the examination found: wear. May be repeated." placeholder:"NAME"`
	ServiceEntry string   `help:"The service entry of the repair." placeholder:"NAME"`
	Organisation string   `help:"Who does the work; the works when left out." placeholder:"NAME"`
}

// read gives the file and what was typed.
func (c *claimSaid) read() (raw []byte, typed console.ClaimTyped, err error) {
	if c.File != "" {
		if raw, err = os.ReadFile(c.File); err != nil {
			return nil, typed, err
		}
	}
	failed, err := dateFlag("failed", c.Failed)
	return raw, console.ClaimTyped{
		Position: c.Position, Failed: failed, Reading: c.Reading, Symptom: c.Symptom, Cause: c.Cause, Remedy: c.Remedy, Parts: c.Part, Labour: c.Labour,
		Other: c.Cost, Currency: c.Currency, Exclusions: c.Exclusion, ServiceEntry: c.ServiceEntry, Organisation: c.Organisation,
	}, err
}

type claimCreate struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	claimSaid
}

// Run implements the command.
func (c *claimCreate) Run(ctx context.Context, g *globals) error {
	raw, typed, err := c.read()
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CreateClaim(ctx, c.Serial, raw, typed) })
}

type claimUpdate struct {
	claimName
	claimSaid
}

// Run implements the command.
func (c *claimUpdate) Run(ctx context.Context, g *globals) error {
	raw, typed, err := c.read()
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.UpdateClaim(ctx, c.Name, raw, typed) })
}

// claimName is which claim.
type claimName struct {
	Name string `arg:"" help:"Name of the claim, as 'halfshaft claim list' prints it."`
}

type claimShow struct{ claimName }

// Run implements the command.
func (c *claimShow) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Claim(ctx, c.Name) })
}

type claimList struct {
	Serial string `arg:"" help:"Serial, as spoken, or '-' for every vehicle." default:"-"`
	State  string `help:"Only those that stand there: draft, submitted, asked, accepted, declined, appealed, closed, withdrawn." placeholder:"STATE"`
}

// Run implements the command.
func (c *claimList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Claims(ctx, c.Serial, c.State) })
}

// moved does one of the moves that take no more than words.
func (c *claimName) moved(ctx context.Context, g *globals, move, text string) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.MoveClaim(ctx, c.Name, move, text) })
}

type claimSubmit struct {
	claimName
	Text string `help:"What is said to it, without names." placeholder:"WORDS"`
}

// Run implements the command.
func (c *claimSubmit) Run(ctx context.Context, g *globals) error {
	return c.moved(ctx, g, "submit", c.Text)
}

type claimAsk struct {
	claimName
	Text string `arg:"" help:"The question."`
}

// Run implements the command.
func (c *claimAsk) Run(ctx context.Context, g *globals) error { return c.moved(ctx, g, "ask", c.Text) }

type claimAppeal struct {
	claimName
	Text string `arg:"" help:"Why, without names."`
}

// Run implements the command.
func (c *claimAppeal) Run(ctx context.Context, g *globals) error {
	return c.moved(ctx, g, "appeal", c.Text)
}

type claimClose struct {
	claimName
	Text string `help:"How: 'credited with the February account'." placeholder:"WORDS"`
}

// Run implements the command.
func (c *claimClose) Run(ctx context.Context, g *globals) error {
	return c.moved(ctx, g, "close", c.Text)
}

type claimWithdraw struct {
	claimName
	Text string `help:"Why, without names." placeholder:"WORDS"`
}

// Run implements the command.
func (c *claimWithdraw) Run(ctx context.Context, g *globals) error {
	return c.moved(ctx, g, "withdraw", c.Text)
}

type claimAuthorise struct {
	claimName
	Limit string `arg:"" help:"At most this: 250.00."`
	Text  string `arg:"" help:"For what."`
}

// Run implements the command.
func (c *claimAuthorise) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.AuthoriseClaim(ctx, c.Name, c.Limit, c.Text)
	})
}

type claimDecide struct {
	claimName
	Outcome   string `arg:"" help:"accepted, partly, goodwill or declined."`
	Reason    string `arg:"" help:"Why, for the customer."`
	Parts     string `help:"Paid for parts; with accepted all of it." placeholder:"AMOUNT"`
	Labour    string `help:"Paid for labour." placeholder:"AMOUNT"`
	Other     string `help:"Paid for other costs." placeholder:"AMOUNT"`
	Exclusion string `help:"The exclusion it rests on." placeholder:"NAME"`
}

// Run implements the command.
func (c *claimDecide) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.DecideClaim(ctx, c.Name, console.Decision{Outcome: c.Outcome, Parts: c.Parts, Labour: c.Labour, Other: c.Other, Reason: c.Reason, Exclusion: c.Exclusion})
	})
}

type claimRecovery struct {
	claimName
	State    string `arg:"" help:"asked, agreed, received or refused."`
	Supplier string `help:"Who; needed at first." placeholder:"NAME"`
	Term     string `help:"The supplier's term it rests on." placeholder:"NAME"`
	Asked    string `help:"What was asked." placeholder:"AMOUNT"`
	Received string `help:"What was received, altogether." placeholder:"AMOUNT"`
	Text     string `help:"The supplier's reference, or why it was refused." placeholder:"WORDS"`
}

// Run implements the command.
func (c *claimRecovery) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordRecovery(ctx, c.Name, console.Recovery{State: c.State, Supplier: c.Supplier, Term: c.Term, Asked: c.Asked, Received: c.Received, Text: c.Text})
	})
}

type claimSums struct {
	By   string `arg:"" help:"vehicle, position, part, lot, supplier or quarter." default:"quarter"`
	From string `help:"Failures from this day (YYYY-MM-DD)." placeholder:"DATE"`
	To   string `help:"Failures until this day." placeholder:"DATE"`
}

// Run implements the command.
func (c *claimSums) Run(ctx context.Context, g *globals) error {
	from, err := dateFlag("from", c.From)
	if err != nil {
		return err
	}
	to, err := dateFlag("to", c.To)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ClaimSums(ctx, c.By, from, to) })
}
