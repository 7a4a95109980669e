package reminderwords

import (
	"strings"

	"halfshaft/services/fault"
	"halfshaft/services/internal/locale"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// writer writes one letter: finished sentences, one block after another.
type writer struct {
	Letter
	phrases   locale.Phrases
	locale    locale.Locale
	programme programme
	today     vehicle.Date // by the reader's clock
	work      []reminder.Line
	paper     bool
	blocks    []Block
}

// with fills the placeholders of a phrase.
type with = map[string]any

func (r *Renderer) writer(l Letter, paper bool) (*writer, error) {
	to := l.Draft.To
	w := &writer{Letter: l, phrases: r.catalogue.For(to.Language), programme: r.programme, paper: paper}
	formats := to.Formats
	if formats == "" {
		formats = to.Language
	}
	w.locale = w.phrases.Locale(formats, to.Unit)
	w.work = workOf(l.Draft)
	w.today = vehicle.DateOf(to.Local(l.Time))
	if l.Year == nil && !l.Draft.OnlyAsks() && len(w.work) == 0 {
		return nil, fault.InvalidField("draft.lines", "", "work, a reading to ask for, or a year to tell of")
	}
	return w, nil
}

func (w *writer) say(key string, data with) string { return w.phrases.Say(key, w.also(data)) }

// also adds what every phrase may ask for: whether the vehicle is the reader's
// own.
func (w *writer) also(data with) with {
	if data == nil {
		data = with{}
	}
	data["own"] = w.Draft.To.Role == "owner" || w.Draft.To.Role == ""
	return data
}

func (w *writer) count(key string, n int, data with) string {
	data = w.also(data)
	data["n"] = w.locale.Number(int64(n))
	return w.phrases.Count(key, int64(n), data)
}

// put adds a block, unless it says nothing.
func (w *writer) put(kind, text string) {
	if text != "" {
		w.blocks = append(w.blocks, Block{Kind: kind, Text: text})
	}
}

// putOwn adds a block with words of the works' own records: translated, or in
// English and marked as such.
func (w *writer) putOwn(b Block, key, placeholder, english string) {
	text, found := w.own(english)
	if text == "" {
		return
	}
	if !found {
		b.Language = "en"
	}
	b.Text = text
	if key != "" {
		b.Text = w.say(key, with{placeholder: text})
	}
	w.blocks = append(w.blocks, b)
}

func (w *writer) link(kind, key, address string) {
	if address != "" && !w.paper {
		w.blocks = append(w.blocks, Block{Kind: kind, Text: w.say(key, nil), Link: address})
	}
}

func (w *writer) list(rows []string) {
	if len(rows) > 0 {
		w.blocks = append(w.blocks, Block{Kind: List, Rows: rows})
	}
}

// own gives words of the works' records in the reader's language. What is not
// translated stays English, and found is false.
func (w *writer) own(english string) (text string, found bool) {
	english = OneLine(english)
	if english == "" || w.english() {
		return refigured(english, "en", w.locale), true
	}
	if text, source, ok := w.programme.in(w.phrases.Tag(), english); ok {
		return refigured(text, source, w.locale), true
	}
	return w.say("untranslated", with{"text": refigured(english, "en", w.locale)}), false
}

// ours is own where the words stand in a sentence.
func (w *writer) ours(english string) string {
	text, _ := w.own(english)
	return text
}

// name is what the records call by an identifier: "oil-filter".
func (w *writer) name(id string) string {
	if text, _, ok := w.programme.in(w.phrases.Tag(), id); ok && !w.english() {
		return text
	}
	return w.ours(strings.ReplaceAll(id, "-", " "))
}

// unit is a unit of measurement; most need no translation.
func (w *writer) unit(u string) string {
	if text, _, ok := w.programme.in(w.phrases.Tag(), u); ok {
		return text
	}
	return OneLine(u)
}

// english reports whether the reader is written to in English, as the records
// are.
func (w *writer) english() bool {
	tag := w.phrases.Tag()
	return tag == "en" || strings.HasPrefix(tag, "en-")
}

// Item says a field of the programme ("title", "why", "caution"), of which text
// is the English, in a language; what is not translated stays English, and is
// marked as such.
func (r *Renderer) Item(language, _, _, text string) string {
	phrases := r.catalogue.For(language)
	w := &writer{phrases: phrases, programme: r.programme, locale: phrases.Locale(language, "")}
	return w.ours(text)
}

// Reason says why an item is due in a reader's language and unit. Where the
// schedule's reasons hold a rule that is not known here, sentence stands, which
// is what the schedule says in English.
func (r *Renderer) Reason(habit locale.Locale, _ string, reasons []vehicle.Reason, sentence string) string {
	w := &writer{phrases: r.catalogue.For(habit.Tag()), programme: r.programme, locale: habit}
	text := w.reason(reminder.Item{Reasons: reasons, Sentence: sentence})
	return wording.UpperFirst(text)
}

// message writes the whole letter.
func (w *writer) message() []Block {
	w.put(Heading, w.subject())
	w.greet()
	w.vehicle()
	switch c := w.campaign(); {
	case w.Year != nil:
		w.year()
	case c != nil:
		w.campaignBody(*c)
	case w.handout() != nil:
		w.handoutBody(*w.handout())
	case w.matter() != nil:
		w.matterBody(*w.matter())
	case w.Draft.OnlyAsks():
		w.odometer()
	default:
		w.summary()
		w.actions()
		w.items()
		w.odometer()
	}
	w.answers()
	w.foot()
	return w.blocks
}

// workOf gives the lines that are work, and no request for a reading.
func workOf(d reminder.Draft) []reminder.Line {
	var lines []reminder.Line
	for _, l := range d.Lines {
		if !l.Item.Reading && l.Item.Year == 0 {
			lines = append(lines, l)
		}
	}
	return lines
}
