package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"halfshaft/services/console"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
)

// ask opens the services, wherever they are, and hands a console to the call.
func (g *globals) ask(ctx context.Context, call func(context.Context, *console.Console) error) error {
	session, err := g.open(ctx)
	if err != nil {
		return err
	}
	defer session.Close()
	err = call(session.Context(ctx), &console.Console{
		Access: session.Access, Audit: session.Audit, SignIn: session.SignIn, Owners: session.Owners, Builds: session.Builds, Parts: session.Parts,
		Schedules: session.Schedules, Reminders: session.Reminders, Warranties: session.Warranties, Enquiries: session.Enquiries, Handbooks: session.Handbooks, JobSheets: session.JobSheets,
		Bulletins: session.Bulletins,
		Out:       os.Stdout, JSON: g.JSON,
	})
	return g.serversToday(session, err)
}

// serversToday adds to a refusal of the day of --date whose day it is that
// counts: whoever tries things out on a date may not know that a server runs.
func (g *globals) serversToday(session *works.Session, err error) error {
	if err == nil || g.Date == "" || !session.Remote() || errors.Is(err, console.ErrRefused) {
		return err
	}
	text := works.Explain(err)
	if !strings.Contains(text, g.Date) {
		return err
	}
	return errors.New(text + "\nA server is asked here, and its own today decides what has come: --date gives it the day of the question only. Without a running server --date is taken for today.")
}

// open reaches the server that was named, or the one over the data directory,
// or runs the services in this process for as long as the command takes.
func (g *globals) open(ctx context.Context) (*works.Session, error) {
	clock, err := g.clock()
	if err != nil {
		return nil, err
	}
	return works.Open(ctx, works.Target{
		Data: g.Data, Servers: g.Server, Key: g.Key, CA: g.CA, Clock: clock, Logger: g.logger(),
	})
}

// dateFlag reads a date flag; empty means none.
func dateFlag(name, text string) (vehicle.Date, error) {
	if text == "" {
		return vehicle.Date{}, nil
	}
	if spoken, err := time.Parse("2 January 2006", text); err == nil { // as we print it
		return vehicle.DateOf(spoken), nil
	}
	d, err := vehicle.ParseDate(text)
	if err != nil {
		return d, fault.InvalidField(name, text, "a day, as in 2026-05-18 or 18 May 2026")
	}
	return d, nil
}

// dateOr reads a date flag; empty means the day of --date, or else none, which
// the server takes for its own today.
func (g *globals) dateOr(name, text string) (vehicle.Date, error) {
	if text != "" {
		return dateFlag(name, text)
	}
	return dateFlag("date", g.Date)
}

type findCommand struct {
	Query []string `arg:"" help:"A serial as spoken, or at least three characters of another number."`
}

func (c *findCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Find(ctx, strings.Join(c.Query, " ")) })
}

type vehicleCommand struct {
	Serial  string `arg:"" help:"Serial, as spoken."`
	On      string `help:"As it is on this date (YYYY-MM-DD)." placeholder:"DATE"`
	AsBuilt bool   `help:"As it left the works."`
}

func (c *vehicleCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Vehicle(ctx, c.Serial, on, c.AsBuilt) })
}

