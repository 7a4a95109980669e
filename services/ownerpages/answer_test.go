package ownerpages_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/links"
	"halfshaft/services/vehicle/vehiclewire"
)

func TestABookingIsToldAndTakenBack(t *testing.T) {
	d, server := newDesk(t)
	address := link(t, server, links.Booked)
	page := get(t, address)
	if !strings.Contains(page.say(), "Change engine oil and filter, by 10 June 2026") || strings.Contains(page.say(), "end float") {
		t.Fatalf("it is about %s", page.say())
	}
	form := filled(page.page.form(t, "Send"), "day", "2026-06-02", "workshop", "Harbour Garage")
	a := post(t, address, form)
	// A booking keeps quiet until a week after its day.
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "booked for 2 June 2026: Harbour Garage") || !strings.Contains(a.say(), "Until 9 June 2026") {
		t.Fatalf("got %d, %s", a.StatusCode, a.say())
	}
	got := d.answers[0]
	if got.GetPerson() != thePerson || got.GetKind() != reminderv1.AnswerKind_ANSWER_KIND_BOOKED || got.GetWorkshop() != "Harbour Garage" || got.GetNotice() != d.notice.GetName() ||
		!slices.Equal(got.GetCycles(), []string{"E01.2025-06-10", "B01.2024-06-20"}) {
		t.Errorf("answered %v", got)
	}
	if post(t, address, form); len(d.answers) != 1 {
		t.Error("sent twice, it is recorded twice")
	}
	// It can be taken back from the thank-you page, and from the link later.
	later := get(t, address)
	if !strings.Contains(later.say(), "You told us that it is booked for 2 June 2026.") {
		t.Errorf("the next time: %s", later.say())
	}
	undone := post(t, address, a.page.form(t, "Take this back"))
	if undone.StatusCode != http.StatusOK || d.answers[0].GetWithdrawTime() == nil || !strings.Contains(undone.say(), "We remind you as before") {
		t.Errorf("got %d, %s", undone.StatusCode, undone.say())
	}
	if after := get(t, address); strings.Contains(after.say(), "You told us") {
		t.Errorf("taken back, it is still shown: %s", after.say())
	}
	if again := post(t, address, later.page.form(t, "Take this back")); again.StatusCode != http.StatusOK {
		t.Errorf("taken back twice: got %d, %s", again.StatusCode, again.say())
	}
}

// Somebody goes back in their browser, changes the form and sends it again.
func TestAFormThatIsChangedAndSentAgainIsToldOf(t *testing.T) {
	for purpose, c := range map[links.Purpose]struct{ field, first, then string }{
		links.Odometer: {"value", "12345", "12350"}, links.Booked: {"day", "2026-06-01", "2026-06-02"},
		links.Snooze: {"day", "2026-06-01", "2026-06-17"}, links.Done: {"workshop", "Harbour Garage", "Hill Garage"},
	} {
		d, server := newDesk(t)
		address := link(t, server, purpose)
		form := filled(get(t, address).page.form(t, "Send"), c.field, c.first)
		if purpose == links.Done {
			form["item"] = bothRounds
		}
		if a := post(t, address, form); a.StatusCode != http.StatusOK {
			t.Fatalf("%c: got %d, %s", purpose, a.StatusCode, a.say())
		}
		before := d.count()
		a := post(t, address, filled(form, c.field, c.then))
		if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), "You sent this form before") || d.count() != before {
			t.Errorf("%c: got %d, %s, %d changes", purpose, a.StatusCode, a.say(), d.count()-before)
			continue
		}
		if purpose == links.Done {
			continue // its rounds are over, and the form has nothing to tick
		}
		if a := post(t, address, a.page.form(t, "Send")); a.StatusCode != http.StatusOK || d.count() != before+1 {
			t.Errorf("%c, meant: got %d, %s, %d changes", purpose, a.StatusCode, a.say(), d.count()-before)
		}
	}
}

func TestOnlyWhatThisPersonSaidIsTakenBack(t *testing.T) {
	d, server := newDesk(t)
	day := vehiclewire.DateProto(date("2026-06-02"))
	d.answers = []*reminderv1.Answer{
		{Name: theVehicle + "/answers/0", Person: "people/p0040", Kind: reminderv1.AnswerKind_ANSWER_KIND_BOOKED, AnswerDate: day},
		{Name: theVehicle + "/answers/1", Person: thePerson, Kind: reminderv1.AnswerKind_ANSWER_KIND_DONE, AnswerDate: day},
	}
	address := link(t, server, links.Booked)
	if strings.Contains(get(t, address).say(), "2 June") {
		t.Error("it shows what others said")
	}
	for _, a := range d.answers {
		post(t, address, url.Values{"do": {"undo"}, "answer": {a.GetName()}})
		if a.GetWithdrawTime() != nil {
			t.Errorf("%s was taken back", a.GetName())
		}
	}
}

