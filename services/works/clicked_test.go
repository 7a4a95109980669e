package works_test

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	gomail "github.com/emersion/go-message/mail"
	"github.com/google/go-cmp/cmp"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/freeaddress"
	"halfshaft/services/internal/handclock"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/works"
)

// These tests go the whole way that an owner goes: a works in one process with
// the demo's files, a pass, the mail out of a real mail server, the link in it
// found by its words, and a browser without scripts on a narrow screen; then
// the passes of the weeks after, which say whether it was of any use.

// clicked is the works, the owner's mailbox and the owner's telephone.
type clicked struct {
	*telephone.Telephone
	t      *testing.T
	ctx    context.Context
	c      works.Clients
	clock  *handclock.Clock
	mails  *fickleServer
	serial string
}

func newClicked(t *testing.T, serial string) *clicked {
	t.Helper()
	clock, mails, pages := atDemo(), newFickleServer(t), freeaddress.For(t)
	mails.behave(func(string) behaviour { return takes })
	_, ctx, c := startDemo(t, works.Config{
		Clock: clock.Now, HTTP: pages,
		Works: works.WorksConfig{Name: "Aldermoor Works", Telephone: "+44 1632 960100", Mail: "care@aldermoor.example", PublicURL: "http://" + pages},
		Mail:  works.MailConfig{Server: mails.address, From: "Aldermoor Works <care@aldermoor.example>", Security: "plain"},
	})
	p := telephone.New(t, 360, "light")
	p.Name = serial
	return &clicked{Telephone: p, t: t, ctx: ctx, c: c, clock: clock, mails: mails, serial: serial}
}

// until runs a pass now, every third day, and at noon UTC of a day, and gives
// what they told about the vehicle.
func (k *clicked) until(day string) []*reminderv1.Notice {
	k.t.Helper()
	last, err := time.Parse(time.DateOnly, day)
	if err != nil {
		k.t.Fatal(err)
	}
	last = last.Add(12 * time.Hour)
	at := []time.Time{k.clock.Now()}
	for next := at[0].AddDate(0, 0, 3); next.Before(last); next = next.AddDate(0, 0, 3) {
		at = append(at, next)
	}
	var told []*reminderv1.Notice
	for _, now := range append(at, last) {
		k.clock.Set(now)
		for _, n := range pass(k.t, k.ctx, k.c).GetNotices() {
			if n.GetVehicle() == "vehicles/"+k.serial {
				told = append(told, n)
			}
		}
	}
	return told
}

// mailTo gives the last mail to an address, of as many as there are to be.
func (k *clicked) mailTo(address string, want int) []byte {
	k.t.Helper()
	copies := k.mails.copies(address)
	if len(copies) != want {
		k.t.Fatalf("%d mails to %s, want %d", len(copies), address, want)
	}
	return copies[want-1]
}

// hypertext is the HTML part of a mail.
func hypertext(t *testing.T, raw []byte) *html.Node {
	t.Helper()
	r, err := gomail.CreateReader(strings.NewReader(string(raw)))
	if err != nil {
		t.Fatal(err)
	}
	for {
		part, err := r.NextPart()
		if err == io.EOF {
			t.Fatal("a mail without HTML")
		}
		if err != nil {
			t.Fatal(err)
		}
		if head, ok := part.Header.(*gomail.InlineHeader); ok {
			if kind, _, err := head.ContentType(); err != nil || kind != "text/html" {
				continue
			}
		}
		root, err := html.Parse(part.Body)
		if err != nil {
			t.Fatal(err)
		}
		return root
	}
}

