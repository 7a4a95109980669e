package main

import (
	"context"
	"strings"

	"halfshaft/services/console"
)

type dossierCommand struct {
	Serial []string `arg:"" help:"Serial, as spoken: AM0147P, or alpha mike zero one four seven papa."`
	On     string   `help:"As of this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *dossierCommand) Run(ctx context.Context, g *globals) error {
	on, err := g.dateOr("on", c.On)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Dossier(ctx, strings.Join(c.Serial, " "), on)
	})
}

type workshopsCommand struct {
	Serial []string `arg:"" help:"Serial, as spoken: AM0147P, or alpha mike zero one four seven papa."`
	Near   string   `help:"Where the caller is: a latitude and a longitude in degrees, or a town that a workshop on record is in." placeholder:"PLACE"`
	Unit   string   `help:"Distances in mi or km; the owner's unless said." placeholder:"UNIT"`
}

func (c *workshopsCommand) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.Workshops(ctx, strings.Join(c.Serial, " "), c.Near, c.Unit)
	})
}

type enquiryCommand struct {
	Add     enquiryAdd     `cmd:"" help:"Record a question, with its answer where it was given at once."`
	Answer  enquiryAnswer  `cmd:"" help:"Record an answer to an enquiry."`
	Change  enquiryChange  `cmd:"" help:"Close an enquiry, open it again, or change what it says."`
	List    enquiryList    `cmd:"" help:"Enquiries of a vehicle, or with '-' of all, the latest first."`
	Search  enquirySearch  `cmd:"" help:"Find enquiries by words."`
	Suggest enquirySuggest `cmd:"" help:"What was answered to the like of a question before."`
}

type enquiryAdd struct {
	Serial       string   `arg:"" help:"Serial, as spoken."`
	Question     []string `arg:"" help:"The question, in the asker's words."`
	By           string   `help:"telephone, mail, letter, text or visit." default:"telephone"`
	Asker        string   `help:"owner, dealer, mechanic, buyer, works or other." default:"owner"`
	Person       string   `help:"Who on record asks: p0031. Their words are kept under their key." placeholder:"PERSON"`
	Organisation string   `help:"The dealer that asks." placeholder:"ORGANISATION"`
	Position     []string `help:"Where on the vehicle. May be repeated." placeholder:"POSITION"`
	Symptom      string   `help:"What it is about in the words of the trade, without names: 'weep at the swivel seal'."`
	Answer       string   `help:"The answer that was given at once."`
	Link         []string `help:"Record that the answer rests on: a note, as drip-at-the-swivel, or any by its name, as vehicles/AM0147P/schedule. May be repeated." placeholder:"RECORD"`
	FollowUp     string   `help:"By when to come back to it (YYYY-MM-DD)." placeholder:"DATE"`
	Close        bool     `help:"It is done with."`
}

func (c *enquiryAdd) Run(ctx context.Context, g *globals) error {
	followUp, err := dateFlag("follow-up", c.FollowUp)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.AddEnquiry(ctx, c.Serial, console.Enquiry{
			Channel: c.By, Asker: c.Asker, Person: c.Person, Organisation: c.Organisation, Question: strings.Join(c.Question, " "),
			Positions: c.Position, Symptom: c.Symptom, Answer: c.Answer, Links: c.Link, FollowUp: followUp, Close: c.Close,
		})
	})
}

type enquiryAnswer struct {
	Name     string   `arg:"" help:"Name of the enquiry, as 'halfshaft enquiry list' prints it."`
	Text     []string `arg:"" help:"What was said."`
	Link     []string `help:"Record that the answer rests on. May be repeated." placeholder:"RECORD"`
	FollowUp string   `help:"By when to come back to it (YYYY-MM-DD)." placeholder:"DATE"`
	Close    bool     `help:"It is done with."`
}

func (c *enquiryAnswer) Run(ctx context.Context, g *globals) error {
	followUp, err := dateFlag("follow-up", c.FollowUp)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.AnswerEnquiry(ctx, c.Name, strings.Join(c.Text, " "), c.Link, c.Close, followUp)
	})
}

type enquiryChange struct {
	Name       string   `arg:"" help:"Name of the enquiry, as 'halfshaft enquiry list' prints it."`
	Close      bool     `help:"It is done with."`
	Reopen     bool     `help:"It is not done with after all."`
	FollowUp   string   `help:"By when to come back to it (YYYY-MM-DD)." placeholder:"DATE"`
	NoFollowUp bool     `help:"Nobody need come back to it."`
	Symptom    *string  `help:"What it is about in the words of the trade, without names."`
	Position   []string `help:"Where on the vehicle, in place of what stands there. May be repeated." placeholder:"POSITION"`
	Question   *string  `help:"The question, in the asker's words."`
	Person     string   `help:"Who on record asked: p0031." placeholder:"PERSON"`
}

func (c *enquiryChange) Run(ctx context.Context, g *globals) error {
	followUp, err := dateFlag("follow-up", c.FollowUp)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.ChangeEnquiry(ctx, c.Name, console.EnquiryChange{
			Question: c.Question, Symptom: c.Symptom, Positions: c.Position, Person: c.Person,
			FollowUp: followUp, NoFollowUp: c.NoFollowUp, Close: c.Close, Reopen: c.Reopen,
		})
	})
}

type enquiryList struct {
	Serial     string `arg:"" help:"Serial, as spoken, or '-' for all." default:"-"`
	Open       bool   `help:"Only those that are not done with."`
	FollowUpBy string `help:"Only those to come back to by this date (YYYY-MM-DD)." placeholder:"DATE"`
}

func (c *enquiryList) Run(ctx context.Context, g *globals) error {
	by, err := dateFlag("follow-up-by", c.FollowUpBy)
	if err != nil {
		return err
	}
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ListEnquiries(ctx, c.Serial, c.Open, by) })
}

type enquirySearch struct {
	Words    []string `arg:"" help:"Words, in any order."`
	Position []string `help:"Only about this place. May be repeated." placeholder:"POSITION"`
	Release  string   `help:"Only of this release." placeholder:"RELEASE"`
}

func (c *enquirySearch) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.SearchEnquiries(ctx, strings.Join(c.Words, " "), c.Position, c.Release)
	})
}

type enquirySuggest struct {
	Serial   string   `arg:"" help:"Serial, as spoken."`
	Question []string `arg:"" help:"The question so far."`
	Position []string `help:"Where on the vehicle. May be repeated." placeholder:"POSITION"`
}

func (c *enquirySuggest) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.SuggestAnswers(ctx, c.Serial, strings.Join(c.Question, " "), c.Position)
	})
}

type noteCommands struct {
	Add     noteAdd     `cmd:"" help:"Write a note, which nobody has reviewed yet."`
	Change  noteChange  `cmd:"" help:"Change a note; it must be reviewed again."`
	Retire  noteRetire  `cmd:"" help:"Take a note out of use: nobody is given it any more."`
	Restore noteRestore `cmd:"" help:"Put a note that was taken out of use back, reviewed as it was."`
	Review  noteReview  `cmd:"" help:"Say that you have reviewed a note as it stands."`
	List    noteList    `cmd:"" help:"All notes, or those for a release."`
	Show    noteShow    `cmd:"" help:"Print a note."`
}

type noteAdd struct {
	Name     string   `arg:"" help:"Its name, in small letters with hyphens: drip-at-the-swivel."`
	Title    string   `help:"The question, in a line." required:""`
	Text     string   `help:"The answer." required:""`
	Caution  string   `help:"What can hurt."`
	Release  []string `help:"For this release only. May be repeated." placeholder:"RELEASE"`
	Position []string `help:"About this place. May be repeated." placeholder:"POSITION"`
	Keyword  []string `help:"A word that finds it. May be repeated." placeholder:"WORD"`
	Sample   bool     `help:"It is a sample, to be signed by the works' engineer."`
}

func (c *noteAdd) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.AddNote(ctx, c.Name, console.AnswerNote{
			Title: c.Title, Text: c.Text, Caution: c.Caution, Releases: c.Release, Positions: c.Position, Keywords: c.Keyword, Sample: c.Sample,
		})
	})
}

type noteChange struct {
	Name     string   `arg:"" help:"Name of the note."`
	Title    *string  `help:"The question, in a line."`
	Text     *string  `help:"The answer."`
	Caution  *string  `help:"What can hurt."`
	Release  []string `help:"For this release only, in place of those there are. May be repeated." placeholder:"RELEASE"`
	Position []string `help:"About this place, in place of those there are. May be repeated." placeholder:"POSITION"`
	Keyword  []string `help:"A word that finds it, in place of those there are. May be repeated." placeholder:"WORD"`
}

func (c *noteChange) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.ChangeNote(ctx, c.Name, console.NoteChange{
			Title: c.Title, Text: c.Text, Caution: c.Caution, Releases: c.Release, Positions: c.Position, Keywords: c.Keyword,
		})
	})
}

type noteRetire struct {
	Name string `arg:"" help:"Name of the note."`
}

func (c *noteRetire) Run(ctx context.Context, g *globals) error { return retire(ctx, g, c.Name, true) }

type noteRestore struct {
	Name string `arg:"" help:"Name of the note."`
}

func (c *noteRestore) Run(ctx context.Context, g *globals) error {
	return retire(ctx, g, c.Name, false)
}

// retire takes a note out of use, or puts it back.
func retire(ctx context.Context, g *globals, name string, retired bool) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error {
		return k.ChangeNote(ctx, name, console.NoteChange{Retired: &retired})
	})
}

type noteReview struct {
	Name string `arg:"" help:"Name of the note."`
}

func (c *noteReview) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.ReviewNote(ctx, c.Name) })
}

type noteList struct {
	Release  string `help:"Only those for this release." placeholder:"RELEASE"`
	Reviewed bool   `help:"Only those that were reviewed."`
}

func (c *noteList) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Notes(ctx, c.Release, c.Reviewed) })
}

type noteShow struct {
	Name string `arg:"" help:"Name of the note."`
}

func (c *noteShow) Run(ctx context.Context, g *globals) error {
	return g.ask(ctx, func(ctx context.Context, k *console.Console) error { return k.Note(ctx, c.Name) })
}
