package reminderwords

import (
	"strings"

	"halfshaft/services/reminder"
)

// actions says what the reader can do, each by one press.
func (w *writer) actions() {
	if w.paper {
		return // see answers
	}
	w.put(Section, w.say("actions.title", nil))
	w.put(Text, w.say("actions.book", nil))
	w.link(Link, "actions.schedule", w.Links.Schedule)
	w.link(Link, "actions.booked", w.Links.Booked)
	w.link(Link, "actions.snooze", w.Links.Snooze)
	w.link(Link, "actions.done", w.Links.Done)
	w.put(Text, w.say(w.done(), nil))
}

// done asks for the measured values too, where some are wanted.
func (w *writer) done() string {
	if w.measures() {
		return "done.measured"
	}
	return "done"
}

func (w *writer) measures() bool {
	for _, l := range w.work {
		if len(l.Item.Measured) > 0 {
			return true
		}
	}
	return false
}

// odometer asks for the odometer, and says what the last reading was.
func (w *writer) odometer() {
	w.put(Section, w.say("reading.title", nil))
	text := w.say("reading.ask", nil)
	if last := w.Draft.Vehicle.LastReading; !last.IsZero() {
		text = w.say("reading.ask-since", with{"date": w.locale.Date(last)})
	}
	if w.Draft.OnlyAsks() {
		if reason := w.reason(w.Draft.Lines[0].Item); reason != "" {
			text += " " + reason
		}
	}
	if !w.paper {
		key := "reading.by-reply"
		if w.Links.Odometer != "" {
			key = "reading.by-link"
		}
		if w.Works.Phone != "" {
			key += "-phone"
		}
		text += " " + w.say(key, nil)
	}
	w.put(Text, text)
	w.link(Link, "actions.odometer", w.Links.Odometer)
	if w.Draft.OnlyAsks() {
		w.link(Link, "actions.snooze", w.Links.Snooze)
	}
}

// answers says on paper how to answer without a link.
func (w *writer) answers() {
	if !w.paper {
		return
	}
	w.put(Section, w.say("answer.title", nil))
	w.put(Text, w.say("answer.paper", nil))
	var rows []string
	if w.campaign() != nil {
		rows = w.campaignAnswers()
	} else if w.handout() != nil {
		w.list(w.handoutAnswers())
		return
	} else if len(w.work) > 0 && w.Year == nil {
		for _, key := range []string{"answer.booked", "answer.snooze", "answer.done"} {
			rows = append(rows, w.say(key, nil))
		}
	}
	rows = append(rows, w.say("answer.odometer", nil))
	if w.measures() {
		rows = append(rows, w.say("answer.measured", nil))
	}
	w.list(rows)
}

// foot says who writes, why to this reader, and how it stops.
func (w *writer) foot() {
	w.put(Text, OneLine(w.Works.Name))
	var rows []string
	if phone := OneLine(w.Works.Phone); phone != "" {
		rows = append(rows, w.say("foot.telephone", with{"phone": phone}))
	}
	if mail := OneLine(w.Works.Answers()); mail != "" {
		rows = append(rows, w.say("foot.mail", with{"mail": mail}))
	}
	if postal := w.Works.Address(); len(postal) > 0 {
		rows = append(rows, w.say("foot.post", with{"address": OneLine(strings.Join(postal, ", "))}))
	}
	if !w.paper || w.handout() == nil { // on paper they stand in the head, and a handbook's letter is one page without them
		w.list(rows)
	}
	w.link(Aside, "actions.calendar", w.Links.Calendar)
	w.link(Aside, "actions.transfer", w.Links.Transfer)
	role := "foot." + w.Draft.To.Role
	if !w.phrases.Has(role) || w.Draft.To.Role == "" {
		role = "foot.other"
	}
	why := w.say(role, nil) + " "
	switch {
	case w.Year != nil:
		w.put(Small, why+w.say("foot.stop-year", nil))
		w.link(Aside, "actions.stop-year", w.Links.Stop)
	case w.Draft.Purpose == reminder.Safety:
		w.put(Small, why+w.say("foot.safety", nil))
	case w.handout() != nil:
		w.put(Small, why+w.say("foot.handbook", nil))
	case w.matter() != nil:
		w.put(Small, w.say("foot.once", nil))
	default:
		w.put(Small, why+w.say("foot.stop", nil))
		w.link(Aside, "actions.stop", w.Links.Stop)
	}
}
