package reminderwords

import (
	"strings"
	"testing"
	"time"

	"halfshaft/services/reminder"
)

// handbook is the third issue of a handbook, to whoever asked for it.
func handbook(testing.TB) Letter {
	return handbookOf(reminder.Handout{Issue: 3, Title: "Owner's handbook", Date: day(2027, time.March, 30), Changes: 4, Language: "en-GB"})
}

func handbookOf(h reminder.Handout) Letter {
	l := letter(reminder.Due, reminder.HandoutItem(h, "0192f0aa-0000-4000-8000-000000000001", day(2027, time.April, 1)))
	l.Draft.Purpose = reminder.Handbook
	l.Links = Links{Handbook: "https://owners.aldermoor.example/l/h" + token}
	return l
}

// plain is a text in one line.
func plain(text string) string { return strings.Join(strings.Fields(text), " ") }

func TestTheMailOfAHandbookSaysWhichIssueAndWhatIsDifferent(t *testing.T) {
	for name, c := range map[string]struct {
		h       reminder.Handout
		en, de  string
		without string
	}{
		"the first":          {reminder.Handout{Issue: 1, Title: "Owner's handbook", Date: day(2027, time.March, 30), Language: "en-GB"}, "It is the first one", "Es ist die erste Ausgabe", "issue before"},
		"one that differs":   {reminder.Handout{Issue: 2, Changes: 1, Date: day(2027, time.March, 30)}, "1 section is not as in the issue before", "1 Abschnitt ist anders", "first one"},
		"one that does not":  {reminder.Handout{Issue: 2, Date: day(2027, time.March, 30)}, "It says the same as the issue before", "Der Inhalt ist derselbe", "first one"},
		"of unknown tongue":  {reminder.Handout{Issue: 2, Date: day(2027, time.March, 30)}, "Issue 2, for the vehicle as it was on 30 March 2027.", "Ausgabe 2", "in English"},
		"in another tongue":  {reminder.Handout{Issue: 2, Date: day(2027, time.March, 30), Language: "fr"}, "Issue 2", "Ausgabe 2", "in English"},
		"with its own title": {reminder.Handout{Issue: 7, Title: "Owner's handbook", Date: day(2027, time.March, 30)}, "Owner's handbook, issue 7", "Ausgabe 7", "Owner's handbook (in English)"},
	} {
		for language, want := range map[string]string{"en-GB": c.en, "de-DE": c.de} {
			l := handbookOf(c.h)
			l.Draft.To.Language = language
			m, err := renderer(t, nil).Mail(l)
			if err != nil {
				t.Fatal(err)
			}
			if text := plain(m.Text); !strings.Contains(text, want) || strings.Contains(text, c.without) {
				t.Errorf("%s, in %s, without %q or with %q: %s", name, language, want, c.without, text)
			}
		}
	}
	german := handbook(t)
	german.Draft.To.Language = "de-DE"
	if m, err := renderer(t, nil).Mail(german); err != nil || !strings.Contains(plain(m.Text), "in englischer Sprache geschrieben.") {
		t.Errorf("a German reader is not told that it is in English: %v", err)
	}
}

func TestAHandbookIsNoReminder(t *testing.T) {
	m, err := renderer(t, nil).Mail(handbook(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, other := range []string{"stop service reminders", "odometer", "due", "Unsubscribe"} {
		if strings.Contains(m.Text, other) || strings.Contains(m.HTML, other) {
			t.Errorf("the mail speaks of %q", other)
		}
	}
	text, err := renderer(t, nil).Text(handbook(t))
	if err != nil || strings.Contains(text, "STOP") || !strings.Contains(text, "/l/h") {
		t.Errorf("got %v: %q", err, text)
	}
}

// A letter has no link: it says how the handbook is to be had, and how to ask.
func TestALetterSaysHowToGetTheHandbook(t *testing.T) {
	for _, phone := range []string{"", works.Phone} {
		l := handbook(t)
		l.Works.Phone = phone
		sheet, err := renderer(t, nil).Sheet(l)
		if err != nil {
			t.Fatal(err)
		}
		var said strings.Builder
		for _, b := range sheet.Blocks {
			said.WriteString(b.Text + " " + strings.Join(b.Rows, " ") + " ")
		}
		for _, want := range []string{"How to get it", "printed and sent to this address", "Please send it to me printed, to:", "to this mail address:"} {
			if !strings.Contains(said.String(), want) {
				t.Errorf("without %q: %s", want, said.String())
			}
		}
		if has := strings.Contains(said.String(), "Ring us on"); has != (phone != "") || strings.Contains(said.String(), "https://") || strings.Contains(said.String(), "A press") {
			t.Errorf("with the telephone %q: %s", phone, said.String())
		}
	}
}

// On paper the link is a square for a camera, with the address that it leads to and
// until when, and the telephone beside it.
func TestALetterHoldsTheLinkToTheHandbookForACamera(t *testing.T) {
	for tag, want := range map[string]string{"en-GB": "owners.aldermoor.example, to read and to print, until 30 July 2027", "de-DE": "owners.aldermoor.example, zum Lesen und zum Drucken, bis zum 30. Juli 2027"} {
		l := handbook(t)
		l.Draft.To.Language = tag
		l.Links.Handbook, l.Links.HandbookUntil = "https://owners.aldermoor.example/l/abc", day(2027, time.July, 30)
		sheet, err := renderer(t, nil).Sheet(l)
		if err != nil {
			t.Fatal(err)
		}
		found := 0
		for _, b := range sheet.Blocks {
			if b.Kind == Code && b.Link == l.Links.Handbook && strings.Contains(b.Text, want) {
				found++
			}
		}
		if found != 1 {
			t.Errorf("%s: %d squares in %+v", tag, found, sheet.Blocks)
		}
	}
}