func TestWorkIsPutOff(t *testing.T) {
	for _, c := range []struct {
		name, day, other, want string
		says                   string
	}{
		{"an offered day", "2026-06-01", "", "2026-06-01", "Until 1 June 2026 we do not remind you of:"},
		{"another day", "other", "2026-05-30", "2026-05-30", "Until 30 May 2026"},
		{"another day, nothing chosen", "", "2026-05-30", "2026-05-30", "Until 30 May 2026"},
		{"nothing", "", "", "", "choose a day after today and not after 17 June 2026"},
		{"another day, and none given", "other", "", "", "choose a day"},
		{"today", "other", "2026-05-18", "", "choose a day"},
		{"too late for what bears on safety", "other", "2026-06-18", "", "not after 17 June 2026"},
		{"the last day", "other", "2026-06-17", "2026-06-17", "Until 17 June 2026"},
		{"two days", "2026-06-01", "2026-05-30", "", "and gave another one"},
		{"no day", "other", "31/02/2026", "", "choose a day"},
	} {
		d, server := newDesk(t)
		address := link(t, server, links.Snooze)
		a := post(t, address, filled(get(t, address).page.form(t, "Send"), "day", c.day, "other", c.other))
		if !strings.Contains(a.say(), c.says) || (a.StatusCode == http.StatusOK) != (c.want != "") || (len(d.answers) == 1) != (c.want != "") {
			t.Errorf("%s: got %d, %s, %v", c.name, a.StatusCode, a.say(), d.answers)
			continue
		}
		if c.want == "" {
			continue
		}
		got := d.answers[0]
		if on, _ := vehiclewire.Date(got.GetAnswerDate()); on.String() != c.want || got.GetKind() != reminderv1.AnswerKind_ANSWER_KIND_SNOOZED {
			t.Errorf("%s: answered %v", c.name, got)
		}
		if post(t, address, a.page.form(t, "Take this back")); got.GetWithdrawTime() == nil {
			t.Errorf("%s: it was not taken back", c.name)
		}
	}
}

func TestARequestForAReadingIsPutOffToo(t *testing.T) {
	d, server := newDesk(t)
	d.notice.Lines = d.notice.Lines[2:]
	if a := get(t, link(t, server, links.Snooze)); !strings.Contains(a.say(), "Nothing is open") {
		t.Errorf("nobody asks any more: %s", a.say())
	}
	d.wanted = "READ.2026-05-01"
	a := post(t, link(t, server, links.Snooze), url.Values{"day": {"2026-06-01"}})
	if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "what the odometer shows") || !slices.Equal(d.answers[0].GetCycles(), []string{"READ.2026-05-01"}) {
		t.Errorf("got %d, %s, %v", a.StatusCode, a.say(), d.answers)
	}
	if a := get(t, link(t, server, links.Booked)); !strings.Contains(a.say(), "Nothing is open") {
		t.Errorf("a reading needs no workshop: %s", a.say())
	}
}

func TestTheBoundOfPuttingOffIsTold(t *testing.T) {
	d, server := newDesk(t)
	d.layUpEnd = "2026-06-05"
	a := get(t, link(t, server, links.Snooze))
	for _, want := range []string{"bears on safety", "at most 30 days, until 17 June 2026", "in 7 days, on 25 May 2026", "when it is brought back, on 6 June 2026"} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	if strings.Contains(a.say(), "90 days") {
		t.Errorf("it offers a day beyond the bound: %s", a.say())
	}
	if form := a.page.form(t, "Send"); form.Get("day") != "" {
		t.Errorf("a day is chosen beforehand: %v", form)
	}
	d.layUpEnd = "2026-05-01" // over
	if a := get(t, link(t, server, links.Snooze)); strings.Contains(a.say(), "brought back") {
		t.Errorf("it offers a day that has gone: %s", a.say())
	}
	d.notice.Lines = d.notice.Lines[:1]
	if a := get(t, link(t, server, links.Snooze)); !strings.Contains(a.say(), "at most 180 days, until 14 November 2026") || !strings.Contains(a.say(), "in 90 days") {
		t.Errorf("without safety: %s", a.say())
	}
}

