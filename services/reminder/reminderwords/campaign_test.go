package reminderwords

import (
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// campaignGerman is what the letters of these tests say in English, in German.
const campaignGerman = `
"Relay arm of the steering": "Lenkzwischenhebel"
"On some vehicles the clamp bolt of the relay arm is of a steel that is too hard.": "Bei einigen Fahrzeugen ist die Klemmschraube des Lenkzwischenhebels aus zu hartem Stahl."
"The bolt can break, and then the vehicle can no longer be steered.": "Die Schraube kann brechen, und dann lässt sich das Fahrzeug nicht mehr lenken."
"Leave it where it stands. We fetch it.": "Lassen Sie es stehen, wo es steht. Wir holen es."
"Never work under a vehicle that stands on a jack alone.": "Arbeiten Sie nie unter einem Fahrzeug, das nur auf einem Wagenheber steht."
"Renew the clamp bolt and its nut, and mark the head with paint.": "Klemmschraube und Mutter erneuern und den Kopf mit Farbe zeichnen."
"Clamp bolt, relay arm": "Klemmschraube, Lenkzwischenhebel"
"steering-relay": "Lenkzwischenhebel"
"Seal of the heater tap": "Dichtung des Heizungsventils"
"The seal hardens with time.": "Die Dichtung wird mit der Zeit hart."
"Hot coolant can drip onto the driver's feet.": "Heißes Kühlmittel kann dem Fahrer auf die Füße tropfen."
"Hot coolant burns. Open nothing before the engine is cold.": "Heißes Kühlmittel verbrüht. Öffnen Sie nichts, bevor der Motor kalt ist."
`

// withCampaigns lays the German of these letters under a works' own.
func withCampaigns(over fs.FS) fs.FS {
	all := fstest.MapFS{}
	err := fs.WalkDir(over, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := fs.ReadFile(over, path)
		if path == "programme.de.yaml" {
			text = append(text, campaignGerman...)
		}
		all[path] = &fstest.MapFile{Data: text}
		return err
	})
	if err != nil {
		panic(err)
	}
	return all
}

func about(i reminder.Item, parts ...Part) Letter {
	l := letter(reminder.Due, i)
	l.Draft.Purpose, l.Links.Stop, l.Links.Booked, l.Links.Snooze, l.Links.Done = reminder.Safety, "", "", "", ""
	l.Parts[i.Cycle] = parts
	return l
}

// stopUse is the second letter about a campaign, whose vehicles must not be
// driven.
func stopUse(testing.TB) Letter {
	return about(reminder.Item{
		ID: "C-2026-02", Cycle: "C-2026-02.1-2", Title: "Relay arm of the steering", ActBy: day(2027, time.March, 31), Class: reminder.Vital,
		Caution: "Never work under a vehicle that stands on a jack alone.",
		Campaign: &reminder.Campaign{
			Round: 1, Letter: 2, StopUse: true, Sample: true, Before: day(2027, time.March, 1),
			Fault:       "On some vehicles the clamp bolt of the relay arm is of a steel that is too hard.",
			Consequence: "The bolt can break, and then the vehicle can no longer be steered.",
			Meanwhile:   "Leave it where it stands. We fetch it.",
			Remedy: []reminder.Remedy{{
				Title: "Renew the clamp bolt and its nut, and mark the head with paint.", Minutes: 90,
				Caution: "Never work under a vehicle that stands on a jack alone.",
			}},
		},
	}, Part{Number: "AP-2201", Title: "Clamp bolt, relay arm", Position: "steering-relay", Quantity: 2})
}

// campaign is the first letter about a campaign that leaves the vehicle on the
// road, to somebody who looks after it; its remedy is still being made.
func campaign(testing.TB) Letter {
	l := about(reminder.Item{
		ID: "C-2026-03", Cycle: "C-2026-03.1", Title: "Seal of the heater tap", ActBy: day(2027, time.April, 1), Class: reminder.Vital,
		Caution: "Hot coolant burns. Open nothing before the engine is cold.",
		Campaign: &reminder.Campaign{
			Round: 1, Letter: 1, Fault: "The seal hardens with time.", Consequence: "Hot coolant can drip onto the driver's feet.",
		},
	})
	l.Draft.To.Role = "caretaker"
	return l
}

