package reminderwords

import (
	"fmt"
	"strings"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// dateText gives a date in the habit of a language tag: the month first for
// readers in the United States, the day first for everybody else.
func dateText(d vehicle.Date, language string) string {
	if d.IsZero() {
		return ""
	}
	tag := strings.ToLower(strings.ReplaceAll(language, "_", "-"))
	if tag == "en-us" || strings.HasPrefix(tag, "en-us-") {
		return fmt.Sprintf("%s %d, %d", d.Month, d.Day, d.Year)
	}
	return d.Long()
}

// oneLine collapses white space and drops control characters, for words that
// go into one line.
func oneLine(text string) string {
	return strings.Join(strings.FieldsFunc(text, func(r rune) bool { return r <= ' ' || r == 0x7f }), " ")
}

// subject names the vehicle and the work, and nobody.
func subject(d reminder.Draft, today vehicle.Date) string {
	lead := d.Lines[0].Item
	if d.OnlyAsks() {
		return string(d.Vehicle.Serial) + ": what does the odometer show?"
	}
	text := fmt.Sprintf("%s: %s", d.Vehicle.Serial, oneLine(lead.Title))
	date := dateText(lead.ActBy, d.To.Language)
	switch {
	case d.Stage == reminder.Overdue:
		text += ", overdue since " + date
	case lead.ActBy.Before(today):
		text += ", was due by " + date
	default:
		text += ", due by " + date
	}
	if more := works(d) - 1; more > 0 {
		text += fmt.Sprintf(", and %d more", more)
	}
	return text
}

// works counts the lines that are work, and no request for a reading.
func works(d reminder.Draft) int {
	n := 0
	for _, l := range d.Lines {
		if !l.Item.Reading {
			n++
		}
	}
	return n
}

// opening is the first paragraph.
func opening(d reminder.Draft) string {
	work := "a piece of work"
	if d.OnlyAsks() {
		return "Would you look at the odometer of your vehicle and tell us what it shows? Nothing is due today; a number is all we ask for."
	}
	if works(d) > 1 {
		work = "some work"
	}
	switch d.Stage {
	case reminder.Early:
		return "There is " + work + " coming up on your vehicle. Nothing is late: this is to let you arrange it in good time."
	case reminder.Overdue:
		const last = " We shall not write about what is overdue again; after this somebody from the works may ask how the vehicle is."
		for _, l := range d.Lines {
			if l.Stage != reminder.Overdue && !l.Item.Reading {
				return "By our records some of the work below is overdue on your vehicle, and the rest goes well with it or comes up soon." + last
			}
		}
		return "By our records the work below is overdue on your vehicle." + last
	}
	return "The time has come for " + work + " on your vehicle."
}

// when says by when, in the past tense once the day has gone.
func when(l reminder.Line, d reminder.Draft, today vehicle.Date) string {
	date := dateText(l.Item.ActBy, d.To.Language)
	switch days := today.DaysUntil(l.Item.ActBy); {
	case days < 0:
		return "Was due by " + date + "."
	case days == 0:
		return "Due today, " + date + "."
	}
	text := "Due by " + date
	if left := l.Item.DueDistance - d.Vehicle.Estimated; l.Item.DueDistance > 0 && d.Vehicle.Estimated > 0 && left > 0 {
		text += ", or after about another " + left.Text(d.To.Unit) + " if that comes first"
	}
	text += "."
	if n := l.Item.NotBefore; n.After(today) {
		text += " Not before " + dateText(n, d.To.Language) + "."
	}
	return text
}

// since says when it was last done and how far the vehicle has gone, where the
// reason does not say so in the reader's own unit.
func since(l reminder.Line, d reminder.Draft) string {
	if l.Item.LastDone.IsZero() || l.Item.Sentence != "" && d.Vehicle.Unit == d.To.Unit {
		return ""
	}
	text := "Last done on " + dateText(l.Item.LastDone, d.To.Language)
	if l.Item.DrivenSince > 0 {
		text += ", and driven about " + l.Item.DrivenSince.Text(d.To.Unit) + " since"
	}
	return text + "."
}

// sampleMark stands beside each figure of a programme that nobody signed.
const sampleMark = " (sample)"

// part is one thing to ask for, in a line.
func part(p Part) string {
	var b strings.Builder
	if p.Quantity > 0 {
		fmt.Fprintf(&b, "%d × ", p.Quantity)
	}
	if p.Number != "" {
		b.WriteString(p.Number + " ")
	}
	b.WriteString(oneLine(p.Title))
	if p.GoesWith {
		b.WriteString(" to go with it")
	}
	if p.Position != "" {
		fmt.Fprintf(&b, ", %s", strings.ReplaceAll(p.Position, "-", " "))
	}
	if p.IfNeeded {
		b.WriteString(", only if found worn")
	}
	if p.Number == "" {
		b.WriteString(" (ask us for the number for this vehicle)")
	}
	return b.String()
}

// fluid is what to fill in, in a line.
func fluid(f *reminder.Fluid, mark string) string {
	if f == nil {
		return ""
	}
	text := f.Name
	if f.Quantity != (vehicle.Quantity{}) {
		text += ", " + f.Quantity.String()
	}
	return text + mark
}

// measure is one value to send back, in a line.
func measure(m reminder.Measure, mark string) string {
	text := strings.ReplaceAll(oneLine(m.Characteristic), "-", " ")
	beyond := "or beyond"
	switch {
	case m.Lower != "" && m.Upper != "":
		text += fmt.Sprintf(": %s to %s %s", m.Lower, m.Upper, m.Unit)
	case m.Upper != "":
		text += fmt.Sprintf(": at most %s %s", m.Upper, m.Unit)
		beyond = "or more"
	case m.Lower != "":
		text += fmt.Sprintf(": at least %s %s", m.Lower, m.Unit)
		beyond = "or less"
	default:
		text += " in " + m.Unit
	}
	if m.Lower != "" || m.Upper != "" {
		text += mark
	}
	if m.Action != "" {
		text += fmt.Sprintf("; at %s %s %s%s, ask us before anything is changed", m.Action, m.Unit, beyond, mark)
	}
	if m.Method != "" {
		text += ". How: " + strings.TrimSuffix(oneLine(m.Method), ".") + "."
	}
	return text
}