// bothRounds are the rounds of work in the desk's notice.
var bothRounds = []string{"E01.2025-06-10", "B01.2024-06-20"}

// Nobody but the owner knows what was done: a press too many would end the
// reminders of the brakes.
func TestNothingIsTickedThatSomebodyHasNotTicked(t *testing.T) {
	d, server := newDesk(t)
	a := get(t, link(t, server, links.Done))
	if items := a.page.form(t, "Send")["item"]; len(items) > 0 {
		t.Errorf("ticked beforehand: %v", items)
	}
	for _, want := range []string{"tick only what was really done", "What bears on safety Change brake fluid", "Other work Change engine oil and filter"} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	if strings.Contains(a.say(), "Thank you") {
		t.Errorf("it thanks for what nobody has sent: %s", a.say())
	}
	d.notice.Lines = d.notice.Lines[:1] // one piece of work is what the page is about
	if a := get(t, link(t, server, links.Done)); !slices.Equal(a.page.form(t, "Send")["item"], bothRounds[:1]) || strings.Contains(a.say(), "safety") {
		t.Errorf("one alone: %s", a.say())
	}
}

func TestDoneIsRecordedAsTheOwnersStatement(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-05-01", "12000", "km")
	address := link(t, server, links.Done)
	form := get(t, address).page.form(t, "Send")
	if form.Get("date") != "2026-05-18" {
		t.Fatalf("the form is %v", form)
	}
	form["item"] = bothRounds[:1]
	a := post(t, address, filled(form, "date", "2026-05-16", "value", "12,100", "workshop", "Harbour Garage", "note", "4.5 l went in"))
	if a.StatusCode != http.StatusOK {
		t.Fatalf("got %d, %s", a.StatusCode, a.say())
	}
	for _, want := range []string{"done on 16 May 2026, as you told us: Change engine oil and filter", "may ask you for the papers", "glad of the values", "Change engine oil and filter: next by 16 May 2027"} {
		if !strings.Contains(a.say(), want) {
			t.Errorf("without %q: %s", want, a.say())
		}
	}
	e, got := d.entries[0], d.answers[0]
	// What somebody writes is theirs, and the entry is the vehicle's.
	if e.GetDoneBy() != "a workshop, by the owner's word" || e.GetNote() != "" || e.GetReading().GetEnteredValue() != "12100" || len(e.GetItems()) != 1 || e.GetItems()[0].GetItemId() != "E01" || len(e.GetParts()) > 0 {
		t.Errorf("recorded %v", e)
	}
	if got.GetKind() != reminderv1.AnswerKind_ANSWER_KIND_DONE || got.GetServiceEntry() != e.GetName() || !slices.Equal(got.GetCycles(), form["item"]) || got.GetWorkshop() != "Harbour Garage" || got.GetNote() != "4.5 l went in" {
		t.Errorf("answered %v", got)
	}
	// Sent twice, when its rounds are over by then, it is known again.
	if again := post(t, address, form); again.StatusCode != http.StatusOK || len(d.entries) != 1 || len(d.answers) != 1 {
		t.Errorf("again: %d, %s, %d entries", again.StatusCode, again.say(), len(d.entries))
	}
	// What is left is one piece of work, and ticked.
	if next := get(t, address); !slices.Equal(next.page.form(t, "Send")["item"], bothRounds[1:]) || strings.Contains(next.say(), "engine oil") {
		t.Errorf("it still asks about the oil: %s", next.say())
	}
	undone := post(t, address, a.page.form(t, "Take this back"))
	if undone.StatusCode != http.StatusOK || e.GetVoidReason() == "" || got.GetWithdrawTime() == nil {
		t.Errorf("got %d, %s; %v, %v", undone.StatusCode, undone.say(), e, got)
	}
	if next := get(t, address); !strings.Contains(next.say(), "Change engine oil and filter, by 10 June 2026") {
		t.Errorf("taken back, it is not open again: %s", next.say())
	}
}