type partCommand struct {
	Serial string   `arg:"" help:"Serial, as spoken."`
	Words  []string `arg:"" help:"A position, a part number, or words for the part."`
	On     string   `help:"On this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *partCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Part(ctx, c.Serial, strings.Join(c.Words, " "), on)
	})
}

type speedCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	On     string `help:"On this date (YYYY-MM-DD)." placeholder:"DATE"`
	RPM    int32  `name:"rpm" help:"Engine speed to give road speeds for, in turns a minute." default:"2500"`
}

func (c *speedCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Speed(ctx, c.Serial, on, c.RPM) })
}

type visitsCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	On     string `help:"Plan as of this day (YYYY-MM-DD)." placeholder:"DATE"`
	Months int32  `help:"How far ahead to plan." default:"24"`
}

func (c *visitsCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Visits(ctx, c.Serial, on, c.Months) })
}

type scheduleCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	On     string `help:"On this date (YYYY-MM-DD)." placeholder:"DATE"`
	Why    bool   `help:"Every step of the reasoning."`
}

func (c *scheduleCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Schedule(ctx, c.Serial, on, c.Why) })
}

type dueCommand struct {
	Within string `help:"How far to look ahead: 60d, 8w." default:"60d"`
	On     string `help:"From this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *dueCommand) Run(ctx context.Context, g *globals) error {
	days, err := span(c.Within)
	if err != nil {
		return err
	}
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Due(ctx, days, on) })
}

// span reads "60d" or "8w" as days.
func span(text string) (int32, error) {
	number, each := strings.TrimSuffix(text, "d"), 1
	if weeks, ok := strings.CutSuffix(text, "w"); ok {
		number, each = weeks, 7
	}
	n, err := strconv.Atoi(number)
	if err != nil || n < 0 || n > 3660 {
		return 0, fault.InvalidField("within", text, "days or weeks up to ten years, as in 60d or 8w")
	}
	return int32(n * each), nil
}

type recordCommand struct {
	Reading recordReading `cmd:"" help:"Record an odometer reading."`
	Service recordService `cmd:"" help:"Record work done."`
	Change  recordChange  `cmd:"" help:"Record a change of the vehicle: a component, tyres, axle, speedometer, odometer, plate, …"`
	Move    recordMove    `cmd:"" help:"Record that a component went from one vehicle to another."`
	Event   recordEvent   `cmd:"" help:"Record something that may start items: wading, wheel-refitted, …"`
	Use     recordUse     `cmd:"" help:"State how a vehicle lives from a day on: laid-up, salt-coast, …"`
	Strike  recordStrike  `cmd:"" help:"Strike out work that was recorded wrongly: on another vehicle, or twice."`
}

type recordReading struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	Value  string `arg:"" help:"What the dial shows: 12345, '12345.6 mi', '20000 km'."`
	Date   string `name:"on" help:"Day it was read (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Source string `help:"Who read it: owner, dealer, works, inspection." default:"owner" enum:"owner,dealer,works,inspection"`
	Note   string `help:"Words about it."`
}

func (c *recordReading) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.Date)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordReading(ctx, c.Serial, console.Reading{Value: c.Value, On: on, Source: c.Source, Note: c.Note})
	})
}

type recordService struct {
	Serial  string   `arg:"" help:"Serial, as spoken."`
	Item    []string `help:"Item done, with what was measured: E01, T02=end-float:0.10mm. May be repeated." required:"" placeholder:"ITEM" sep:"none"`
	Date    string   `name:"on" help:"Day the work was done (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Reading string   `help:"What the dial showed." placeholder:"VALUE"`
	Part    []string `help:"Part used: AP-2041, 2xAP-2041. May be repeated." placeholder:"PART"`
	DoneBy  string   `help:"Who did the work."`
	Note    string   `help:"Words about it."`
}

func (c *recordService) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.Date)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordService(ctx, c.Serial, console.Service{
			On: on, Items: c.Item, Reading: c.Reading, Parts: c.Part, DoneBy: c.DoneBy, Note: c.Note,
		})
	})
}

type recordEvent struct {
	Serial  string `arg:"" help:"Serial, as spoken."`
	Kind    string `arg:"" help:"What happened."`
	Date    string `name:"on" help:"Day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Reading string `help:"What the dial showed." placeholder:"VALUE"`
	Note    string `help:"Words about it."`
}

func (c *recordEvent) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.Date)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordEvent(ctx, c.Serial, console.Event{Kind: c.Kind, On: on, Reading: c.Reading, Note: c.Note})
	})
}

type recordUse struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	Kind   string `arg:"" help:"Which kind of use."`
	From   string `help:"First day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	To     string `help:"Last day (YYYY-MM-DD); open when left out." placeholder:"DATE"`
	First  int    `name:"first-month" help:"For seasonal use: first month of the season, 1 to 12." placeholder:"MONTH"`
	Last   int    `name:"last-month" help:"For seasonal use: last month of the season, 1 to 12." placeholder:"MONTH"`
	Note   string `help:"Words about it."`
}

