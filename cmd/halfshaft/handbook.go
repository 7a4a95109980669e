package main

import (
	"context"
	"os"
	"strings"

	"halfshaft/services/console"
	"halfshaft/services/fault"
	"halfshaft/services/works"
)

// handbookCommand has the plain question as its default: "handbook AM0147P".
type handbookCommand struct {
	Show     handbookShow     `cmd:"" default:"withargs" help:"What a vehicle's handbook would be now; or write it to a file."`
	Issue    handbookIssue    `cmd:"" help:"Issue a vehicle's handbook: it is archived as it is, for good."`
	Send     handbookSend     `cmd:"" help:"Send a vehicle's handbook to its owner: issued first where anything changed."`
	Issues   handbookIssues   `cmd:"" help:"The issues of a vehicle's handbook, the latest first."`
	Download handbookDownload `cmd:"" help:"Write an issued handbook to a file."`
	Check    handbookCheck    `cmd:"" help:"Prove that every file of every issued handbook is in the data directory, as it was issued."`
}

type handbookShow struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	On     string `help:"As it would be on this day (YYYY-MM-DD); today when left out. Not for files." placeholder:"DATE"`
	PDF    string `name:"pdf" help:"Write it to this file, to print." placeholder:"FILE" xor:"form" type:"path"`
	HTML   string `name:"html" help:"Write it to this file, as a page." placeholder:"FILE" xor:"form" type:"path"`
	Paper  string `help:"A5, A4 or Letter." placeholder:"PAPER"`
}

// Run implements the command.
func (c *handbookShow) Run(ctx context.Context, g *globals) error {
	on, err := dateFlag("on", c.On)
	if err != nil {
		return err
	}
	form, asked := handbookForm(c.PDF, c.HTML, c.Paper)
	if asked && !on.IsZero() {
		return fault.InvalidField("on", c.On, "nothing where a file is written: that is the handbook of today")
	}
	form.Issue = "preview"
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		if !asked {
			return k.Handbook(ctx, c.Serial, on)
		}
		return k.DownloadHandbook(ctx, c.Serial, form)
	})
}

// handbookForm reads which file is to be written.
func handbookForm(pdf, html, paper string) (form console.HandbookForm, asked bool) {
	switch {
	case pdf != "":
		return console.HandbookForm{MediaType: "application/pdf", Paper: paper, File: pdf}, true
	case html != "":
		return console.HandbookForm{MediaType: "text/html", Paper: paper, File: html}, true
	}
	return console.HandbookForm{}, false
}

type handbookIssue struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	Why    string `help:"Why, without names: 'winch fitted'." placeholder:"WORDS"`
}

// Run implements the command.
func (c *handbookIssue) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.IssueHandbook(ctx, c.Serial, c.Why) })
}

type handbookSend struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	To     string `help:"Who gets it: 'p0031'; everybody who owns the vehicle when left out." placeholder:"PERSON"`
	By     string `help:"mail, text or letter; what each person likes best when left out." enum:",mail,text,letter" default:"" placeholder:"WAY"`
	Issue  string `help:"Number of an issue to send as it is; the last when left out, after it was issued anew where anything changed." placeholder:"NUMBER"`
	Why    string `help:"Why it is issued, if it is, without names: 'winch fitted'." placeholder:"WORDS"`
}

// Run implements the command.
func (c *handbookSend) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.SendHandbook(ctx, c.Serial, console.HandbookSending{To: c.To, By: c.By, Issue: c.Issue, Why: c.Why})
	})
}

type handbookIssues struct {
	Serial string `arg:"" help:"Serial, as spoken."`
}

// Run implements the command.
func (c *handbookIssues) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.HandbookIssues(ctx, c.Serial) })
}

type handbookDownload struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	File   string `arg:"" help:"File to write: a name that ends with .pdf, .html or .json." type:"path"`
	Issue  string `help:"Number of the issue; the last when left out." default:"-" placeholder:"NUMBER"`
	Paper  string `help:"A5, A4 or Letter, for PDF." placeholder:"PAPER"`
}

// Run implements the command.
func (c *handbookDownload) Run(ctx context.Context, g *globals) error {
	form := console.HandbookForm{Issue: c.Issue, Paper: c.Paper, File: c.File}
	switch {
	case strings.HasSuffix(c.File, ".pdf"):
		form.MediaType = "application/pdf"
	case strings.HasSuffix(c.File, ".html"):
		form.MediaType = "text/html"
	case strings.HasSuffix(c.File, ".json"):
		form.MediaType = "application/json"
	default:
		return fault.InvalidField("file", c.File, "a name that ends with .pdf, .html or .json")
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.DownloadHandbook(ctx, c.Serial, form) })
}

type handbookCheck struct{}

// Run implements the command.
func (c *handbookCheck) Run(ctx context.Context, g *globals) error {
	whole, err := works.CheckHandbooks(ctx, g.Data, g.logger(), os.Stdout)
	if err == nil && !whole {
		err = fault.New(fault.FailedPrecondition, "HANDBOOK_MISSING", "Files of issued handbooks are missing or damaged.")
	}
	return err
}

type bookCommand struct {
	Import bookImport `cmd:"" help:"Enter a version of a handbook's text from a YAML file. It never changes afterwards."`
	Check  bookCheck  `cmd:"" help:"Say what is wrong with such a file, and enter nothing."`
	List   bookList   `cmd:"" help:"Every version of every book."`
	Show   bookShow   `cmd:"" help:"The sections of a version, and for which vehicles each is."`
}

type bookImport struct {
	File string `arg:"" help:"YAML with the fields of a book." type:"existingfile"`
}

// Run implements the command.
func (c *bookImport) Run(ctx context.Context, g *globals) error {
	raw, err := os.ReadFile(c.File)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ImportBook(ctx, raw) })
}

type bookCheck struct {
	File string `arg:"" help:"YAML with the fields of a book." type:"existingfile"`
}

// Run implements the command.
func (c *bookCheck) Run(ctx context.Context, g *globals) error {
	raw, err := os.ReadFile(c.File)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CheckBook(ctx, raw) })
}

type bookList struct{}

// Run implements the command.
func (c *bookList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ListBooks(ctx) })
}

type bookShow struct {
	Book string `arg:"" help:"Identifier: packhorse for its latest version, packhorse/1 for the first."`
}

// Run implements the command.
func (c *bookShow) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ShowBook(ctx, c.Book) })
}
