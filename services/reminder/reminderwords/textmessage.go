package reminderwords

import (
	"strings"
	"unicode/utf8"

	"halfshaft/services/reminder"
)

// twoSegments is what two parts of a longer message hold in the GSM alphabet:
// 153 characters each (3GPP TS 23.038). Titles give way to their number where
// that keeps a message so short.
const twoSegments = 2 * 153

// Text prints a letter as a text message: who, which vehicle, what, by when,
// one link, and how to stop. What a piece of work warns of stands in it where
// safety hangs on the work.
func (r *Renderer) Text(l Letter) (string, error) {
	w, err := r.writer(l, false)
	if err != nil {
		return "", err
	}
	// What helps least gives way first: the telephone beside a link, then the
	// titles. A message that is long all the same keeps its titles.
	text := w.short(mostHeading, false)
	for _, some := range []string{w.short(mostHeading, true), text, w.short(0, true), w.short(0, false)} {
		if utf8.RuneCountInString(some) <= twoSegments {
			text = some
			break
		}
	}
	return gsm(text), nil
}

// mostHeading is the longest first sentence before its titles give way to
// their number.
const mostHeading = 120

// short is the message, with titles in a first sentence of so many letters, and
// with the works' telephone beside a link or only where there is none.
func (w *writer) short(most int, telephone bool) string {
	if c := w.campaign(); c != nil {
		return w.campaignText(*c, most)
	}
	parts := []string{w.heading("text.", most)}
	switch s := w.Draft.Season; {
	case !s.Day.After(w.today) || w.Year != nil:
	case s.Kind == reminder.Recommissioning:
		parts = append(parts, w.say("text.out", with{"month": w.locale.Month(int(s.Day.Month))}))
	case s.Kind == reminder.PuttingAway:
		parts = append(parts, w.say("text.away", with{"day": w.day(s.Day)}))
	}
	parts = append(parts, w.vital()...)
	link := w.oneLink()
	if link != "" {
		parts = append(parts, link)
	}
	if phone := OneLine(w.Works.Phone); phone != "" && (telephone || link == "") {
		parts = append(parts, w.say("text.phone", with{"phone": phone}))
	}
	if w.Draft.Purpose.Ends() {
		parts = append(parts, w.say("text.stop", nil))
	}
	return strings.Join(parts, " ")
}

// oneLink is the link that serves the message best.
func (w *writer) oneLink() string {
	if w.Draft.OnlyAsks() && w.Links.Odometer != "" {
		return w.Links.Odometer
	}
	if w.handout() != nil {
		return w.Links.Handbook
	}
	if w.matter() != nil {
		return w.Links.Confirm
	}
	return w.Links.Schedule
}

// vital gives the cautions of the work that the vehicle is stopped, steered and
// held on the road by, however long the message becomes.
func (w *writer) vital() []string {
	var parts []string
	seen := map[string]bool{}
	for _, l := range w.work {
		caution := OneLine(l.Item.Caution)
		if l.Item.Class != reminder.Vital && w.Draft.Purpose != reminder.Safety || caution == "" || seen[caution] {
			continue
		}
		seen[caution] = true
		parts = append(parts, w.say("text.vital", with{"title": w.ours(l.Item.Title), "caution": w.ours(caution)}))
	}
	return parts
}

// gsm writes with the GSM alphabet what people write with other signs. What
// has no such form stays, and the message is sent in another alphabet.
func gsm(text string) string { return plainly.Replace(text) }

var plainly = strings.NewReplacer(
	"\u00a0", " ", "\u202f", " ", "\u2009", " ", "’", "'", "‘", "'", "„", `"`, "“", `"`, "”", `"`, "«", `"`, "»", `"`,
	"–", "-", "—", "-", "−", "-", "…", "...", "×", "x", "·", ".", "°", " deg ", "½", "1/2", "¼", "1/4", "²", "2", "³", "3",
)
