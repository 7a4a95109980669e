package console

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/page"
)

// aboutExport says what stands in an export, for whoever gets it.
const aboutExport = `Everything that is held about one person, as it was on the day of the export.

person.json      name, addresses, language, habits
consents.json    what was said about being written to, and when
ties.json        what the person is or was to which vehicle
notices.json     every message: when, about what, what became of it
messages/        the messages themselves: mails (.eml), text messages and the text of letters (.txt)
answers.json     what the person told us about work: booked, put off, done
enquiries.json   what the person asked the works, and what was answered
opt-outs.json    what the person does not want to be written to about
calendars.json   calendars of vehicles, without their secret addresses
documents.json   photographs, which stand in documents/
transfers.json   vehicles that the person handed over or took over
tasks.json       what the works had to look into because of messages to the person

The technical record of a vehicle names nobody and is not part of this. Whomever else a record
names, the works' own people among them, was left out of it.
`

// ExportPerson gathers everything that is held about a person and hands it to
// write, file by file: JSON as the API has it, and messages and photographs as
// they are.
func (c *Console) ExportPerson(ctx context.Context, id string, write func(name string, content []byte) error) error {
	person := personName(id)
	p, err := c.Owners.GetPerson(ctx, &ownerv1.GetPersonRequest{Name: person})
	if err != nil {
		return err
	}
	for _, consent := range p.GetConsents() {
		consent.RecordedBy = "" // the works' own people are somebody else
	}
	x := exporter{write: write}
	x.file("README.txt", []byte(aboutExport))
	x.object("person.json", p)
	c.exportOwner(ctx, person, &x)
	c.exportReminders(ctx, person, &x)
	c.exportEnquiries(ctx, person, &x)
	if x.err != nil {
		return x.err
	}
	return c.print(p, func(s *sheet) {
		s.line("%s written about %s.", plural(x.files, "file", "files"), idOf(person))
	})
}

