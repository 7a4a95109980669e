package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"halfshaft/services/console"
)

type peopleCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
}

func (c *peopleCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.People(ctx, c.Serial) })
}

type personCommand struct {
	Show     personShow     `cmd:"" help:"All that the record has of a person."`
	Add      personAdd      `cmd:"" help:"Make the record of somebody."`
	Change   personChange   `cmd:"" help:"Change some of it."`
	Export   personExport   `cmd:"" help:"Write everything that is held about a person to files."`
	Erase    personErase    `cmd:"" help:"Make everything that is held about a person unreadable, for good."`
	Erasures personErasures `cmd:"" help:"Who was erased when, by identifier."`
	Links    personLinks    `cmd:"" help:"Make every link dead that was sent to a person so far."`
}

type aPerson struct {
	Person string `arg:"" help:"Identifier: p0031."`
}

type personShow struct{ aPerson }

func (c *personShow) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Person(ctx, c.Person) })
}

// personFields are what is known of a person, as flags.
type personFields struct {
	Name     string   `help:"How to address them." placeholder:"NAME"`
	Email    string   `help:"Mail address; '-' for none." placeholder:"ADDRESS"`
	Phone    string   `help:"With country code: +441632960983; '-' for none." placeholder:"NUMBER"`
	Post     []string `sep:"none" help:"Postal address, line by line; '-' for none." placeholder:"LINE"`
	By       []string `help:"Ways to reach them, the most wanted first: mail, text, letter." placeholder:"WAY"`
	Language string   `help:"Language: en-GB, de." placeholder:"TAG"`
	Formats  string   `help:"How dates and numbers are written, where that is not the language's habit: de-CH." placeholder:"TAG"`
	Unit     string   `help:"Distances in mi or km." placeholder:"UNIT"`
	Zone     string   `help:"Time zone: Europe/London." placeholder:"ZONE"`
	Hours    string   `help:"The hours in which messages may arrive: 8-20." placeholder:"FROM-UNTIL"`
	Most     *int     `help:"The most service messages in 30 days; 0 for the usual." placeholder:"N"`
	Hold     string   `help:"Why the record is kept though its time is over, without details: the retention pass leaves it; '-' lifts the hold." placeholder:"REASON"`
	Died     string   `help:"The day they died (YYYY-MM-DD): nothing more is sent to them." placeholder:"DATE"`
}

func (f personFields) change() (console.PersonChange, error) {
	died, err := dateFlag("died", f.Died)
	return console.PersonChange{
		Name: f.Name, Email: f.Email, Phone: f.Phone, Postal: f.Post, Ways: f.By, Language: f.Language,
		Formats: f.Formats, Unit: f.Unit, Zone: f.Zone, Hours: f.Hours, Most: f.Most, Hold: f.Hold, Died: died,
	}, err
}

type personAdd struct{ personFields }

func (c *personAdd) Run(ctx context.Context, g *globals) error {
	given, err := c.change()
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.AddPerson(ctx, given) })
}

type personChange struct {
	aPerson
	personFields
}

func (c *personChange) Run(ctx context.Context, g *globals) error {
	change, err := c.change()
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ChangePerson(ctx, c.Person, change) })
}

type personExport struct {
	aPerson
	Dir string `arg:"" help:"Directory to write; made if absent, refused if not empty." type:"path"`
}

func (c *personExport) Run(ctx context.Context, g *globals) error {
	if entries, err := os.ReadDir(c.Dir); err == nil && len(entries) > 0 || err != nil && !errors.Is(err, fs.ErrNotExist) {
		return errors.Join(err, fmt.Errorf("%s is not an empty directory: name another", c.Dir))
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.ExportPerson(ctx, c.Person, func(name string, content []byte) error {
			path := filepath.Join(c.Dir, filepath.FromSlash(name))
			if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
				return err
			}
			return os.WriteFile(path, content, 0o600)
		})
	})
}

type personErase struct {
	aPerson
	Ground  string `help:"On what ground, without names: 'asked for on 3 May 2026'." required:""`
	EndTies bool   `help:"End today what they still are to vehicles."`
}

func (c *personErase) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Erase(ctx, c.Person, c.Ground, c.EndTies)
	})
}

type personErasures struct{}

func (c *personErasures) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Erasures(ctx) })
}

type personLinks struct{ aPerson }

func (c *personLinks) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.WithdrawLinks(ctx, c.Person) })
}