// TestALetterAboutACampaignSaysItsPartsInOrder holds the mail, the message by
// telephone and the paper to the same order: not to drive it, what it is about,
// what is wrong, what can happen, what to do, what can hurt, that it costs
// nothing, and how to agree a day.
func TestALetterAboutACampaignSaysItsPartsInOrder(t *testing.T) {
	r, l := renderer(t, aldermoorWords), stopUse(t)
	i := l.Draft.Lines[0].Item
	order := []string{
		"Do not drive your vehicle", "This concerns the safety", "We wrote to you about this on 1 March 2027", i.Title, "What is wrong: " + i.Campaign.Fault,
		"What can happen: " + i.Campaign.Consequence, "What to do until it is put right: " + i.Campaign.Meanwhile, "CAUTION: " + i.Caution,
		"It costs you nothing", i.Campaign.Remedy[0].Title, "about 90 minutes", "2 × AP-2201 Clamp bolt, relay arm, steering relay", "Local law",
		"Ring us on +44 1632 960983", "no longer have the vehicle", "no engineer has signed", "cannot be stopped",
	}
	m := mailOf(t, r, l)
	mail := strings.Join(strings.Fields(m.Text), " ")
	if !strings.HasPrefix(m.Subject, "DO NOT DRIVE AM0147P") {
		t.Errorf("the subject is %q", m.Subject)
	}
	sheet, err := r.Sheet(l)
	if err != nil {
		t.Fatal(err)
	}
	paper := ""
	for _, b := range sheet.Blocks {
		paper += strings.TrimSpace(b.Mark+" "+b.Text) + " " + strings.Join(b.Rows, " ") + " "
	}
	for name, text := range map[string]string{"mail": mail, "paper": paper} {
		rest := text[strings.Index(text, "Dear "):]
		for _, want := range order {
			_, after, found := strings.Cut(rest, want)
			if !found {
				t.Errorf("the %s lacks %q where it belongs: %s", name, want, text)
				continue
			}
			rest = after
		}
		if strings.Count(text, i.Caution) != 1 {
			t.Errorf("the %s says the caution %d times", name, strings.Count(text, i.Caution))
		}
	}
	sms := textOf(t, r, l)
	rest := sms
	for _, want := range []string{"DO NOT DRIVE AM0147P", i.Title, "Until then: " + i.Campaign.Meanwhile, "CAUTION: " + i.Caution, "free of charge", "Tel. +44 1632 960983"} {
		_, after, found := strings.Cut(rest, want)
		if !found {
			t.Errorf("the text message lacks %q where it belongs: %s", want, sms)
		}
		rest = after
	}
}

func TestWhatALetterAboutACampaignDoesNotSay(t *testing.T) {
	r := renderer(t, aldermoorWords)
	first := stopUse(t)
	i := &first.Draft.Lines[0].Item
	c := *i.Campaign
	c.Before, c.StopUse, c.Sample = reminder.Item{}.ActBy, false, false
	i.Campaign = &c
	m := mailOf(t, r, first)
	for _, never := range []string{"We wrote to you", "Do not drive", "DO NOT DRIVE", "no engineer has signed", "overdue", "Remind me later", "Stop reminders", "reply to this message with the date"} {
		if strings.Contains(m.Subject+m.Text, never) {
			t.Errorf("%q stands in %s", never, m.Text)
		}
	}
	if !strings.Contains(mailOf(t, r, campaign(t)).Text, "the safety of the vehicle") {
		t.Error("a caretaker reads of their own vehicle")
	}
	wrong := stopUse(t)
	c = *wrong.Draft.Lines[0].Item.Campaign
	c.Wrong = true
	wrong.Draft.Lines[0].Item.Campaign = &c
	if text := strings.Join(strings.Fields(mailOf(t, r, wrong).Text), " "); !strings.Contains(text, "that work was found wrong") || strings.Contains(text, "We wrote to you") {
		t.Errorf("work that was found wrong: %s", text)
	}
	silent := stopUse(t)
	silent.Works.Phone = ""
	if text := mailOf(t, r, silent).Text; strings.Contains(text, "Ring us") || !strings.Contains(text, "Reply to this message and name") {
		t.Errorf("without a telephone: %s", text)
	}
}

// TestALongTitleOfACampaignIsSaidAllTheSame: work gives way to its number; what
// a campaign is about does not.
func TestALongTitleOfACampaignIsSaidAllTheSame(t *testing.T) {
	l := stopUse(t)
	l.Draft.Lines[0].Item.Title = strings.Repeat("Relay arm ", 12) + "of the steering"
	r := renderer(t, nil)
	for _, text := range []string{mailOf(t, r, l).Subject, textOf(t, r, l)} {
		if !strings.Contains(text, l.Draft.Lines[0].Item.Title) {
			t.Errorf("got %q", text)
		}
	}
}

func TestALetterSaysThatTheCampaignHasChangedToWhomeverItWroteBefore(t *testing.T) {
	r := renderer(t, aldermoorWords)
	for _, c := range []struct {
		name           string
		changed, wrong bool
		before         vehicle.Date
		says           []string
		never          []string
	}{
		{"written to before", true, false, day(2027, time.March, 1), []string{"We wrote to you about this on 1 March 2027. Since then what is to be done, or how dangerous it is, has changed"}, []string{"not been put right yet"}},
		{"never written to", true, false, vehicle.Date{}, nil, []string{"has changed", "We wrote to you"}},
		{"found wrong too", true, true, day(2027, time.March, 1), []string{"that work was found wrong", "has changed"}, nil},
		{"as it was", false, false, day(2027, time.March, 1), []string{"not been put right yet"}, []string{"has changed"}},
	} {
		l := stopUse(t)
		i := l.Draft.Lines[0].Item.Campaign
		i.Changed, i.Wrong, i.Before = c.changed, c.wrong, c.before
		text := strings.Join(strings.Fields(mailOf(t, r, l).Text), " ")
		for _, want := range c.says {
			if !strings.Contains(text, want) {
				t.Errorf("%s: it lacks %q: %s", c.name, want, text)
			}
		}
		for _, never := range c.never {
			if strings.Contains(text, never) {
				t.Errorf("%s: it says %q: %s", c.name, never, text)
			}
		}
	}
}
