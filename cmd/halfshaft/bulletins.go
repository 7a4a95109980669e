package main

import (
	"context"

	"halfshaft/services/console"
)

type bulletinCommand struct {
	Add      bulletinAdd      `cmd:"" help:"Record a draft from a YAML file: a new bulletin, its next version, or a change of the open draft."`
	List     bulletinList     `cmd:"" help:"All versions of all bulletins."`
	Show     bulletinShow     `cmd:"" help:"One version."`
	Preview  bulletinPreview  `cmd:"" help:"Which vehicles it is for and nearly is for, each with why."`
	Issue    bulletinIssue    `cmd:"" help:"Issue a draft; for a campaign each vehicle of the set comes on its list."`
	Withdraw bulletinWithdraw `cmd:"" help:"Take an issued bulletin back."`
}

type bulletinAdd struct {
	File string `arg:"" help:"YAML file with the fields of a bulletin." type:"existingfile"`
}

func (c *bulletinAdd) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.AddBulletin(ctx, c.File) })
}

type bulletinList struct{}

func (c *bulletinList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ListBulletins(ctx) })
}

type bulletinShow struct {
	Bulletin string `arg:"" help:"Identifier: C-2026-02 for the version that holds, C-2026-02/2 for the second."`
}

func (c *bulletinShow) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ShowBulletin(ctx, c.Bulletin) })
}

type bulletinPreview struct {
	Bulletin string `arg:"" help:"Identifier: C-2026-02, or C-2026-02/2 for a version."`
}

func (c *bulletinPreview) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.PreviewBulletin(ctx, c.Bulletin) })
}

type bulletinIssue struct {
	Bulletin string `arg:"" help:"Identifier: C-2026-02 for its draft."`
}

func (c *bulletinIssue) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.IssueBulletin(ctx, c.Bulletin) })
}

type bulletinWithdraw struct {
	Bulletin string `arg:"" help:"Identifier: C-2026-02."`
	Reason   string `help:"Why." required:""`
	By       string `help:"The bulletin that takes its place." placeholder:"BULLETIN"`
}

func (c *bulletinWithdraw) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.WithdrawBulletin(ctx, c.Bulletin, c.Reason, c.By)
	})
}

type campaignCommand struct {
	List    campaignList    `cmd:"" help:"Where a vehicle stands in campaigns, or all vehicles."`
	Record  campaignRecord  `cmd:"" help:"Record what happened to a vehicle of a campaign."`
	Report  campaignReport  `cmd:"" help:"Where a campaign stands today, or at the end of a quarter."`
	Missing campaignMissing `cmd:"" help:"Every vehicle of a campaign that is not settled."`
	Refresh campaignRefresh `cmd:"" help:"Look at all sets now: who comes on a list."`
}

type campaignList struct {
	Serial string `arg:"" help:"Serial, as spoken, or '-' for every vehicle." default:"-"`
}

func (c *campaignList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Campaigns(ctx, c.Serial) })
}

type campaignRecord struct {
	Serial   string   `arg:"" help:"Serial, as spoken."`
	Campaign string   `arg:"" help:"Identifier: C-2026-02."`
	Step     string   `arg:"" help:"done, booked, wrong, refused, not-needed, part-not-there, notified, reinspected, owner-unknown, exported, scrapped or reopened."`
	On       string   `help:"The day (YYYY-MM-DD), of a booking the day agreed; today when left out." placeholder:"DATE"`
	Evidence string   `help:"The service entry that shows it, or the change of the build record." placeholder:"ENTRY"`
	Part     []string `help:"A part that went in: PART, PART:LOT, PART:LOT:HOW-MANY, PART:LOT:HOW-MANY:POSITION." placeholder:"PART"`
	Measured []string `help:"What was measured: 'torque=45 N.m', or with the item of the remedy 'C1:torque=45 N.m'." placeholder:"VALUE"`
	Reading  string   `help:"What the odometer showed: '21000 mi'." placeholder:"DISTANCE"`
	Text     string   `help:"In words, without names."`
}

func (c *campaignRecord) Run(ctx context.Context, g *globals) error {
	on, err := dateFlag("on", c.On)
	if err != nil {
		return err
	}
	given := console.StepGiven{Kind: c.Step, On: on, Evidence: c.Evidence, Parts: c.Part, Measured: c.Measured, Reading: c.Reading, Text: c.Text}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordCampaignStep(ctx, c.Serial, c.Campaign, given)
	})
}

type campaignReport struct {
	Campaign string `arg:"" help:"Identifier: C-2026-02."`
	Quarter  string `help:"A quarter: 2026-Q1." placeholder:"QUARTER"`
}

func (c *campaignReport) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.CampaignReport(ctx, c.Campaign, c.Quarter)
	})
}

type campaignMissing struct{}

func (c *campaignMissing) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.MissingFromCampaigns(ctx) })
}

type campaignRefresh struct{}

func (c *campaignRefresh) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.RefreshCampaigns(ctx) })
}
