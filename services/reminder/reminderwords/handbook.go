package reminderwords

import (
	"strings"

	"halfshaft/services/reminder"
)

// handout gives the handbook that is sent; nil for any other message.
func (w *writer) handout() *reminder.Handout {
	if len(w.work) == 0 {
		return nil
	}
	return w.work[0].Item.Handout
}

// handoutBody says which issue it is, what is different in it, and how to open
// it; on paper, where nothing can be pressed, how to get it.
func (w *writer) handoutBody(h reminder.Handout) {
	w.put(Section, w.say("handbook.title", nil))
	key := "handbook.issue"
	title, translated := w.own(h.Title)
	if title == "" || !translated {
		key = "handbook.untitled"
	}
	issue := w.say(key, with{"title": title, "number": h.Issue, "date": w.locale.Date(h.Date)})
	switch {
	case h.Issue <= 1:
		issue += " " + w.say("handbook.first", nil)
	case h.Changes > 0:
		issue += " " + w.count("handbook.changes", h.Changes, nil)
	default:
		issue += " " + w.say("handbook.same", nil)
	}
	if base, _, _ := strings.Cut(h.Language, "-"); base == "en" && !w.english() {
		issue += " " + w.say("handbook.english", nil)
	}
	w.put(Text, issue)
	if w.Links.Handbook == "" || w.paper {
		w.put(Section, w.say("handbook.how", nil))
		w.code()
		key, phone := "handbook.ask", OneLine(w.Works.Phone)
		if phone != "" {
			key = "handbook.ask-phone"
		}
		w.put(Text, w.say(key, with{"phone": phone}))
		return
	}
	w.put(Text, w.say("handbook.press", nil))
	w.link(Link, "actions.handbook", w.Links.Handbook)
	w.put(Text, w.say("handbook.paper", nil))
}

// code is the link to the handbook for the camera of a telephone, with the address
// that it leads to.
func (w *writer) code() {
	base, _, found := strings.Cut(w.Links.Handbook, "/l/")
	if !found || w.Links.HandbookUntil.IsZero() {
		return
	}
	_, host, _ := strings.Cut(base, "://")
	w.blocks = append(w.blocks, Block{Kind: Code, Link: w.Links.Handbook, Text: w.say("handbook.scan", with{"address": host, "date": w.locale.Date(w.Links.HandbookUntil)})})
}

// handoutAnswers are the lines on paper to say how somebody wants it.
func (w *writer) handoutAnswers() []string {
	return []string{w.say("answer.handbook-post", nil), w.say("answer.handbook-mail", nil)}
}
