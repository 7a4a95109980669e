package reminderwords

import (
	"strings"
	"unicode/utf8"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// mostSubject is how long a subject is, where it can be: RFC 5322 section
// 2.1.1 wants lines of 78 characters at most, the field's name included.
const mostSubject = 78 - len("Subject: ")

// subject names the vehicle, the work and the day, and nobody.
func (w *writer) subject() string { return w.heading("subject.", mostSubject) }

// heading says in a line what the message is about; titles that are too long
// for it give way to their number.
func (w *writer) heading(prefix string, most int) string {
	d := w.Draft
	data := with{"serial": string(d.Vehicle.Serial), "works": OneLine(w.Works.Name)}
	if w.Year != nil {
		data["year"] = w.Year.Year
		return w.say(prefix+"year", data)
	}
	if d.OnlyAsks() {
		return w.say(prefix+"reading", data)
	}
	if w.handout() != nil {
		return w.say(prefix+"handbook", data)
	}
	if m := w.matter(); m != nil {
		return w.matterHeading(prefix, *m, data)
	}
	lines := w.work
	lead := lines[0].Item
	data["day"] = w.day(lead.ActBy)
	key := prefix + "due"
	switch c := w.campaign(); {
	case c != nil:
		key = campaignHeading(prefix, c.Campaign)
	case d.Purpose == reminder.Safety:
		key = prefix + "safety"
	case d.Stage == reminder.SecondOverdue:
		key = prefix + "second"
	case d.Stage == reminder.Overdue:
		key = prefix + "overdue"
	case lead.ActBy.Before(w.today):
		key = prefix + "was-due"
	}
	data["what"] = w.what(lines)
	text := w.say(key, data)
	if utf8.RuneCountInString(text) > most && w.campaign() == nil { // what a campaign is about must be said
		data["what"] = w.count("subject.what-count", len(lines), nil)
		text = w.say(key, data)
	}
	return text
}

// what names the leading work and counts the rest.
func (w *writer) what(lines []reminder.Line) string {
	data := with{"title": w.ours(lines[0].Item.Title)}
	if len(lines) == 1 {
		return w.say("subject.what", data)
	}
	return w.count("subject.what-more", len(lines)-1, data)
}

// day leaves the year out where nobody takes it for another.
func (w *writer) day(d vehicle.Date) string {
	if apart := w.today.DaysUntil(d); apart < -180 || apart > 180 {
		return w.locale.Date(d)
	}
	return w.locale.Day(d)
}

func (w *writer) greet() {
	if name := OneLine(w.Draft.To.Name); name != "" {
		w.put(Text, w.say("greeting", with{"name": name}))
	} else {
		w.put(Text, w.say("greeting.nobody", nil))
	}
	if c := w.campaign(); c != nil {
		w.campaignOpening(c.Campaign)
		return
	}
	w.put(Text, w.opening())
}

// opening is the first paragraph: each stage has its own.
func (w *writer) opening() string {
	n := len(w.work)
	switch d := w.Draft; {
	case w.Year != nil:
		return w.say("opening.year", with{"year": w.Year.Year})
	case d.OnlyAsks():
		return w.say("opening.reading", nil)
	case d.Purpose == reminder.Safety:
		return w.say("opening.safety", nil)
	case d.Purpose == reminder.Handbook:
		return w.say("opening.handbook", nil)
	case w.matter() != nil:
		return w.matterOpening(*w.matter())
	case d.Stage == reminder.Early:
		return w.count(w.inTime(), n, nil)
	case d.Stage == reminder.Overdue:
		return w.count(w.overdue(), n, nil)
	case d.Stage == reminder.SecondOverdue:
		return w.count("opening.second", n, nil)
	}
	return w.count("opening.due", n, nil)
}

// inGoodTime is how many days ahead there is time to arrange things.
const inGoodTime = 7

// inTime is the phrase for work that is not late, by how soon the first of it
// is due.
func (w *writer) inTime() string {
	soonest := w.today.DaysUntil(w.work[0].Item.ActBy)
	for _, l := range w.work {
		soonest = min(soonest, w.today.DaysUntil(l.Item.ActBy))
	}
	switch {
	case soonest < 0:
		return "opening.due"
	case soonest == 0:
		return "opening.early-today"
	case soonest < inGoodTime:
		return "opening.early-soon"
	}
	return "opening.early"
}

// overdue is the phrase for work some of which is overdue. What it says of the
// rest is what the summary says: it goes with that, or comes later.
func (w *writer) overdue() string {
	late, with, later := false, false, false
	for _, v := range w.visits() {
		for _, l := range v.lines {
			if l.Item.ActBy.Before(w.today) {
				late = true
			} else if v.late {
				with = true
			} else {
				later = true
			}
		}
	}
	switch {
	case late && with && later:
		return "opening.overdue-partly"
	case late && with:
		return "opening.overdue-with"
	case late && later:
		return "opening.overdue-later"
	}
	return "opening.overdue"
}

// vehicle says which vehicle it is, and whether it rests.
func (w *writer) vehicle() {
	serial := w.Draft.Vehicle.Serial
	name, spoken := w.say("vehicle", with{"serial": string(serial)}), w.say("vehicle.spoken", with{"spoken": w.spoken(serial)})
	w.blocks = append(w.blocks, Block{Kind: Vehicle, Text: name, Rows: []string{spoken}})
	if len(w.work) > 0 && w.Year == nil {
		w.season()
	}
}

// spoken spells a serial: letters in the international alphabet, digits in the
// reader's language.
func (w *writer) spoken(s vehicle.Serial) string {
	words := strings.Fields(s.Spoken())
	for i := range words {
		if c := s[min(i, len(s)-1)]; c >= '0' && c <= '9' {
			words[i] = w.say("digit."+string(c), nil)
		}
	}
	return strings.Join(words, " ")
}

// season says what the work has to do with the vehicle's rest: it is for
// before it comes out, with the time that is left for parts, or for before it
// is put away.
func (w *writer) season() {
	s := w.Draft.Season
	date := with{"date": w.locale.Date(s.Day)}
	switch {
	case !s.Day.After(w.today): // it is over, and the words would be wrong
	case s.Kind == reminder.PuttingAway:
		w.put(Text, w.say("season.away", date))
	case s.Kind == reminder.Recommissioning:
		text := w.say("season.return", with{"date": date["date"], "month": w.locale.Month(int(s.Day.Month))})
		if weeks := w.today.DaysUntil(s.Day) / 7; weeks > 0 {
			text += " " + w.count("season.lead", weeks, nil)
		}
		w.put(Text, text)
	}
}