func TestWhatIsWrongWithWorkIsSaid(t *testing.T) {
	d, server := newDesk(t)
	d.read("2026-05-01", "12000", "km")
	address := link(t, server, links.Done)
	for _, c := range []struct{ name, field, value, want string }{
		{"no item", "item", "", "tick at least one"},
		{"an item of no notice", "item", "T01.2024-09-01", "tick at least one"},
		{"an item that nobody has", "item", "X99.2024-09-01", "tick at least one"},
		{"tomorrow", "date", "2026-05-19", "not later than today"},
		{"before it was last done", "date", "2024-06-19", "after the time before"},
		{"no figures", "value", "twelve", "as the odometer shows them"},
		{"two figures", "value", "12.100", "Which do you mean?"},
		{"a long name", "workshop", strings.Repeat("x", 201), "longer than we can keep"},
		{"a long note", "note", strings.Repeat("x", 501), "longer than we can keep"},
		{"an unlikely value", "value", "11000", "Is it right?"},
	} {
		form := get(t, address).page.form(t, "Send")
		form["item"] = bothRounds
		a := post(t, address, filled(form, c.field, c.value))
		if !strings.Contains(a.say(), c.want) || d.count() != 0 {
			t.Errorf("%s: got %d, %s, %d changes", c.name, a.StatusCode, a.say(), d.count())
		}
	}
	// What was ticked stays ticked when the form comes back.
	form := get(t, address).page.form(t, "Send")
	form["item"] = bothRounds[1:]
	a := post(t, address, filled(form, "value", "11000"))
	if back := a.page.form(t, "It is right"); !slices.Equal(back["item"], form["item"]) {
		t.Errorf("ticked %v, shown %v", form["item"], back["item"])
	} else if a := post(t, address, back); a.StatusCode != http.StatusOK || len(d.entries) != 1 {
		t.Errorf("sent as it is: got %d, %s", a.StatusCode, a.say())
	}
}

func TestALinkWithoutANoticeIsAboutAllThatComesUp(t *testing.T) {
	d, server := newDesk(t)
	target := links.Target{Serial: theSerial, Person: "p0031"}
	a := get(t, server.URL+"/l/"+tokenFor(t, links.Booked, target, now.Add(time.Hour)))
	if !strings.Contains(a.say(), "engine oil") || !strings.Contains(a.say(), "brake fluid") || strings.Contains(a.say(), "end float") {
		t.Errorf("it is about %s", a.say())
	}
	d.notice.Lines = []*reminderv1.NoticeLine{{ItemId: "E01", Cycle: "E01.2024-06-10"}} // long since done
	for _, purpose := range []links.Purpose{links.Booked, links.Snooze, links.Done} {
		for _, a := range []answer{get(t, link(t, server, purpose)), post(t, link(t, server, purpose), url.Values{"day": {"2026-06-01"}})} {
			if purpose == links.Done && a.Request.Method == "POST" {
				continue
			}
			if a.StatusCode != http.StatusOK || !strings.Contains(a.say(), "Nothing is open") || len(d.answers) != 0 {
				t.Errorf("%c: got %d, %s", purpose, a.StatusCode, a.say())
			}
		}
	}
}

func TestABookingNeedsADayThatHasNotGone(t *testing.T) {
	d, server := newDesk(t)
	address := link(t, server, links.Booked)
	for _, day := range []string{"", "2026-05-17", "soon", "2026-11-15"} {
		a := post(t, address, filled(get(t, address).page.form(t, "Send"), "day", day))
		if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(a.say(), "a day, today or later") || d.count() != 0 {
			t.Errorf("%q: got %d, %s", day, a.StatusCode, a.say())
		}
	}
	long := strings.Repeat("ö", 200)
	if a := post(t, address, filled(get(t, address).page.form(t, "Send"), "day", "2026-05-18", "workshop", long+"ö")); !strings.Contains(a.say(), "longer than we can keep") || d.count() != 0 {
		t.Errorf("a name of 201 characters: %s", a.say())
	}
	if a := post(t, address, filled(get(t, address).page.form(t, "Send"), "day", "2026-05-18", "workshop", long)); !strings.Contains(a.say(), "booked for 18 May 2026: "+long) || d.count() != 1 {
		t.Errorf("a name of 200 characters: %s", a.say())
	}
}

func TestWorkOfWhichNobodySaysWhoDidItIsTheOwners(t *testing.T) {
	d, server := newDesk(t)
	address := link(t, server, links.Done)
	form := get(t, address).page.form(t, "Send")
	form["item"] = bothRounds
	a := post(t, address, form)
	if a.StatusCode != http.StatusOK || d.entries[0].GetDoneBy() != "the owner" || d.entries[0].GetNote() != "" {
		t.Errorf("got %d, %s, %v", a.StatusCode, a.say(), d.entries)
	}
}
