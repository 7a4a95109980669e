package reminderwords

import (
	"encoding/json"
	"io/fs"
	"strings"
	"testing"

	"go.yaml.in/yaml/v3"

	"halfshaft/services/reminder"
)

// gsmAlphabet is the default alphabet of 3GPP TS 23.038 section 6.2.1, without
// the escape, and then its extension table.
const (
	gsmAlphabet  = "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
	gsmExtension = "\f^{}\\[~]|€"
)

// septets counts what a text takes in the GSM alphabet; false when it does not
// fit it.
func septets(text string) (int, bool) {
	n := 0
	for _, r := range text {
		switch {
		case strings.ContainsRune(gsmAlphabet, r):
			n++
		case strings.ContainsRune(gsmExtension, r):
			n += 2
		default:
			return 0, false
		}
	}
	return n, true
}

func textOf(t testing.TB, r *Renderer, l Letter) string {
	t.Helper()
	text, err := r.Text(l)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestTextMessagesReadAsTheGoldenFilesDo(t *testing.T) {
	each(t, func(t *testing.T, name string, r *Renderer, l Letter) { golden(t, name+".sms", textOf(t, r, l)+"\n") })
}

func TestOurOwnWordsForTextMessagesAreOfTheGSMAlphabet(t *testing.T) {
	for _, file := range []string{"words/en.yaml", "words/de.yaml"} {
		text, err := fs.ReadFile(builtIn, file)
		if err != nil {
			t.Fatal(err)
		}
		var phrases map[string]any
		if err := yaml.Unmarshal(text, &phrases); err != nil {
			t.Fatal(err)
		}
		for key, phrase := range phrases {
			if words, ok := phrase.(string); ok && strings.HasPrefix(key, "text.") {
				words = strings.NewReplacer("{{", "", "}}", "").Replace(words)
				if _, fits := septets(words); !fits {
					t.Errorf("%s: %s: %q", file, key, words)
				}
			}
		}
	}
}

func TestATextMessageIsShortAndSaysWhatItMust(t *testing.T) {
	each(t, func(t *testing.T, name string, r *Renderer, l Letter) {
		text := textOf(t, r, l)
		n, fits := septets(text)
		if !fits {
			t.Errorf("not of the GSM alphabet: %q", text)
		}
		vital := false
		for _, line := range l.Draft.Lines {
			vital = vital || line.Item.Class == reminder.Vital
		}
		// 3GPP TS 23.038: two parts of a longer message hold 153 septets each.
		if n > 2*153 && !vital {
			t.Errorf("%d septets: %q", n, text)
		}
		last := "STOP"
		if !l.Draft.Purpose.Ends() {
			last = "Tel. +44 1632 960983"
		}
		for _, must := range []string{"Aldermoor Works", "AM0147P", last} {
			if !strings.Contains(text, must) {
				t.Errorf("%q is not in %q", must, text)
			}
		}
		want := min(len(l.Links.Schedule+l.Links.Handbook), 1) // a payer has none
		if links := strings.Count(text, "https://"); links != want {
			t.Errorf("%d links in %q", links, text)
		}
	})
}

func TestATextMessageNeverLacksTheCautionOfWhatTheVehicleIsStoppedBy(t *testing.T) {
	r := renderer(t, aldermoorWords)
	for _, i := range programmeItems(t) {
		if i.Caution == "" {
			continue
		}
		i.Class = reminder.Vital
		for _, l := range []Letter{letter(reminder.Overdue, i), letter(reminder.Due, item(t, "E01"), i)} {
			if text := textOf(t, r, l); !strings.Contains(text, gsm(i.Caution)) {
				t.Errorf("%s: the caution is not in %q", i.ID, text)
			}
			if text := textOf(t, r, inGerman(l)); !strings.Contains(text, gsm(r.programme["de"][i.Caution])) {
				t.Errorf("%s: the caution is not in %q", i.ID, text)
			}
		}
	}
}

func TestATextMessageNamesTheTelephoneWhereItFits(t *testing.T) {
	r := renderer(t, aldermoorWords)
	const phone = "Tel. +44 1632 960983"
	short, long := textOf(t, r, earlyOil(t)), textOf(t, r, dueVisit(t))
	if !strings.Contains(short, phone) || !strings.Contains(short, "https://") {
		t.Errorf("got %q", short)
	}
	if strings.Contains(long, phone) { // its caution is long already
		t.Errorf("got %q", long)
	}
	l := earlyOil(t)
	l.Draft.To.Role, l.Links = "payer", Links{Stop: l.Links.Stop}
	if text := textOf(t, r, l); !strings.Contains(text, phone) || strings.Contains(text, "https://") {
		t.Errorf("got %q", text)
	}
}

func TestSheetsReadAsTheGoldenFilesDo(t *testing.T) {
	each(t, func(t *testing.T, name string, r *Renderer, l Letter) {
		sheet, err := r.Sheet(l)
		if err != nil {
			t.Fatal(err)
		}
		out, err := json.MarshalIndent(sheet, "", " ")
		if err != nil {
			t.Fatal(err)
		}
		var back Sheet
		if err := json.Unmarshal(out, &back); err != nil || len(back.Blocks) != len(sheet.Blocks) {
			t.Errorf("the sheet does not come back: %v", err)
		}
		if strings.Contains(string(out), "https://") || strings.Contains(string(out), `"link"`) {
			t.Error("a sheet has a link")
		}
		if base, _, _ := strings.Cut(name, "."); base == "overdue" || base == "year" || base == "stop" || base == "handbook" {
			golden(t, name+".sheet.json", string(out)+"\n")
		}
	})
}

func TestASheetSaysWhatTheMailSays(t *testing.T) {
	// What differs: links, and how to answer.
	each(t, func(t *testing.T, _ string, r *Renderer, l Letter) {
		sheet, err := r.Sheet(l)
		if err != nil {
			t.Fatal(err)
		}
		mail := strings.Join(strings.Fields(mailOf(t, r, l).Text), " ")
		for _, b := range sheet.Blocks {
			if b.Kind == Caution || b.Kind == Strong || b.Kind == Vehicle {
				if !strings.Contains(mail, b.Text) {
					t.Errorf("the mail lacks %q", b.Text)
				}
			}
		}
	})
}
