package reminderwords

import (
	"slices"
	"strings"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// items writes one section for each piece of work, and what holds for all.
func (w *writer) items() {
	for n, l := range slices.Concat(visits(w.work)...) {
		i := l.Item
		w.put(Section, w.numbered(n+1, i))
		w.put(Strong, w.when(i))
		if reason := w.reason(i); reason != "" {
			w.put(Text, w.say("reason", with{"reason": reason}))
		}
		w.putOwn(Block{Kind: Text}, "why", "why", i.Why)
		w.cautions(i)
		if ask := w.ask(i); len(ask) > 0 {
			w.put(Text, w.say("ask.title", nil))
			w.list(ask)
		}
	}
	if w.Draft.Vehicle.Sample {
		w.put(Small, w.say("sample", nil))
	}
	w.put(Text, w.say("law-first", nil))
}

// when says by when, in the past tense once the day has gone.
func (w *writer) when(i reminder.Item) string {
	date := with{"date": w.locale.Date(i.ActBy)}
	switch days := w.today.DaysUntil(i.ActBy); {
	case days < 0:
		return w.say("when.was", date)
	case days == 0:
		return w.say("when.today", date)
	}
	text := w.say("when.by", date)
	v := w.Draft.Vehicle
	if left := i.DueDistance - v.Estimated; i.DueDistance > 0 && v.Estimated > 0 && left.Whole(w.locale.Unit()) > 0 {
		text = w.say("when.by-distance", with{"date": date["date"], "left": w.locale.Distance(left)})
	}
	if i.NotBefore.After(w.today) {
		text += " " + w.say("when.not-before", with{"date": w.locale.Date(i.NotBefore)})
	}
	return text
}

// cautions says what can hurt, beside the work: the item's own, the fluid's,
// the parts'. Each stands once.
func (w *writer) cautions(i reminder.Item) {
	seen := map[string]bool{}
	caution := func(english string) {
		if english = OneLine(english); english != "" && !seen[english] {
			seen[english] = true
			w.putOwn(Block{Kind: Caution, Mark: w.say("caution", nil)}, "", "", english)
		}
	}
	caution(i.Caution)
	if f := i.Fluid; f != nil && OneLine(f.NeverMix) != "" {
		w.blocks = append(w.blocks, Block{Kind: Caution, Mark: w.say("caution", nil), Text: w.say("caution.never-mix", with{
			"fluid": w.ours(f.Name), "other": strings.TrimSuffix(w.ours(f.NeverMix), "."),
		})})
	}
	for _, p := range w.Parts[i.Cycle] {
		caution(p.Caution)
	}
}

// ask is what the mechanic needs and what we want to know, a line each.
func (w *writer) ask(i reminder.Item) []string {
	var rows []string
	for _, p := range w.Parts[i.Cycle] {
		rows = append(rows, w.say("ask.part", with{"part": w.part(p)}))
	}
	if f := i.Fluid; f != nil {
		quantity := ""
		if f.Quantity != (vehicle.Quantity{}) {
			quantity = w.locale.Decimal(f.Quantity.Value.String()) + " " + w.unit(f.Quantity.Unit)
		}
		text := w.say("fluid", with{"name": w.ours(f.Name), "quantity": quantity})
		rows = append(rows, w.say("ask.fluid", with{"fluid": text + w.mark()}))
	}
	if len(i.Tools) > 0 {
		var tools []string
		for _, t := range i.Tools {
			tools = append(tools, w.ours(t))
		}
		rows = append(rows, w.say("ask.tools", with{"tools": strings.Join(tools, "; ")}))
	}
	for _, m := range i.Measured {
		rows = append(rows, w.say("ask.measure", with{"measure": w.measure(m)}))
	}
	return rows
}

// mark stands beside each figure of a programme that nobody signed.
func (w *writer) mark() string {
	if !w.Draft.Vehicle.Sample {
		return ""
	}
	return " " + w.say("sample.mark", nil)
}

// part is one thing to ask for, in a line.
func (w *writer) part(p Part) string {
	place := ""
	if p.Position != "" && !p.GoesWith {
		place = w.name(p.Position)
	}
	quantity := ""
	if p.Quantity > 0 {
		quantity = w.locale.Number(int64(p.Quantity))
	}
	title := w.ours(p.Title)
	if called := strings.ReplaceAll(p.Position, "-", " "); place != "" && (title == "" || strings.EqualFold(OneLine(p.Title), called)) {
		title, place = place, "" // it is called as its place is
	}
	text := w.say("part", with{"quantity": quantity, "number": OneLine(p.Number), "title": title, "place": place})
	if p.GoesWith {
		text = w.say("part.goes-with", with{"part": text})
	}
	if p.IfNeeded {
		text = w.say("part.if-needed", with{"part": text})
	}
	if p.Number == "" {
		text = w.say("part.ask-us", with{"part": text})
	}
	return text
}

// measure is one value to send back, in a line.
func (w *writer) measure(m reminder.Measure) string {
	unit := w.unit(m.Unit)
	data := with{"name": w.name(m.Characteristic), "unit": unit, "lower": w.locale.Decimal(m.Lower), "upper": w.locale.Decimal(m.Upper)}
	key, action := "measure.only", "measure.action"
	switch {
	case m.Lower != "" && m.Upper != "":
		key = "measure.between"
	case m.Upper != "":
		key, action = "measure.most", "measure.action-more"
	case m.Lower != "":
		key, action = "measure.least", "measure.action-less"
	}
	text := w.say(key, data)
	if key != "measure.only" {
		text += w.mark()
	}
	if m.Action != "" {
		text += w.say(action, with{"action": w.locale.Decimal(m.Action), "unit": unit, "mark": w.mark()})
	}
	if m.Method != "" {
		text += w.say("measure.method", with{"method": strings.TrimSuffix(w.ours(m.Method), ".")})
	}
	return text
}
