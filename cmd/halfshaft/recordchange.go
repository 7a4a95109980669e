package main

import (
	"context"

	"halfshaft/services/console"
)

// recordChange branches at the serial: 'record change AM0147P fit alternator'.
type recordChange struct {
	Serial changeOfSerial `arg:""`
}

// changeOfSerial holds what every kind of change is told by, and the kinds.
type changeOfSerial struct {
	Serial string `arg:"" help:"Serial, as spoken."`

	Date    string `name:"on" help:"Day it happened (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Source  string `help:"Under whose authority: service, works, campaign or owner. Only a plate needs none." placeholder:"SOURCE"`
	By      string `help:"Who did the work." placeholder:"NAME"`
	Reason  string `help:"Why. Only a plate needs none." placeholder:"TEXT"`
	Reading string `help:"What the odometer showed, before a new dial: 48210mi; without a unit, that of the dial." placeholder:"VALUE"`

	Fit              fitChange              `cmd:"" help:"A component was fitted, in place of what stood there."`
	Remove           removeChange           `cmd:"" help:"A component was taken off, and the position left empty."`
	Overhaul         overhaulChange         `cmd:"" help:"A component was put in order where it stands, as with other shims: its bedding-in begins again."`
	Tyres            tyresChange            `cmd:"" help:"Tyres of another size or pattern."`
	AxleRatio        axleRatioChange        `cmd:"" help:"Another axle ratio."`
	SpeedometerDrive speedometerDriveChange `cmd:"" help:"Other speedometer drive gears."`
	Dial             dialChange             `cmd:"" help:"The odometer was replaced, set anew, or counts another unit."`
	Upgrade          upgradeChange          `cmd:"" help:"Some positions were brought to another release."`
	OptionAdded      optionAddedChange      `cmd:"" help:"An option was added after delivery."`
	OptionRemoved    optionRemovedChange    `cmd:"" help:"An option was taken off after delivery."`
	Plate            plateChange            `cmd:"" help:"Another registration plate, empty for none."`
}

// record hands a change of one kind to the console.
func (c *changeOfSerial) record(ctx context.Context, g *globals, what console.ChangeOf) error {
	on, err := g.dateOr("on", c.Date)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordChange(ctx, c.Serial, console.Change{
			What: what, On: on, Source: c.Source, DoneBy: c.By, Reason: c.Reason, Reading: c.Reading,
		})
	})
}

type fitChange struct {
	Position  string   `arg:"" help:"Where: alternator."`
	Part      string   `arg:"" optional:"" help:"Part number; the one that the specification gives when left out."`
	Serial    string   `name:"component-serial" help:"The component's own serial." placeholder:"SERIAL"`
	Lot       string   `help:"The lot it came from." placeholder:"LOT"`
	Prior     string   `help:"What it had covered elsewhere, with its unit: 12000mi. New when left out." placeholder:"DISTANCE"`
	BeddingIn string   `help:"Day its bedding-in began, when that was elsewhere (YYYY-MM-DD)." placeholder:"DATE"`
	Traits    []string `help:"What it is like, where that differs from the release: glycol-dot4." placeholder:"TRAIT"`
	Note      string   `help:"Words about the component." placeholder:"TEXT"`
}

func (c *fitChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	bedding, err := dateFlag("bedding-in", c.BeddingIn)
	if err != nil {
		return err
	}
	return of.record(ctx, g, console.FitChange{
		Position: c.Position, Part: c.Part, Serial: c.Serial, Lot: c.Lot,
		Prior: c.Prior, BeddingIn: bedding, Traits: c.Traits, Note: c.Note,
	})
}

type removeChange struct {
	Position string `arg:"" help:"Where: winch."`
}

func (c *removeChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.RemoveChange{Position: c.Position})
}

type overhaulChange struct {
	Position string `arg:"" help:"Where: output-shaft-bearing."`
	Part     string `help:"Part number, where another describes it since." placeholder:"PART"`
	Serial   string `name:"component-serial" help:"The component's own serial, where it was found out." placeholder:"SERIAL"`
	Note     string `help:"Words about the component." placeholder:"TEXT"`
}

func (c *overhaulChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.OverhaulChange{Position: c.Position, Part: c.Part, Serial: c.Serial, Note: c.Note})
}

type tyresChange struct {
	Size          string `arg:"" help:"Size as moulded on the wall: 235/85R16."`
	Pattern       string `help:"Tread pattern: all-terrain. Two patterns of one size differ by a per cent and more." placeholder:"PATTERN"`
	Circumference string `help:"How far they roll in a turn, where somebody measured it on this vehicle: 2450mm." placeholder:"MM"`
}

func (c *tyresChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.TyresChange{Size: c.Size, Pattern: c.Pattern, Circumference: c.Circumference})
}

type axleRatioChange struct {
	Ratio string `arg:"" help:"The ratio: 4.12."`
}

func (c *axleRatioChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.AxleRatioChange{Ratio: c.Ratio})
}

type speedometerDriveChange struct {
	Teeth string `arg:"" help:"Teeth of the driving and the driven gear: 6:16."`
}

func (c *speedometerDriveChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.SpeedometerDriveChange{Teeth: c.Teeth})
}

type dialChange struct {
	Digits       int32  `help:"Whole digits that it shows, without tenths." required:"" placeholder:"5"`
	Unit         string `help:"What it counts: mi or km." required:"" placeholder:"UNIT"`
	TurnsPerUnit int32  `help:"Turns of the cable for one unit, as printed on the dial." placeholder:"1000"`
	Tenths       bool   `help:"A further wheel shows tenths."`
	Start        string `help:"What it showed when it was fitted: 0km." required:"" placeholder:"VALUE"`
}

func (c *dialChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.DialChange{
		Digits: c.Digits, Unit: c.Unit, TurnsPerUnit: c.TurnsPerUnit, Tenths: c.Tenths, Start: c.Start,
	})
}

type upgradeChange struct {
	Release   string   `arg:"" help:"The release: R3."`
	Positions []string `help:"The positions brought to it: air-cleaner,oil-filter." required:"" placeholder:"POSITION"`
}

func (c *upgradeChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.UpgradeChange{Release: c.Release, Positions: c.Positions})
}

type optionAddedChange struct {
	Option string `arg:"" help:"The option: tow-hitch."`
}

func (c *optionAddedChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.OptionChange{Option: c.Option})
}

type optionRemovedChange struct {
	Option string `arg:"" help:"The option: tow-hitch."`
}

func (c *optionRemovedChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.OptionChange{Option: c.Option, Removed: true})
}

type plateChange struct {
	Plate string `arg:"" help:"The plate; an empty one for none."`
}

func (c *plateChange) Run(ctx context.Context, g *globals, of *changeOfSerial) error {
	return of.record(ctx, g, console.PlateChange{Plate: c.Plate})
}

type recordMove struct {
	From         string `arg:"" name:"serial" help:"The vehicle it comes from: its serial, as spoken."`
	FromPosition string `arg:"" name:"position" help:"Where it stood: rear-axle-differential."`
	To           string `arg:"" name:"to-serial" help:"The vehicle it goes to."`
	ToPosition   string `arg:"" name:"to-position" optional:"" help:"Where it stands there; the same when left out."`
	Date         string `name:"on" help:"Day it was fitted there (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Covered      string `help:"What it had covered in all by then, where that is known, with its unit: 20400mi." placeholder:"DISTANCE"`
	By           string `help:"Who did the work." placeholder:"NAME"`
	Reason       string `help:"Why." required:"" placeholder:"TEXT"`
}

func (c *recordMove) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.Date)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.MoveComponent(ctx, console.Move{
			From: c.From, FromPosition: c.FromPosition, To: c.To, ToPosition: c.ToPosition,
			On: on, Covered: c.Covered, Reason: c.Reason, DoneBy: c.By,
		})
	})
}
