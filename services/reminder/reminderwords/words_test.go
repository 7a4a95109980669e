package reminderwords

import (
	"fmt"
	"html"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"halfshaft/services/fault"
	"halfshaft/services/reminder"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// phrasesOf reads a phrase file plainly: the placeholders of each key, in
// order.
func phrasesOf(t *testing.T, file string) map[string]string {
	t.Helper()
	text, err := fs.ReadFile(builtIn, file)
	if err != nil {
		t.Fatal(err)
	}
	var phrases map[string]any
	if err := yaml.Unmarshal(text, &phrases); err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for key, phrase := range phrases {
		names := map[string]bool{}
		for _, m := range regexp.MustCompile(`\.([a-z_]+)`).FindAllStringSubmatch(strings.Join(regexp.MustCompile(`\{\{[^}]*\}\}`).FindAllString(fmt.Sprint(phrase), -1), " "), -1) {
			names[m[1]] = true
		}
		out[key] = strings.Join(slices.Sorted(maps.Keys(names)), " ")
	}
	return out
}

func TestBothLanguagesSayTheSameThings(t *testing.T) {
	english, german := phrasesOf(t, "words/en.yaml"), phrasesOf(t, "words/de.yaml")
	if len(english) < 150 {
		t.Fatalf("only %d phrases", len(english))
	}
	for key := range english {
		if _, ok := german[key]; !ok {
			t.Errorf("German lacks %s", key)
		} else if english[key] != german[key] {
			t.Errorf("%s: placeholders %q and %q", key, english[key], german[key])
		}
	}
	for key := range german {
		if _, ok := english[key]; !ok {
			t.Errorf("English lacks %s", key)
		}
	}
}

func TestTheDemoWorksTextsAreAllTranslated(t *testing.T) {
	r := renderer(t, aldermoorWords)
	used := map[string]bool{}
	need := func(english string) {
		t.Helper()
		english = OneLine(english)
		used[english] = true
		if _, _, ok := r.programme.in("de", english); !ok && english != "" {
			t.Errorf("no German for %q", english)
		}
	}
	for _, i := range programmeItems(t) {
		need(i.Title)
		need(i.Why)
		need(i.Caution)
		if i.Fluid != nil {
			need(i.Fluid.Name)
			need(i.Fluid.NeverMix)
		}
		for _, tool := range i.Tools {
			need(tool)
		}
		for _, m := range i.Measured {
			need(m.Characteristic)
			need(m.Method)
		}
		for _, p := range i.Parts {
			need(p.Position)
		}
	}
	if len(used) < 380 {
		t.Errorf("only %d texts", len(used))
	}
}

func TestTheDemoWorksTextsNameNoUnitThatOnlySomeReadIn(t *testing.T) {
	r := renderer(t, aldermoorWords)
	for _, i := range programmeItems(t) {
		texts := []string{i.Title, i.Why, i.Caution}
		for _, m := range i.Measured {
			texts = append(texts, m.Method)
		}
		for _, english := range texts {
			german, _, _ := r.programme.in("de", OneLine(english))
			for _, text := range []string{strings.ToLower(english), strings.ToLower(german)} {
				if (strings.Contains(text, "mile") || strings.Contains(text, "meile")) && !strings.Contains(text, "kilomet") && !strings.Contains(text, " km") {
					t.Errorf("%s: %q", i.ID, text)
				}
			}
		}
	}
}

func TestATranslationFollowsTheTextAndNotTheItem(t *testing.T) {
	r := renderer(t, aldermoorWords)
	oil := item(t, "E01")
	oil.Caution = "Hot oil burns. Stand the vehicle on level ground."
	m := mailOf(t, r, inGerman(letter(reminder.Due, oil)))
	if !strings.Contains(m.HTML, `<span lang="en">Hot oil burns. Stand the vehicle on level ground. (auf Englisch)</span>`) {
		t.Error("a caution that was changed is followed by the translation of another, or is not marked as English")
	}
}

func TestEveryEventAndUseOfTheScheduleHasItsWords(t *testing.T) {
	r := renderer(t, nil)
	for _, tag := range []string{"en", "de"} {
		p := r.catalogue.For(tag)
		for k := schedule.EventKind(1); k.Valid(); k++ {
			if key := phraseOf("event.", k.Words()); !p.Has(key) {
				t.Errorf("%s: no phrase %s", tag, key)
			}
		}
		for k := schedule.SaltCoast; k.Hard(); k++ {
			if key := phraseOf("use.", k.Words()); !p.Has(key) {
				t.Errorf("%s: no phrase %s", tag, key)
			}
		}
	}
}

// reasonsOf are reasons as the schedule gives them, for the readers of tables.
func reasonsOf(first string, facts map[string]string, more ...vehicle.Reason) []vehicle.Reason {
	r := vehicle.Reason{Rule: first, Sentence: "The schedule's own sentence."}
	for _, name := range slices.Sorted(maps.Keys(facts)) {
		r.Facts = append(r.Facts, fact(name, facts[name]))
	}
	return append([]vehicle.Reason{r}, more...)
}

func also(rule string, facts ...vehicle.Fact) vehicle.Reason {
	return vehicle.Reason{Rule: rule, Facts: facts, Sentence: "More of " + rule + "."}
}

func writerOf(t *testing.T, r *Renderer, l Letter) *writer {
	t.Helper()
	w, err := r.writer(l, false)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func TestALetterWithNothingToSayIsRefused(t *testing.T) {
	r := renderer(t, nil)
	l := wholeYear(t)
	l.Year = nil
	for _, empty := range []Letter{letter(reminder.Due), l} {
		_, mail := r.Mail(empty)
		_, text := r.Text(empty)
		_, sheet := r.Sheet(empty)
		for _, err := range []error{mail, text, sheet} {
			if !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "draft.lines") {
				t.Errorf("got %v", err)
			}
		}
	}
}

func TestPartsAreAskedForInOneLine(t *testing.T) {
	r := renderer(t, aldermoorWords)
	english, german := writerOf(t, r, earlyOil(t)), writerOf(t, r, inGerman(earlyOil(t)))
	for _, c := range []struct {
		part            Part
		english, german string
	}{
		{Part{Number: "AP-1", Title: "Spark plug", Position: "spark-plugs", Quantity: 4}, "4 × AP-1 Spark plug", "4 × AP-1 Zündkerze"},
		{Part{Number: "AP-1", Title: "Tyre", Position: "tyres", Quantity: 5}, "5 × AP-1 Tyre", "5 × AP-1 Reifen"},
		{Part{Number: "AP-1", Title: "Oil filter, spin on", Position: "oil-filter", Quantity: 1}, "1 × AP-1 Oil filter, spin on", "1 × AP-1 Ölfilter, Wechselfilter"},
		{Part{Number: "AP-1", Title: "Front brake set, drum", Position: "brakes-front"}, "AP-1 Front brake set, drum", "AP-1 Bremsensatz vorn, Trommel"},
		{Part{Number: "AP-1", Title: "Re-shim kit, output shaft", Position: "output-shaft-bearing"}, "AP-1 Re-shim kit, output shaft, output shaft bearing", "AP-1 Ausgleichssatz der Abtriebswelle, Lager der Abtriebswelle"},
		{Part{Number: "AP-1", Title: "Fan belt", Position: "fan-belt", IfNeeded: true}, "AP-1 fan belt, only if found worn", "AP-1 Keilriemen, nur bei Verschleiß"},
		{Part{Number: "AP-1", Position: "fan-belt", Quantity: 1}, "1 × AP-1 fan belt", "1 × AP-1 Keilriemen"},
		{Part{Number: "AP-1", Quantity: 2, GoesWith: true}, "2 × AP-1, goes with it", "2 × AP-1, gehört dazu"},
		{Part{Title: "fan belt", Position: "fan-belt"}, "fan belt (ask us for the number for this vehicle)", "Keilriemen (fragen Sie uns nach der Nummer für dieses Fahrzeug)"},
		{Part{Number: "AP-1", Title: "Widget"}, "AP-1 Widget", "AP-1 Widget (auf Englisch)"},
	} {
		if got := english.part(c.part); got != c.english {
			t.Errorf("got %q, want %q", got, c.english)
		}
		if got := german.part(c.part); got != c.german {
			t.Errorf("got %q, want %q", got, c.german)
		}
	}
}

func TestReasonsAreSaidInTheReadersLanguageAndUnit(t *testing.T) {
	r, done := renderer(t, aldermoorWords), also("LAST_DONE", fact("date", "2026-05-01"))
	for name, c := range map[string]struct {
		reasons         []vehicle.Reason
		english, german string
	}{
		"time": {inTime(day(2026, 5, 1), day(2027, 5, 1), "12", "180 miles", "3,000 miles"),
			"12 months since it was last done on 1 May 2026; about 180 miles driven since, of 3,000 miles.",
			"12 Monate seit dem letzten Mal am 1. Mai 2026; seitdem etwa 290 km gefahren, von etwa 4.800 km."},
		"driven to the mile": {inTime(day(2026, 5, 1), day(2027, 5, 1), "12", "4,773 miles", "5,500 miles"),
			"12 months since it was last done on 1 May 2026; about 4,800 miles driven since, of 5,500 miles.",
			"12 Monate seit dem letzten Mal am 1. Mai 2026; seitdem etwa 7.700 km gefahren, von etwa 8.900 km."},
		"one month": {reasonsOf("TIME_LIMB_ONLY", map[string]string{"due_date": "2026-06-01", "counted_from": "2026-05-01", "interval_months": "1"}, done),
			"1 month since it was last done on 1 May 2026; distance does not matter.",
			"1 Monat seit dem letzten Mal am 1. Mai 2026; die Fahrstrecke spielt keine Rolle."},
		"the calendar kept": {reasonsOf("TIME_LIMB_ONLY", map[string]string{"due_date": "2026-04-20", "counted_from": "2025-05-01", "interval_months": "12", "was_due": "2025-04-20"}, also("LAST_DONE", fact("date", "2025-05-01"))),
			"12 months since it was due on 20 April 2025, near which it was done, on 1 May 2025; distance does not matter.",
			"12 Monate seit dem Fälligkeitstag 20. April 2025, um den herum es am 1. Mai 2025 erledigt wurde; die Fahrstrecke spielt keine Rolle."},
		"an event": {reasonsOf("TIME_LIMB_FIRST", map[string]string{"due_date": "2026-05-03", "counted_from": "2026-05-01", "interval_days": "2"}, also("STARTED_BY_EVENT", fact("date", "2026-05-01"), fact("event", "the salt or beach use"))),
			"2 days since the drive in salt or on the beach on 1 May 2026.",
			"2 Tage seit der Fahrt im Salz oder am Strand am 1. Mai 2026."},
		"at once": {reasonsOf("TIME_LIMB_ONLY", map[string]string{"due_date": "2026-05-01", "counted_from": "2026-05-01", "interval_days": "0"}, also("STARTED_BY_EVENT", fact("date", "2026-05-01"), fact("event", "the wading"))),
			"to be done at once; counted since the wading on 1 May 2026.",
			"sofort zu erledigen; gezählt seit der Wasserdurchfahrt am 1. Mai 2026."},
		"put away": {reasonsOf("TIME_LIMB_ONLY", map[string]string{"due_date": "2026-06-01", "counted_from": "2026-05-01", "interval_months": "1"}, also("COUNTED_FROM_LAY_UP", fact("date", "2026-05-01"))),
			"1 month since it was put away on 1 May 2026; distance does not matter.",
			"1 Monat seit dem Einlagern am 1. Mai 2026; die Fahrstrecke spielt keine Rolle."},
		"bedding-in": {reasonsOf("DISTANCE_LIMB_ONLY", map[string]string{"due_date": "2026-08-01", "counted_from": "2026-05-01", "driven": "1 mile", "interval_distance": "500 miles", "per_year": "1,200 miles"},
			also("COUNTED_FROM_DELIVERY", fact("date", "2026-05-01"), fact("bedding_in", "yes"))),
			"500 miles since the delivery on 1 May 2026; about 1 mile driven since, at about 1,200 miles a year. This is the bedding-in round.",
			"etwa 800 km seit der Auslieferung am 1. Mai 2026; seitdem etwa 2 km gefahren, bei etwa 1.900 km im Jahr. Das ist die Arbeit nach dem Einlaufen."},
		"hard use from a day": {reasonsOf("TIME_LIMB_FIRST", map[string]string{"due_date": "2026-05-10", "counted_from": "2025-05-01", "interval_months": "6"}, also("LAST_DONE", fact("date", "2025-05-01")), also("SEVERE_USE", fact("use", "dust"))),
			"hard use (dust) was declared, and by then more than 6 months had passed since it was last done on 1 May 2025.",
			"harter Einsatz (Staub) wurde gemeldet, und bis dahin waren mehr als 6 Monate vergangen seit dem letzten Mal am 1. Mai 2025."},
		"hard use": {append(inTime(day(2026, 5, 1), day(2026, 11, 1), "6", "180 miles", "1,500 miles"), also("SEVERE_USE", fact("use", "dust and towing"))),
			"6 months since it was last done on 1 May 2026; about 180 miles driven since, of 1,500 miles. Hard use (dust and towing) shortens the interval.",
			"6 Monate seit dem letzten Mal am 1. Mai 2026; seitdem etwa 290 km gefahren, von etwa 2.400 km. Harter Einsatz (Staub und Anhängerbetrieb) verkürzt das Intervall."},
		"a new programme": {reasonsOf("TIME_LIMB_ONLY", map[string]string{"due_date": "2026-06-01", "counted_from": "2020-05-01"}, also("LAST_DONE", fact("date", "2020-05-01")), also("PROGRAMME_REVISED", fact("effective_date", "2026-06-01"))),
			"the service programme asks for it earlier, from 1 June 2026 on; counted since it was last done on 1 May 2020; distance does not matter.",
			"der Wartungsplan verlangt es ab dem 1. Juni 2026 früher; gezählt seit dem letzten Mal am 1. Mai 2020; die Fahrstrecke spielt keine Rolle."},
		"before a lay-up": {append(inTime(day(2025, 12, 1), day(2026, 12, 1), "12", "180 miles", "3,000 miles"), also("LAY_UP", fact("lay_up_from", "2026-10-20"), fact("act_by", "2026-10-19"))),
			"12 months since it was last done on 1 December 2025; about 180 miles driven since, of 3,000 miles. The vehicle is laid up then, so it is to be done before it is put away, by 19 October 2026.",
			"12 Monate seit dem letzten Mal am 1. Dezember 2025; seitdem etwa 290 km gefahren, von etwa 4.800 km. Das Fahrzeug ruht zu dieser Zeit, daher ist es vor dem Einlagern zu erledigen, bis zum 19. Oktober 2026."},
		"a unit from elsewhere": {reasonsOf("TIME_LIMB_ONLY", map[string]string{"due_date": "2026-06-01", "counted_from": "2026-05-01", "interval_months": "1"}, also("LAST_DONE", fact("date", "2026-05-01"), fact("stood_at", "AM0147P rear-axle-differential"))),
			"1 month since it was last done on 1 May 2026; distance does not matter. At that time the unit stood elsewhere (AM0147P rear axle differential).",
			"1 Monat seit dem letzten Mal am 1. Mai 2026; die Fahrstrecke spielt keine Rolle. Das Bauteil saß damals an anderer Stelle (AM0147P Differenzial der Hinterachse)."},
		"a rule that is not known": {reasonsOf("MOON_PHASE", nil), "The whole sentence.", "The whole sentence. (auf Englisch)"},
		"an event that is not known": {reasonsOf("TIME_LIMB_ONLY", map[string]string{"due_date": "2026-05-03", "counted_from": "2026-05-01", "interval_days": "2"}, also("STARTED_BY_EVENT", fact("date", "2026-05-01"), fact("event", "the eclipse"))),
			"The whole sentence.", "The whole sentence. (auf Englisch)"},
		"one more rule": {append(inTime(day(2026, 5, 1), day(2027, 5, 1), "12", "180 miles", "3,000 miles"), also("ANOTHER_RULE")),
			"12 months since it was last done on 1 May 2026; about 180 miles driven since, of 3,000 miles. More of ANOTHER_RULE.",
			"12 Monate seit dem letzten Mal am 1. Mai 2026; seitdem etwa 290 km gefahren, von etwa 4.800 km. More of ANOTHER_RULE. (auf Englisch)"},
		"a part that is only taken to be like another": {append(inTime(day(2026, 5, 1), day(2027, 5, 1), "12", "180 miles", "3,000 miles"), also("TRAITS_ASSUMED", fact("part", "AP-1"), fact("traits", "drum"), fact("like_part", "AP-2"))),
			"12 months since it was last done on 1 May 2026; about 180 miles driven since, of 3,000 miles. What AP-1 is like is not on record; it is taken to be like AP-2. Check on the vehicle before anything is filled in, adjusted or ordered by it.",
			"12 Monate seit dem letzten Mal am 1. Mai 2026; seitdem etwa 290 km gefahren, von etwa 4.800 km. Wie AP-1 beschaffen ist, ist nicht verzeichnet; angenommen wird, dass es AP-2 gleicht. Prüfen Sie am Fahrzeug, bevor danach etwas eingefüllt, eingestellt oder bestellt wird."},
		"no reasons": {nil, "The whole sentence.", "The whole sentence. (auf Englisch)"},
	} {
		i := item(t, "E01")
		i.Reasons, i.Sentence = c.reasons, "The whole sentence."
		if got := writerOf(t, r, letter(reminder.Due, i)).reason(i); got != c.english {
			t.Errorf("%s:\n got %s\nwant %s", name, got, c.english)
		}
		if got := writerOf(t, r, inGerman(letter(reminder.Due, i))).reason(i); got != c.german {
			t.Errorf("%s:\n got %s\nwant %s", name, got, c.german)
		}
	}
}

func TestSubjectsFitOneLineWhereTheyCan(t *testing.T) {
	r := renderer(t, aldermoorWords)
	for _, i := range programmeItems(t) {
		for stage := reminder.Early; stage <= reminder.SecondOverdue; stage++ {
			for _, l := range []Letter{letter(stage, i), inGerman(letter(stage, i, item(t, "E01")))} {
				// RFC 5322 section 2.1.1: 78 characters, "Subject: " among them.
				if m := mailOf(t, r, l); utf8.RuneCountInString("Subject: "+m.Subject) > 78 || strings.Contains(m.Subject, "\n") {
					t.Errorf("%d characters: %s", utf8.RuneCountInString(m.Subject), m.Subject)
				}
			}
		}
	}
}

func TestEachStageAndRoleHasItsOwnWords(t *testing.T) {
	r, seen := renderer(t, nil), map[string]string{}
	for stage := reminder.Early; stage <= reminder.SecondOverdue; stage++ {
		for _, role := range []string{"owner", "caretaker", "payer", "executor", "", "stranger"} {
			l := letter(stage, item(t, "E01"))
			l.Draft.To.Role = role
			w := writerOf(t, r, l)
			w.foot()
			for _, text := range []string{w.opening(), w.blocks[len(w.blocks)-2].Text} {
				key := fmt.Sprint(stage)
				if text != w.opening() {
					key = role
				}
				if role == "stranger" && text != w.opening() {
					key = ""
				}
				if was, ok := seen[text]; ok && was != key {
					t.Errorf("%q is said of %s and %s", text, was, key)
				}
				seen[text] = key
			}
		}
	}
	if len(seen) != 4+4+5 { // each stage speaks of the reader's own vehicle, or of another's
		t.Errorf("got %d openings and roles: %v", len(seen), seen)
	}
}

func TestTheLetterOfTheYearIsStoppedByItself(t *testing.T) {
	m := mailOf(t, renderer(t, nil), wholeYear(t))
	if !strings.Contains(m.Text, "Stop the letter at the year's end") || strings.Contains(m.Text, "Stop reminders") {
		t.Errorf("got %s", m.Text)
	}
	l := wholeYear(t)
	l.Year = &Year{Year: 2026}
	text := mailOf(t, renderer(t, nil), l).Text
	for _, want := range []string{"too few readings", "No work of this year is on record", "Nothing falls in 2027"} {
		if !strings.Contains(strings.Join(strings.Fields(text), " "), want) {
			t.Errorf("an empty year lacks %q", want)
		}
	}
}

func TestSafetyCannotBeStopped(t *testing.T) {
	l := earlyOil(t)
	l.Draft.Purpose, l.Links.Stop = reminder.Safety, ""
	r := renderer(t, nil)
	if m := mailOf(t, r, l); !strings.Contains(plainText(m.HTML), "Messages about safety cannot be stopped.") || strings.Contains(m.Text, "Stop reminders") {
		t.Errorf("got %s", m.Text)
	}
	if text := textOf(t, r, l); strings.Contains(text, "STOP") || !strings.Contains(text, "Hot oil burns") {
		t.Errorf("got %q", text)
	}
}

func TestTheSwissReadNoSharpS(t *testing.T) {
	r := renderer(t, aldermoorWords)
	l := inGerman(letter(reminder.Due, item(t, "E06"), item(t, "B01")))
	l.Draft.To.Language = "de-CH"
	m := mailOf(t, r, l)
	if m.Language != "de-CH" || !strings.Contains(m.HTML, `<html lang="de-CH">`) || !strings.Contains(m.Text, "auf die Strasse geht") {
		t.Errorf("got %s: %s", m.Language, m.Text)
	}
	// A name is not ours to spell.
	if got := strings.ReplaceAll(m.Text, "Weiß", ""); strings.Contains(got, "ß") || got == m.Text {
		t.Error("a sharp s stands in the mail, or the name has none")
	}
	for tag, want := range map[string]string{"de-AT": "de", "de": "de", "en-AU": "en", "": "en", "fr": "en", "not a tag": "en"} {
		if got := r.Language(tag); got != want {
			t.Errorf("%q: got %s, want %s", tag, got, want)
		}
	}
}

func TestAWorksLaysItsOwnWordsAndShapesOver(t *testing.T) {
	over := fstest.MapFS{
		"en.yaml":           {Data: []byte("greeting: \"Hello {{.name}},\"\n")},
		"programme.de.yaml": {Data: []byte("Engine oil and filter: Ölwechsel\n")},
		"notice.txt":        {Data: []byte("{{range .Blocks}}{{.Text}}\n{{end}}")},
	}
	r := renderer(t, over)
	if m := mailOf(t, r, earlyOil(t)); !strings.Contains(m.Text, "\nHello Margaret Hale,\n") || !strings.Contains(m.HTML, "Hello Margaret Hale,") {
		t.Errorf("got %s", m.Text)
	}
	if m := mailOf(t, r, inGerman(earlyOil(t))); !strings.Contains(m.Subject, "Ölwechsel") || !strings.Contains(m.Text, "Guten Tag Jürgen Weiß,") {
		t.Errorf("got %s", m.Subject)
	}
	for name, c := range map[string]struct{ file, text, want string }{
		"an unknown phrase":   {"de.yaml", "gruss: x\n", "gruss: nothing asks"},
		"an empty text":       {"programme.de.yaml", "Engine oil and filter: \"\"\n", "got no text"},
		"no language":         {"programme.german tongue.yaml", "a: b\n", "want a language tag"},
		"no mapping":          {"programme.de.yaml", "- a\n", "programme.de.yaml"},
		"a broken text shape": {"notice.txt", "{{range", "shape of the text"},
		"a broken HTML shape": {"notice.html", "{{range", "shape of the HTML"},
	} {
		if _, err := New(fstest.MapFS{c.file: {Data: []byte(c.text)}}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
}

func TestPagesGetItemsAndReasonsInTheirReadersLanguage(t *testing.T) {
	r := renderer(t, aldermoorWords)
	if got := r.Item("de-DE", "E01", "title", "Engine oil and filter"); got != "Motoröl und Ölfilter" {
		t.Errorf("got %q", got)
	}
	w := writerOf(t, r, inGerman(earlyOil(t)))
	reasons := reasonsOf("TIME_LIMB_ONLY", map[string]string{"due_date": "2026-05-01", "counted_from": "2026-05-01", "interval_days": "0"}, also("STARTED_BY_EVENT", fact("date", "2026-05-01"), fact("event", "the wading")))
	if got := r.Reason(w.locale, "", reasons, "English."); got != "Sofort zu erledigen; gezählt seit der Wasserdurchfahrt am 1. Mai 2026." {
		t.Errorf("got %q", got)
	}
	if got := r.Reason(w.locale, "", nil, ""); got != "" {
		t.Errorf("of nothing: %q", got)
	}
}

func BenchmarkMails(b *testing.B) {
	r := renderer(b, aldermoorWords)
	for name, l := range map[string]Letter{"one item": inGerman(earlyOil(b)), "forty items": inGerman(many(b, 40))} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := r.Mail(l); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// FuzzNamesStayNames puts whatever people may be called into a letter: it stays
// words, in one line, and turns nothing around.
func FuzzNamesStayNames(f *testing.F) {
	for _, name := range []string{
		"Margaret Hale", "M\r\nBcc: thief@else.example", "\u202eelaH", "דנה כהן", "<script>alert(1)</script>", `"><img src=x>`,
		"{{.Works}}", "a\x00b", "\xff\xfe", "\u2066x\u2069", "line\u2028line", strings.Repeat("x", 5000),
	} {
		f.Add(name)
	}
	r, oil := renderer(f, nil), earlyOil(f)
	f.Fuzz(func(t *testing.T, name string) {
		l := oil
		l.Draft.To.Name = name
		l.Time = time.Date(2027, time.April, 1, 9, 12, 0, 0, time.UTC)
		m := mailOf(t, r, l)
		for _, bad := range []string{"<script", "<img"} {
			if strings.Contains(m.HTML, bad) {
				t.Errorf("%q stands in the HTML of %q", bad, name)
			}
		}
		for _, bad := range []string{"\r", "\x00", "\u202e", "\u2066", "\u2028"} {
			if strings.Contains(m.HTML+m.Text+m.Subject, bad) {
				t.Errorf("%q stands in the mail of %q", bad, name)
			}
		}
		if !utf8.ValidString(m.Text) || strings.Count(m.HTML, "<h1") != 1 {
			t.Errorf("the mail of %q is broken", name)
		}
		if clean := OneLine(name); clean != "" && !strings.Contains(plainText(m.HTML), clean) {
			t.Errorf("the HTML does not greet %q: %s", clean, html.UnescapeString(m.HTML[:200]))
		}
	})
}
