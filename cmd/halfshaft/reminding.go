package main

import (
	"context"
	"io"
	"os"
	"strings"

	"halfshaft/services/console"
	"halfshaft/services/fault"
)

type pendingCommand struct {
	Serial string `arg:"" help:"Serial, as spoken, or '-' for all." default:"-"`
	On     string `help:"As it will stand on this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *pendingCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Pending(ctx, c.Serial, on) })
}

type previewCommand struct {
	Serial  string `arg:"" help:"Serial, as spoken."`
	On      string `help:"On this day (YYYY-MM-DD)." placeholder:"DATE"`
	Person  string `help:"To this person; else to the first who would be told." placeholder:"PERSON"`
	By      string `help:"By mail, text or letter; else by the way that would be used." placeholder:"WAY"`
	Purpose string `help:"service or year-letter." default:"service"`
	Out     string `help:"File for a letter." default:"preview.pdf" type:"path"`
}

func (c *previewCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Preview(ctx, c.Serial, c.Person, c.By, c.Purpose, on, saveAs(c.Out))
	})
}

type lettersCommand struct {
	Print  lettersPrint  `cmd:"" help:"Write the letters that wait as one PDF."`
	Posted lettersPosted `cmd:"" help:"Say that letters are in the post."`
}

type lettersPrint struct {
	File string `arg:"" help:"File to write." type:"path"`
	Most int    `help:"At most so many." default:"100"`
}

func (c *lettersPrint) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.PrintLetters(ctx, c.Most, saveAs(c.File))
	})
}

type lettersPosted struct {
	Notices []string `arg:"" optional:"" help:"Their names, as 'halfshaft letters print' gives them."`
	All     bool     `help:"All that were printed."`
	On      string   `help:"The day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
}

func (c *lettersPosted) Run(ctx context.Context, g *globals) error {
	on, err := dateFlag("on", c.On)
	if err != nil {
		return err
	}
	if c.All == (len(c.Notices) > 0) {
		return fault.InvalidField("notices", strings.Join(c.Notices, " "), "either the names of letters or --all")
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.MarkPosted(ctx, c.Notices, on) })
}

type answerCommand struct {
	Serial   string   `arg:"" help:"Serial, as spoken."`
	Kind     string   `arg:"" help:"booked, snoozed or done."`
	Day      string   `arg:"" help:"Booked for, not before, or done on this day (YYYY-MM-DD)."`
	Items    []string `arg:"" optional:"" help:"Items: E01; all that come up when left out."`
	Person   string   `help:"Who said so." placeholder:"PERSON"`
	Workshop string   `help:"Who does it or did it." placeholder:"WORDS"`
	Note     string   `help:"What was said beside it." placeholder:"WORDS"`
}

func (c *answerCommand) Run(ctx context.Context, g *globals) error {
	day, err := dateFlag("day", c.Day)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordAnswer(ctx, c.Serial, console.Answer{Kind: c.Kind, Day: day, Items: c.Items, Person: c.Person, Workshop: c.Workshop, Note: c.Note})
	})
}

type answersCommand struct {
	Serial   string `arg:"" help:"Serial, as spoken, or '-' for all." default:"-"`
	Withdraw string `help:"Take this answer back." placeholder:"ANSWER"`
}

func (c *answersCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		if c.Withdraw != "" {
			return k.WithdrawAnswer(ctx, c.Withdraw)
		}
		return k.Answers(ctx, c.Serial)
	})
}

type stopCommand struct {
	Serial  string `arg:"" help:"Serial, as spoken."`
	Person  string `arg:"" help:"Who wants no more messages: p0031."`
	Purpose string `help:"service or year-letter." default:"service"`
	End     bool   `help:"They want them again."`
}

func (c *stopCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Stop(ctx, c.Serial, c.Person, c.Purpose, c.End)
	})
}

type cadenceCommand struct {
	Class         string `arg:"" optional:"" help:"routine, safety, settling or seasonal; without it all are printed."`
	Early         *int   `help:"Days before the day to act on at which it is first told." placeholder:"DAYS"`
	Overdue       *int   `help:"Days after it at which it is called overdue." placeholder:"DAYS"`
	SecondOverdue *int   `help:"Days after that at which it is called overdue a last time; 0 for never." placeholder:"DAYS"`
	Works         *int   `help:"Days after the last notice at which the works is told." placeholder:"DAYS"`
	Apart         *int   `help:"The least days between two notices about one round." placeholder:"DAYS"`
}

func (c *cadenceCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		if c.Class == "" {
			return k.Cadences(ctx)
		}
		return k.ChangeCadence(ctx, c.Class, console.CadenceChange{
			Early: c.Early, Overdue: c.Overdue, SecondOverdue: c.SecondOverdue, Works: c.Works, Apart: c.Apart,
		})
	})
}

type calendarCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	Person string `arg:"" help:"Whose calendar: p0031."`
	End    bool   `help:"Make its address dead."`
}

func (c *calendarCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Calendar(ctx, c.Serial, c.Person, c.End) })
}

type takeReturnCommand struct {
	To   []string `arg:"" help:"To whom it was addressed: the return path."`
	File string   `help:"The message; standard input when left out." type:"existingfile" placeholder:"FILE"`
}

func (c *takeReturnCommand) Run(ctx context.Context, g *globals) error {
	read := func() ([]byte, error) { return io.ReadAll(io.LimitReader(os.Stdin, mostReturn+1)) }
	if c.File != "" {
		read = func() ([]byte, error) { return os.ReadFile(c.File) }
	}
	message, err := read()
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.TakeReturn(ctx, c.To, message) })
}

// mostReturn is the longest message that is taken in.
const mostReturn = 900 << 10
