package reminderjob

import (
	"context"
	"embed"
	"fmt"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/locale"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/remindertext"
)

// receipts are the gateway's words for what became of a message.
var receipts = map[string]reminder.ReturnKind{
	"delivered": reminder.Delivered, "relayed": reminder.Relayed, "delayed": reminder.Delayed,
	"expired": reminder.GivenUp, "failed": reminder.Failed,
}

// TakeText takes in what the gateway for text messages reports: what became of
// a message, or what somebody wrote. The same event again, told by its
// identifier, changes nothing and gets the same answer. Invalid is for a report
// that never can be taken in; after any other error it may come again.
func (j *Job) TakeText(ctx context.Context, r *reminderv1.TakeTextEventRequest) (*reminderv1.TakeTextEventResponse, error) {
	ctx = AsService(ctx)
	if r.GetEventId() == "" || len(r.GetEventId()) > 256 {
		return nil, fault.InvalidField("event_id", fmt.Sprintf("%d bytes", len(r.GetEventId())), "1 to 256 bytes")
	}
	q := reminderstore.Request{ID: requestFor("text event", []byte(r.GetEventId())), Payload: &reminderv1.TakeTextEventRequest{EventId: r.GetEventId()}}
	answer := &reminderv1.TakeTextEventResponse{}
	if found, err := j.Store.Replay(ctx, q, answer); err != nil || found {
		return answer, err
	}
	switch e := r.GetEvent().(type) {
	case *reminderv1.TakeTextEventRequest_Receipt:
		return answer, j.receipt(ctx, q, e.Receipt, answer)
	case *reminderv1.TakeTextEventRequest_Said:
		return answer, j.said(ctx, q, e.Said, answer)
	}
	return nil, fault.InvalidField("event", "", "a receipt, or what somebody said")
}

// receipt applies what became of a text message.
func (j *Job) receipt(ctx context.Context, q reminderstore.Request, r *reminderv1.TextReceipt, answer *reminderv1.TakeTextEventResponse) error {
	kind, known := receipts[r.GetStatus()]
	if !known {
		return fault.InvalidField("receipt.status", r.GetStatus(), "delivered, relayed, delayed, expired or failed")
	}
	kept, found, err := j.Store.ByReference(ctx, r.GetReference())
	if err != nil {
		return err
	}
	if !found || kept.Channel != reminder.Text || kept.Reference != r.GetReference() {
		// An answer of ours to somebody's message, nothing of ours, or of a sending
		// before somebody took the notice up again. Nothing is kept of these.
		return nil
	}
	return j.returned(ctx, q, kept.ID, reminder.Return{Kind: kind, Time: j.now(), Text: r.GetDetail()}, answer)
}

// said does what somebody asks for by one word, and tells the works of anything
// else that people write.
func (j *Job) said(ctx context.Context, q reminderstore.Request, said *reminderv1.TextSaid, answer *reminderv1.TakeTextEventResponse) error {
	people, err := j.withPhone(ctx, said.GetPhone())
	if err != nil {
		return err
	}
	language := ""
	if len(people) > 0 {
		language = people[0].GetPerson().GetLanguage()
	}
	command := remindertext.CommandOf(said.GetText())
	given := command == remindertext.Start
	phrase := replies[command]
	var tasks []reminder.Task
	switch command {
	case remindertext.Stop, remindertext.Start:
		if len(people) == 0 {
			phrase = "reply.unknown"
		}
		for _, p := range people {
			if err := j.consent(ctx, q, p.GetPerson(), given, said); err != nil {
				return err
			}
		}
	case remindertext.None:
		if task, ok := j.saidTask(q, people); ok {
			tasks = append(tasks, task)
		}
	}
	answer.Reply = phrases().For(language).Say(phrase, map[string]any{"works": j.Works.Name, "phone": j.Works.Phone})
	if len(people) == 0 { // a stranger's message changes nothing, and nothing is kept of it
		return nil
	}
	return j.Store.Take(ctx, q, tasks, nil, answer)
}

// replies are the phrases that answer each command, and what is none.
var replies = map[remindertext.Command]string{
	remindertext.Stop: "reply.stop", remindertext.Start: "reply.start", remindertext.Help: "reply.help", remindertext.None: "reply.none",
}

//go:embed words
var words embed.FS

// phrases are what is answered, in each language.
var phrases = locale.BuiltIn(words, "words")

// withPhone gives the people who have exactly this number.
func (j *Job) withPhone(ctx context.Context, phone string) ([]*ownerv1.FoundPerson, error) {
	found, err := j.Owners.FindPeople(ctx, &ownerv1.FindPeopleRequest{Query: phone})
	if err != nil {
		return nil, elsewhere("ask whose number it is", err)
	}
	var people []*ownerv1.FoundPerson
	for _, p := range found.GetPeople() {
		if p.GetPerson().GetPhone() == phone {
			people = append(people, p)
		}
	}
	return people, nil
}

// consent records that somebody gave or took back the consent to service
// notices by text message, in the word that they sent and at the time when they
// sent it. A report that comes again asks for the same; what the record of the
// person says by then may be another, and then the first counts.
func (j *Job) consent(ctx context.Context, q reminderstore.Request, p *ownerv1.Person, given bool, said *reminderv1.TextSaid) error {
	at := said.GetEventTime()
	if at.AsTime().After(j.now()) { // the gateway's clock is fast; the owners' service takes its own
		at = nil
	}
	_, err := j.Owners.RecordConsent(ctx, &ownerv1.RecordConsentRequest{
		Parent: p.GetName(),
		Consent: &ownerv1.Consent{
			Purpose: ownerv1.Purpose_PURPOSE_SERVICE, Way: ownerv1.ContactWay_CONTACT_WAY_TEXT, Given: given,
			Wording: remindertext.Bare(said.GetText()), Language: p.GetLanguage(), ConsentTime: at,
			Source: ownerv1.ConsentSource_CONSENT_SOURCE_TEXT,
		},
		RequestId: requestFor("text consent", []byte(q.ID), []byte(p.GetName())),
	})
	if f := rpcerr.FromStatus(err); f == nil || f.Kind == fault.NotFound || f.Reason == "REQUEST_ID_REUSED" {
		return nil // NotFound: they were erased meanwhile
	}
	return elsewhere("record what somebody said about text messages", err)
}

// saidTask tells the works that somebody wrote by text message, without their
// words. It hangs on the vehicle that they came to last; somebody with none is
// known to the log only.
func (j *Job) saidTask(q reminderstore.Request, people []*ownerv1.FoundPerson) (reminder.Task, bool) {
	for _, p := range people {
		for _, t := range p.GetTies() {
			serial, _, err := resname.Serial("name", "vehicles/{serial}/ties/{tie}", t.GetName())
			if err == nil {
				return reminder.Task{
					ID: string(serial) + ".text-" + q.ID + ".reply", Serial: serial, Kind: reminder.Answered, Created: j.now(),
					Text: "Somebody who is tied to " + string(serial) + " (" + p.GetPerson().GetName() + ") wrote a text message that no machine can answer. " +
						"Read it at the gateway and see to it.",
				}, true
			}
		}
	}
	j.Logger.Warn("a text message came from somebody who has no vehicle here")
	return reminder.Task{}, false
}