type consentCommand struct {
	aPerson
	Purpose  string `arg:"" optional:"" help:"service or year-letter; without it all that was said is listed."`
	By       string `help:"Only for this way: mail, text or letter." placeholder:"WAY"`
	Refused  bool   `help:"They refused, or took it back."`
	Wording  string `help:"The words that they agreed to or spoke." placeholder:"WORDS"`
	Language string `help:"The language of the words." default:"en"`
	Source   string `help:"How it came: page, paper, telephone, message, text." default:"telephone"`
}

func (c *consentCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		if c.Purpose == "" {
			return k.Consents(ctx, c.Person)
		}
		return k.RecordConsent(ctx, c.Person, console.ConsentGiven{
			Purpose: c.Purpose, Way: c.By, Given: !c.Refused, Wording: c.Wording, Language: c.Language, Source: c.Source,
		})
	})
}

type transferCommand struct {
	List   transferList   `cmd:"" help:"The changes of owner of a vehicle."`
	Offer  transferOffer  `cmd:"" help:"Make the one-time code with which a new owner takes a vehicle over."`
	Record transferRecord `cmd:"" help:"Record a change of owner on evidence that the works saw."`
	Cancel transferCancel `cmd:"" help:"Call an offer off."`
}

type transferList struct {
	Serial string `arg:"" help:"Serial, as spoken."`
}

func (c *transferList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Transfers(ctx, c.Serial) })
}

type transferOffer struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	Person string `arg:"" help:"The owner who offers it: p0031."`
}

func (c *transferOffer) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.OfferTransfer(ctx, c.Serial, c.Person) })
}

type transferRecord struct {
	Serial   string   `arg:"" help:"Serial, as spoken."`
	To       string   `help:"The new owner, who is here already: p0077." placeholder:"PERSON"`
	Name     string   `help:"The new owner, who is not here yet." placeholder:"NAME"`
	Unknown  bool     `help:"Nobody knows the new owner."`
	Email    string   `help:"With --name: mail address." placeholder:"ADDRESS"`
	Phone    string   `help:"With --name: telephone with country code." placeholder:"NUMBER"`
	Post     []string `sep:"none" help:"With --name: postal address, line by line." placeholder:"LINE"`
	Language string   `help:"With --name: language." placeholder:"TAG"`
	Unit     string   `help:"With --name: distances in mi or km." placeholder:"UNIT"`
	Zone     string   `help:"With --name: time zone." placeholder:"ZONE"`
	On       string   `help:"The day from which the new owner owns it (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Evidence string   `help:"What the works saw, and where it is kept, without names." required:"" placeholder:"WORDS"`
	Staying  []string `help:"Caretakers and payers who stay: p0032." placeholder:"PERSON"`
}

func (c *transferRecord) Run(ctx context.Context, g *globals) error {
	on, err := dateFlag("on", c.On)
	if err != nil {
		return err
	}
	to := console.NewOwner{
		Person: c.To, Name: c.Name, Email: c.Email, Phone: c.Phone, Postal: c.Post, Language: c.Language, Unit: c.Unit, Zone: c.Zone, Unknown: c.Unknown,
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.RecordTransfer(ctx, c.Serial, to, on, c.Evidence, c.Staying)
	})
}

type transferCancel struct {
	Transfer string `arg:"" help:"Name of the transfer, as 'halfshaft transfer list' prints it."`
}

func (c *transferCancel) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.CancelTransfer(ctx, c.Transfer) })
}

type standingCommand struct {
	Serial string `arg:"" help:"Serial, as spoken."`
	State  string `arg:"" optional:"" help:"in-use, owner-unknown, exported or scrapped; without it the present one is printed."`
	Since  string `help:"Since which day (YYYY-MM-DD); today when left out." placeholder:"DATE"`
	Note   string `help:"How that is known, without names." placeholder:"WORDS"`
}

func (c *standingCommand) Run(ctx context.Context, g *globals) error {
	since, err := dateFlag("since", c.Since)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Standing(ctx, c.Serial, c.State, since, c.Note)
	})
}

type documentCommand struct {
	Name string `arg:"" help:"Name of the document: people/p0031/documents/…"`
	File string `arg:"" help:"File to write." type:"path"`
}

func (c *documentCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Document(ctx, c.Name, saveAs(c.File)) })
}

// saveAs writes what it gets to a new file for its owner alone.
func saveAs(path string) func([]byte) (string, error) {
	return func(content []byte) (string, error) {
		f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if err != nil {
			return "", err
		}
		_, err = f.Write(content)
		return path, errors.Join(err, f.Close())
	}
}
