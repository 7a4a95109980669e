package reminderwords

import (
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// matter gives what concerns the reader and not the vehicle; nil for any other
// message.
func (w *writer) matter() *reminder.Matter {
	if len(w.work) == 0 {
		return nil
	}
	return w.work[0].Item.Matter
}

// replaced names what was replaced, as keys end with it.
func replaced(m reminder.Matter) string {
	switch {
	case m.Email && m.Phone:
		return "both"
	case m.Email:
		return "mail"
	}
	return "phone"
}

func (w *writer) matterHeading(prefix string, m reminder.Matter, data with) string {
	if m.Confirms != "" {
		return w.say(prefix+string(m.Confirms), data)
	}
	data["day"] = w.day(vehicle.DateOf(w.Draft.To.Local(m.At)))
	return w.say(prefix+"changed-"+replaced(m), data)
}

func (w *writer) matterOpening(m reminder.Matter) string {
	if m.Confirms != "" {
		return w.say("opening."+string(m.Confirms), nil)
	}
	return w.say("opening.changed-"+replaced(m), with{"date": w.locale.Date(vehicle.DateOf(w.Draft.To.Local(m.At)))})
}

// matterBody says what to do, and what to do if it was somebody else.
func (w *writer) matterBody(m reminder.Matter) {
	key, how := "matter.not-changed", "-reply"
	if m.Confirms != "" {
		w.put(Text, w.say("matter.lasts", nil))
		w.link(Link, "actions."+string(m.Confirms), w.Links.Confirm)
		key = "matter.not-asked"
	} else {
		w.put(Text, w.say("matter.changed-by-you", nil))
	}
	phone := OneLine(w.Works.Phone)
	if phone != "" {
		how = "-phone"
	}
	w.put(Strong, w.say(key+how, with{"phone": phone}))
}
