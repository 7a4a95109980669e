package reminderwords

import (
	"strings"

	"halfshaft/services/vehicle"
)

// view is what both templates print: finished sentences only.
type view struct {
	Subject  string
	Greeting string
	Opening  string
	Serial   string
	Spoken   string
	Works    string
	Items    []itemView
	Sample   string // "" when the figures are signed

	LawFirst string
	Reading  string // what the odometer paragraph says before its link
	Odometer string // link, or ""
	Done     string
	Stopping string // what the last paragraph says before its link
	Stop     string // link, or ""
	Phone    string
	Reply    string // address for answers
}

// itemView is one item, as finished lines. An empty one is left out.
type itemView struct {
	Number   int // 0 when it is the only one
	Title    string
	When     string
	Since    string
	Reason   string
	Why      string
	Cautions []string
	Parts    []string
	Fluid    string
	Measures []string
	Tools    string
}

// makeView writes the sentences of a letter.
func makeView(l Letter) view {
	d := l.Draft
	today := vehicle.DateOf(d.To.Local(l.Time))
	v := view{
		Subject: subject(d, today), Greeting: "Dear " + oneLine(d.To.Name) + ",", Opening: opening(d),
		Serial: string(d.Vehicle.Serial), Spoken: d.Vehicle.Serial.Spoken(), Works: l.Works.Name,
		LawFirst: "Local law and licensed practice go first. If anything here does not fit what your mechanic finds, stop and ask us.",
		Odometer: l.Links.Odometer, Stop: l.Links.Stop, Phone: l.Works.Phone, Reply: l.Works.Answers(),
	}
	if oneLine(d.To.Name) == "" {
		v.Greeting = "Good day,"
	}
	mark := ""
	if d.Vehicle.Sample {
		mark = sampleMark
		v.Sample = "The service programme behind this message is a sample, to be signed by the works' engineer: " +
			"its intervals, and every figure marked (sample), are examples and not a specification."
	}
	for n, line := range d.Lines {
		if !line.Item.Reading {
			v.Items = append(v.Items, makeItem(l, n, today, mark))
		}
	}
	if len(v.Items) == 1 {
		v.Items[0].Number = 0
	}
	v.Reading = reading(l)
	v.Done = "When the work is done, or if it is done already, reply to this message with the date" +
		alsoTell(l) + ". Your mechanic may do that for you. Then we stop reminding you of it."
	if d.OnlyAsks() {
		v.Sample, v.LawFirst, v.Done = "", "", ""
	}
	v.Stopping = "You get this message because you look after this vehicle. " +
		"You can stop service reminders for it at any time; safety campaigns still come, whatever you choose."
	return v
}

func makeItem(l Letter, n int, today vehicle.Date, mark string) itemView {
	line := l.Draft.Lines[n]
	i := line.Item
	item := itemView{
		Number: n + 1, Title: oneLine(i.Title), When: when(line, l.Draft, today), Since: since(line, l.Draft),
		Reason: oneLine(i.Sentence), Why: oneLine(i.Why), Fluid: fluid(i.Fluid, mark),
		Tools: oneLine(strings.Join(i.Tools, "; ")),
	}
	if i.Caution != "" {
		item.Cautions = append(item.Cautions, oneLine(i.Caution))
	}
	if i.Fluid != nil && i.Fluid.NeverMix != "" {
		item.Cautions = append(item.Cautions, "Never mix the fluid with "+strings.TrimSuffix(oneLine(i.Fluid.NeverMix), ".")+".")
	}
	for _, p := range l.Parts[i.Cycle] {
		item.Parts = append(item.Parts, part(p))
		if c := oneLine(p.Caution); c != "" && c != oneLine(i.Caution) {
			item.Cautions = append(item.Cautions, c)
		}
	}
	for _, m := range i.Measured {
		item.Measures = append(item.Measures, measure(m, mark))
	}
	return item
}

// reading asks for the odometer, and says what the last reading was.
func reading(l Letter) string {
	text := "Please tell us what the odometer shows; our dates rest on it."
	if last := l.Draft.Vehicle.LastReading; !last.IsZero() {
		text = "Please tell us what the odometer shows; our dates rest on it, and the last reading we have is of " +
			dateText(last, l.Draft.To.Language) + "."
	}
	if l.Draft.OnlyAsks() {
		text += " " + oneLine(l.Draft.Lines[0].Item.Sentence)
	}
	answer := "A reply to this message"
	if l.Works.Phone != "" {
		answer += " or a call"
	}
	if l.Links.Odometer == "" {
		return text + " " + answer + " is enough."
	}
	return text + " " + answer + " will do, or this link:"
}

// alsoTell says what the answer should hold beside the date.
func alsoTell(l Letter) string {
	for _, line := range l.Draft.Lines {
		if len(line.Item.Measured) > 0 {
			return ", what the odometer shows, and the measured values"
		}
	}
	return " and what the odometer shows"
}