func wordsOf(n *html.Node) string {
	var b strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			b.WriteString(d.Data + " ")
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// linkIn is where the link with some words on it leads.
func linkIn(t *testing.T, raw []byte, words string) string {
	t.Helper()
	var seen []string
	for n := range hypertext(t, raw).Descendants() {
		if n.Type != html.ElementNode || n.DataAtom != atom.A {
			continue
		}
		if said := wordsOf(n); said != words {
			seen = append(seen, said)
			continue
		}
		for _, a := range n.Attr {
			if a.Key == "href" {
				return a.Val
			}
		}
	}
	t.Fatalf("no link %q in a mail with the links %q", words, seen)
	return ""
}

// follow opens a link of a mail.
func (k *clicked) follow(raw []byte, words string) {
	k.t.Helper()
	k.Open(linkIn(k.t, raw, words))
}

// stands wants lines about the rounds and no others of what comes up for the
// vehicle, with a reason, and a sentence that begins as given.
func (k *clicked) stands(when string, rounds []string, reason, sentence string) {
	k.t.Helper()
	lines, err := page.All(func(token string) ([]*reminderv1.PendingLine, string, error) {
		r, err := k.c.Reminders.ListPending(k.ctx, &reminderv1.ListPendingRequest{Parent: "vehicles/" + k.serial, PageSize: 500, PageToken: token})
		return r.GetLines(), r.GetNextPageToken(), err
	})
	if err != nil {
		k.t.Fatal(err)
	}
	var got []string
	for _, l := range lines {
		got = append(got, l.GetCycle())
		if l.GetReason() != reason || !strings.HasPrefix(l.GetSentence(), sentence) {
			k.t.Errorf("%s, %s: got %s %q, want %s %q", when, l.GetCycle(), l.GetReason(), l.GetSentence(), reason, sentence)
		}
	}
	if diff := cmp.Diff(slices.Sorted(slices.Values(rounds)), slices.Sorted(slices.Values(got))); diff != "" {
		k.t.Errorf("%s (-want +got):\n%s", when, diff)
	}
}

func cyclesOf(n *reminderv1.Notice) []string {
	var all []string
	for _, l := range n.GetLines() {
		all = append(all, l.GetCycle())
	}
	return all
}

// AM01082's work is due since 8 May. Told of it, its owner reports the odometer
// and books; takes that back when the day has gone by, which brings the mail
// that the booking held up; and has all of it done but the tyres.
func TestAnOwnerClicksFromTheMailToTheSilencedReminder(t *testing.T) {
	racetest.Skip(t, "one owner clicks, and passes follow each other")
	k := newClicked(t, "AM01082")
	const silas = "silas.harrowgate@moor.example"
	told := k.until("2026-05-18")
	if len(told) != 1 || told[0].GetStage() != reminderv1.Stage_STAGE_DUE {
		t.Fatalf("told %v", told)
	}
	rounds := cyclesOf(told[0])
	k.stands("told", rounds, "TOLD", "The notice that it is due went out by mail on 18 May 2026.")
	mail := k.mailTo(silas, 1)

	k.follow(mail, "See the whole schedule")
	k.Says("Packhorse AM01082", "To be done now", "Tyre tread and condition check", "Overdue since 8 May 2026", "13,552 miles on 21 April 2026")
	k.follow(mail, "Report the odometer")
	k.Enter("Odometer", "13,650")
	k.Press("Send")
	k.Says("Thank you", "We have 13,650 miles for AM01082, read on 18 May 2026.")
	k.reads("2026-05-18", "13650", "mi")

	k.follow(mail, "It is booked")
	k.Set("Day", "2026-06-01")
	k.Enter("Workshop, if you like", "Harbour Garage")
	k.Press("Send")
	k.Says("Thank you", "booked for 1 June 2026: Harbour Garage", "Until 8 June 2026 nobody is reminded of this", "Tyre tread and condition check")
	k.stands("booked", rounds, "BOOKED", "It is booked for 1 June 2026. Without the work, it is told again from 8 June 2026.")
	if told := k.until("2026-06-03"); len(told) != 0 {
		t.Errorf("booked, and told %v", told)
	}
	k.mailTo(silas, 1)

	k.follow(mail, "It is booked")
	k.Says("You told us that it is booked for 1 June 2026.")
	k.Press("Take this back")
	k.Says("Taken back", "We remind you as before.")
	k.stands("taken back", rounds, "TOLD", "It is told now, by mail.")
	told = k.until("2026-06-04")
	if len(told) != 1 || told[0].GetStage() != reminderv1.Stage_STAGE_OVERDUE || len(told[0].GetLines()) != len(rounds) {
		t.Fatalf("taken back, and told %v", told)
	}

	k.follow(k.mailTo(silas, 2), "It is done")
	for _, work := range telephone.Ask[[]string](k.Telephone, `[...document.querySelectorAll("label.pick")].map(e => e.innerText.trim())`) {
		if !strings.HasPrefix(work, "Tyre tread and condition check") {
			k.Pick(work)
		}
	}
	k.Set("Done on", "2026-06-02")
	k.Enter("Odometer", "13,702")
	k.Enter("Who did it, if you like", "Harbour Garage")
	k.Enter("Measured values, and what was found, if you like", "fan belt 11 mm")
	k.Press("Send")
	k.Says("Thank you", "done on 2 June 2026, as you told us", "may ask you for the papers", "Fan-belt tension and condition check: next by 2 December 2026.")
	k.reads("2026-06-02", "13702", "mi")
	done := slices.DeleteFunc(slices.Clone(rounds), func(c string) bool { return strings.HasPrefix(c, "W03.") })
	k.recorded(done)
	// The entry covers the rounds, so that nothing of them comes up any more.
	k.stands("done", []string{"W03.2025-11-08"}, "TOLD", "The overdue notice went out by mail on 3 June 2026.")

	told = k.until("2026-07-10")
	for _, n := range told {
		if cycles := cyclesOf(n); !slices.Equal(cycles, []string{"W03.2025-11-08"}) {
			t.Errorf("done, and %s tells of %v", n.GetName(), cycles)
		}
	}
	if len(told) != 1 {
		t.Errorf("%d notices about the tyres, want one", len(told))
	}
	k.mailTo(silas, 2+len(told))
}

// reads wants a reading that the owner gave.
func (k *clicked) reads(day, value, unit string) {
	k.t.Helper()
	r, err := k.c.Schedules.ListReadings(k.ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/" + k.serial, PageSize: 500})
	if err != nil {
		k.t.Fatal(err)
	}
	for _, m := range r.GetReadings() {
		on, err := vehiclewire.Date(m.GetReadingDate())
		if err == nil && on.String() == day && m.GetValue().GetEnteredValue() == value && m.GetValue().GetEnteredUnit() == unit {
			if m.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
				k.t.Errorf("%s %s of %s is %s", value, unit, day, m.GetState())
			}
			return
		}
	}
	k.t.Errorf("no reading of %s %s on %s among %d", value, unit, day, len(r.GetReadings()))
}

// recorded wants the entry that the owner's answer made, which has fixed words,
// and the answer, which has theirs.
func (k *clicked) recorded(cycles []string) {
	k.t.Helper()
	answers, err := k.c.Reminders.ListAnswers(k.ctx, &reminderv1.ListAnswersRequest{Parent: "vehicles/" + k.serial, PageSize: 500})
	if err != nil {
		k.t.Fatal(err)
	}
	all := answers.GetAnswers()
	at := slices.IndexFunc(all, func(a *reminderv1.Answer) bool { return a.GetKind() == reminderv1.AnswerKind_ANSWER_KIND_DONE })
	if at < 0 || !slices.Equal(slices.Sorted(slices.Values(all[at].GetCycles())), slices.Sorted(slices.Values(cycles))) ||
		all[at].GetWorkshop() != "Harbour Garage" || all[at].GetNote() != "fan belt 11 mm" {
		k.t.Fatalf("answered %v", all)
	}
	entries, err := k.c.Schedules.ListServiceEntries(k.ctx, &schedulev1.ListServiceEntriesRequest{Parent: "vehicles/" + k.serial, PageSize: 500})
	if err != nil {
		k.t.Fatal(err)
	}
	for _, e := range entries.GetServiceEntries() {
		if e.GetName() == all[at].GetServiceEntry() {
			if len(e.GetItems()) != len(cycles) || e.GetDoneBy() != "a workshop, by the owner's word" || e.GetNote() != "" {
				k.t.Errorf("recorded %v", e)
			}
			return
		}
	}
	k.t.Errorf("no entry %s", all[at].GetServiceEntry())
}

// AM0152V's work is due on 29 May.
func TestAnOwnerClicksToStopTheRemindersAndToGoOn(t *testing.T) {
	racetest.Skip(t, "one owner clicks, and passes follow each other")
	k := newClicked(t, "AM0152V")
	const tobias = "tobias.lowther-finch@harbour.example"
	told := k.until("2026-05-18")
	if len(told) != 1 || told[0].GetStage() != reminderv1.Stage_STAGE_EARLY {
		t.Fatalf("told %v", told)
	}
	rounds := cyclesOf(told[0])
	k.follow(k.mailTo(tobias, 1), "Stop reminders for this vehicle")
	k.Says("Stop the service reminders?", "Safety campaigns still come")
	if ways := telephone.Ask[int](k.Telephone, `document.querySelectorAll("a[href^='/']").length`); ways != 0 {
		t.Errorf("the page to stop leads to %d others", ways)
	}
	k.stands("looked at", rounds, "TOLD", "The early notice went out by mail on 18 May 2026.")
	k.Press("Stop the reminders")
	k.Says("The reminders are stopped", "no more service reminders about AM0152V")
	if told := k.until("2026-06-01"); len(told) != 0 {
		t.Errorf("stopped, and told %v", told)
	}
	k.stands("stopped", rounds, "OPTED_OUT", "The recipient wants no such notices about this vehicle.")
	k.mailTo(tobias, 1)

	k.Press("That was a mistake, go on")
	k.Says("Taken back", "We go on reminding you of what is due on AM0152V.")
	told = k.until("2026-06-02")
	if len(told) != 1 || told[0].GetStage() != reminderv1.Stage_STAGE_DUE {
		t.Fatalf("gone on, and told %v", told)
	}
	k.follow(k.mailTo(tobias, 2), "See the whole schedule")
	k.Says("Packhorse AM0152V")
}

// AM0154R's work is due on 26 May; it has another owner by then, who reads
// German.
func TestAnOwnerClicksToHandTheVehicleOver(t *testing.T) {
	racetest.Skip(t, "one owner clicks, and passes follow each other")
	k := newClicked(t, "AM0154R")
	const hector, ida = "hector.ravenscar@seaside.example", "ida@neuland.example"
	if told := k.until("2026-05-18"); len(told) != 1 {
		t.Fatalf("told %v", told)
	}
	mail := k.mailTo(hector, 1)
	k.follow(mail, "See the whole schedule")
	k.Says("Packhorse AM0154R")
	// Whoever has the message forwarded to them gets no code: its owner is asked.
	k.follow(mail, "The vehicle has a new owner")
	k.Press("Send me the link")
	k.Says("A link is on its way to you")
	asked := k.until("2026-05-18")
	if len(asked) != 0 { // it went out as soon as it was asked for, or goes with this pass
		t.Fatalf("told %v", asked)
	}
	k.follow(k.mailTo(hector, 2), "Hand the vehicle over")
	k.Press("Make the code")
	k.Says("The code for the new owner", "AM0154R")
	code, address := k.shown("The code"), k.shown("The page")

	k.clock.Move(time.Hour)
	k.Open(address)
	k.Press("Deutsch")
	k.Enter("Seriennummer des Fahrzeugs", "am 0154-r")
	k.Enter("Code", code)
	k.Enter("Ihr Name", "Ida Neuland")
	k.Enter("E-Mail-Adresse", ida)
	k.Set("Land", "Europe/Berlin")
	k.PickOf("per E-Mail", "Ja")
	k.PickOf("per Textnachricht", "Nein")
	k.PickOf("am Ende jedes Jahres", "Nein")
	k.Press("Übernehmen")
	k.Says("Willkommen", "AM0154R gehört in unseren Unterlagen jetzt Ihnen.")
	k.Press("Ansehen, was fällig ist")
	k.Says("Packhorse AM0154R")

	// The former owner's links are dead from that moment, all of them, and so is
	// the code.
	for _, words := range []string{"See the whole schedule", "Report the odometer", "The vehicle has a new owner", "Stop reminders for this vehicle"} {
		k.follow(mail, words)
		k.Says("This link leads nowhere")
	}
	told := k.until("2026-05-27")
	if len(told) == 0 || told[0].GetLanguage() != "de" || told[0].GetChannel() != reminderv1.Channel_CHANNEL_MAIL {
		t.Fatalf("the new owner is told %v", told)
	}
	k.mailTo(hector, 2)
	next := k.mailTo(ida, len(told))
	if said := wordsOf(hypertext(t, next)); !strings.Contains(said, "Ida Neuland") || strings.Contains(said, "Hector") || strings.Contains(said, "Ravenscar") {
		t.Errorf("the mail to the new owner says %s", said)
	}
	k.follow(next, "Den ganzen Wartungsplan ansehen")
	k.Says("Packhorse AM0154R")
}

// shown is what the page shows under a word, to be copied.
func (k *clicked) shown(word string) string {
	k.t.Helper()
	text := telephone.Ask[string](k.Telephone, fmt.Sprintf(`[...document.querySelectorAll("dt")].find(e => e.innerText.trim() == %q)?.nextElementSibling.innerText.trim() ?? ""`, word))
	if text == "" {
		k.t.Fatalf("the page shows no %s", word)
	}
	return text
}