func (c *Console) exportOwner(ctx context.Context, person string, x *exporter) {
	consents, err := c.consents(ctx, person)
	x.keep(err)
	for _, consent := range consents {
		consent.RecordedBy = ""
	}
	exportAll(x, "consents.json", consents)
	ties, err := c.ties(ctx, "vehicles/-")
	x.keep(err)
	exportAll(x, "ties.json", slices.DeleteFunc(ties, func(t *ownerv1.Tie) bool { return t.GetPerson() != person }))
	transfers, err := page.All(func(token string) ([]*ownerv1.Transfer, string, error) {
		r, err := c.Owners.ListTransfers(ctx, &ownerv1.ListTransfersRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		return r.GetTransfers(), r.GetNextPageToken(), err
	})
	x.keep(err)
	exportAll(x, "transfers.json", transfersOf(person, transfers))
	documents, err := page.All(func(token string) ([]*ownerv1.Document, string, error) {
		r, err := c.Owners.ListDocuments(ctx, &ownerv1.ListDocumentsRequest{Parent: person, PageSize: 500, PageToken: token})
		return r.GetDocuments(), r.GetNextPageToken(), err
	})
	x.keep(err)
	exportAll(x, "documents.json", documents)
	for _, d := range documents {
		r, err := c.Owners.GetDocument(ctx, &ownerv1.GetDocumentRequest{Name: d.GetName()})
		x.keep(err)
		x.file("documents/"+idOf(d.GetName())+"."+strings.TrimPrefix(d.GetMediaType(), "image/"), r.GetContent())
	}
}

func (c *Console) exportEnquiries(ctx context.Context, person string, x *exporter) {
	enquiries, err := page.All(func(token string) ([]*enquiryv1.Enquiry, string, error) {
		r, err := c.Enquiries.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", Person: person, PageSize: 500, PageToken: token})
		return r.GetEnquiries(), r.GetNextPageToken(), err
	})
	x.keep(err)
	for _, e := range enquiries {
		e.RecordedBy = ""
		for _, a := range e.GetAnswers() {
			a.AnsweredBy = ""
		}
	}
	exportAll(x, "enquiries.json", enquiries)
}

func (c *Console) exportReminders(ctx context.Context, person string, x *exporter) {
	notices, err := page.All(func(token string) ([]*reminderv1.Notice, string, error) {
		r, err := c.Reminders.ListNotices(ctx, &reminderv1.ListNoticesRequest{Parent: "vehicles/-", Person: person, PageSize: 500, PageToken: token})
		return r.GetNotices(), r.GetNextPageToken(), err
	})
	x.keep(err)
	exportAll(x, "notices.json", notices)
	for _, n := range notices {
		r, err := c.Reminders.GetNotice(ctx, &reminderv1.GetNoticeRequest{Name: n.GetName()})
		if status.Code(err) == codes.NotFound {
			continue // the message is no longer kept
		}
		x.keep(err)
		message, ending := r.GetMessage(), ".eml"
		switch n.GetChannel() {
		case reminderv1.Channel_CHANNEL_TEXT:
			ending = ".txt"
		case reminderv1.Channel_CHANNEL_LETTER:
			ending = ".txt"
			text, err := letterText(message)
			x.keep(err)
			message = []byte(text)
		}
		x.file("messages/"+idOf(n.GetName())+ending, message)
	}
	answers, err := page.All(func(token string) ([]*reminderv1.Answer, string, error) {
		r, err := c.Reminders.ListAnswers(ctx, &reminderv1.ListAnswersRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		return r.GetAnswers(), r.GetNextPageToken(), err
	})
	x.keep(err)
	answers = slices.DeleteFunc(answers, func(a *reminderv1.Answer) bool { return a.GetPerson() != person })
	for _, a := range answers {
		a.RecordedBy = ""
	}
	exportAll(x, "answers.json", answers)
	tasks, err := c.tasks(ctx, true)
	x.keep(err)
	exportAll(x, "tasks.json", slices.DeleteFunc(tasks, func(t *reminderv1.Task) bool {
		return !slices.ContainsFunc(notices, func(n *reminderv1.Notice) bool { return n.GetName() == t.GetNotice() })
	}))
	optOuts, err := page.All(func(token string) ([]*reminderv1.OptOut, string, error) {
		r, err := c.Reminders.ListOptOuts(ctx, &reminderv1.ListOptOutsRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		return r.GetOptOuts(), r.GetNextPageToken(), err
	})
	x.keep(err)
	exportAll(x, "opt-outs.json", slices.DeleteFunc(optOuts, func(o *reminderv1.OptOut) bool { return o.GetPerson() != person }))
	feeds, err := page.All(func(token string) ([]*reminderv1.CalendarFeed, string, error) {
		r, err := c.Reminders.ListCalendarFeeds(ctx, &reminderv1.ListCalendarFeedsRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		return r.GetCalendarFeeds(), r.GetNextPageToken(), err
	})
	x.keep(err)
	exportAll(x, "calendars.json", slices.DeleteFunc(feeds, func(f *reminderv1.CalendarFeed) bool { return f.GetPerson() != person }))
}

// transfersOf are the transfers that a person took part in, without the other
// side and without whoever recorded them.
func transfersOf(person string, all []*ownerv1.Transfer) []*ownerv1.Transfer {
	var own []*ownerv1.Transfer
	for _, t := range all {
		gave, took := t.GetOfferedBy() == person, t.GetNewOwner() == person
		if !gave && !took {
			continue
		}
		t.RecordedBy = ""
		if !gave {
			t.OfferedBy = ""
		}
		if !took {
			t.NewOwner = ""
		}
		own = append(own, t)
	}
	return own
}

// exporter writes files until one fails, and keeps the first error.
type exporter struct {
	write func(name string, content []byte) error
	files int
	err   error
}

func (x *exporter) keep(err error) {
	if x.err == nil {
		x.err = err
	}
}

func (x *exporter) file(name string, content []byte) {
	if x.err == nil {
		x.err = x.write(name, content)
		x.files++
	}
}

// object writes a message as JSON.
func (x *exporter) object(name string, m proto.Message) {
	raw, err := protojson.MarshalOptions{Multiline: true, Indent: "  "}.Marshal(m)
	x.keep(err)
	x.file(name, append(raw, '\n'))
}

// exportAll writes what there is as a JSON array, and no file for nothing.
func exportAll[M proto.Message](x *exporter, name string, all []M) {
	if len(all) == 0 {
		return
	}
	objects := make([]string, len(all))
	for i, m := range all {
		raw, err := protojson.MarshalOptions{Multiline: true, Indent: "  "}.Marshal(m)
		x.keep(err)
		objects[i] = string(raw)
	}
	x.file(name, []byte("[\n"+strings.Join(objects, ",\n")+"\n]\n"))
}