func (c *recordUse) Run(ctx context.Context, g *globals) error {
	from, err := g.dateOr("from", c.From)
	if err != nil {
		return err
	}
	to, err := dateFlag("to", c.To)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.DeclareUse(ctx, c.Serial, console.Use{Kind: c.Kind, From: from, To: to, FirstMonth: c.First, LastMonth: c.Last, Note: c.Note})
	})
}

type readingsCommand struct {
	Serial string `arg:"" help:"Serial, as spoken, or '-' for the doubtful ones of all." default:"-"`
}

func (c *readingsCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Readings(ctx, c.Serial) })
}

type componentsCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	On     string `help:"By this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *componentsCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Components(ctx, c.Serial, on) })
}

type settleCommand struct {
	Reading   string `arg:"" help:"Name of the reading, as 'halfshaft readings' prints it."`
	Verdict   string `arg:"" help:"as-read, rolled-over, corrected or rejected." enum:"as-read,rolled-over,corrected,rejected"`
	Corrected string `help:"For corrected: what the dial really showed." placeholder:"VALUE"`
	Reason    string `help:"Why." required:""`
}

func (c *settleCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Settle(ctx, c.Reading, c.Verdict, c.Corrected, c.Reason)
	})
}

type noticesCommand struct {
	Serial string `arg:"" help:"Serial, as spoken, or '-' for all." default:"-"`
}

func (c *noticesCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Notices(ctx, c.Serial) })
}

type noticeCommand struct {
	Name string `arg:"" help:"Name of the notice, as --json prints it."`
}

func (c *noticeCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Notice(ctx, c.Name) })
}

type retryCommand struct {
	Name string `arg:"" help:"Name of the notice."`
}

func (c *retryCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Retry(ctx, c.Name) })
}

type passCommand struct {
	DryRun bool   `help:"Only tell what would be sent, how that differs from the day before, and what is held back and why."`
	On     string `help:"With --dry-run: what the passes of this day would send (YYYY-MM-DD)." placeholder:"DATE"`
	Days   int    `help:"Only list what the passes of so many past days came to." placeholder:"N"`
}

func (c *passCommand) Run(ctx context.Context, g *globals) error {
	on, err := dateFlag("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		if c.Days > 0 {
			return k.PassDays(ctx, c.Days)
		}
		return k.Pass(ctx, c.DryRun, on)
	})
}

type tasksCommand struct {
	All     bool   `help:"Done ones too."`
	Done    string `help:"Close this task." placeholder:"TASK"`
	Outcome string `help:"With --done: what came of it."`
}

func (c *tasksCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		if c.Done != "" {
			return k.CompleteTask(ctx, c.Done, c.Outcome)
		}
		return k.Tasks(ctx, c.All)
	})
}

type whoamiCommand struct{}

func (c *whoamiCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.WhoAmI(ctx) })
}

type versionCommand struct {
	Modules bool `help:"List what the program is made of as well, with the hashes of go.sum."`
}

func (c *versionCommand) Run() error {
	_, err := fmt.Print(works.Version())
	if err == nil && c.Modules {
		_, err = fmt.Print(works.Modules())
	}
	return err
}

type recordStrike struct {
	Entry  string `arg:"" help:"Name of the service entry: vehicles/AM0147P/serviceEntries/0192f0."`
	Reason string `help:"Why, without names." required:"" placeholder:"TEXT"`
}

func (c *recordStrike) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.StrikeService(ctx, c.Entry, c.Reason) })
}
