package reminderwords

import (
	"slices"
	"strings"
	"unicode"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// items writes one section for each piece of work, and what holds for all. Work
// of one visit of which all the same is to be said, and for which nothing is
// asked, shares a section.
func (w *writer) items() {
	n := 0
	for _, v := range w.visits() {
		var sections [][]Block // each with its heading first
		for _, l := range w.arranged(v) {
			n++
			title, body := w.numbered(n, l.Item), w.body(l.Item)
			i := slices.IndexFunc(sections, func(s []Block) bool { return alike(s[1:], body) })
			if i < 0 {
				sections = append(sections, append([]Block{{Kind: Section, Text: title}}, body...))
			} else {
				sections[i][0].Text = w.say("item.titles", with{"titles": sections[i][0].Text, "title": title})
			}
		}
		w.blocks = append(w.blocks, slices.Concat(sections...)...)
	}
	if w.Draft.Vehicle.Sample {
		w.put(Small, w.say("sample", nil))
	}
	w.put(Text, w.say("law-first", nil))
}

// body is what a section says of a piece of work.
func (w *writer) body(i reminder.Item) []Block {
	before := w.blocks
	w.blocks = nil
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
	body := w.blocks
	w.blocks = before
	return body
}

// alike reports whether two sections say the same and ask for nothing: of what
// is asked for, it would not be clear whether it is for one or for each.
func alike(a, b []Block) bool {
	return slices.EqualFunc(a, b, func(x, y Block) bool {
		return x.Kind != List && x.Kind == y.Kind && x.Mark == y.Mark && x.Text == y.Text && x.Language == y.Language
	})
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
		text = w.say("when.by-distance", with{"date": date["date"], "left": w.locale.About(left)})
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
	called := strings.ReplaceAll(p.Position, "-", " ")
	switch {
	case place == "":
	case title == "" || strings.EqualFold(OneLine(p.Title), called):
		title, place = place, "" // it is called as its place is
	case names(p.Title, called):
		place = ""
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

// names reports whether a title has all the words of a place in it, in one
// number or the other: "Spark plug" is what stands at "spark plugs".
func names(title, place string) bool {
	has := map[string]bool{}
	for _, word := range strings.FieldsFunc(strings.ToLower(title), func(r rune) bool { return !unicode.IsLetter(r) }) {
		has[strings.TrimSuffix(word, "s")] = true
	}
	for _, word := range strings.Fields(strings.ToLower(place)) {
		if !has[strings.TrimSuffix(word, "s")] {
			return false
		}
	}
	return true
}

// measure is one value to send back, in a line.
func (w *writer) measure(m reminder.Measure) string {
	data := with{"name": w.name(m.Characteristic), "unit": w.unit(m.Unit)}
	key, action := "measure.only", "measure.action"
	switch {
	case m.Lower != "" && m.Upper != "":
		key, data["range"] = "measure.between", w.figures(m.Lower, m.Upper, m.Unit)
	case m.Upper != "":
		key, action, data["upper"] = "measure.most", "measure.action-more", w.figure(m.Upper, m.Unit)
	case m.Lower != "":
		key, action, data["lower"] = "measure.least", "measure.action-less", w.figure(m.Lower, m.Unit)
	}
	text := w.say(key, data)
	if key != "measure.only" {
		text += w.mark()
	}
	if m.Action != "" {
		text += w.say(action, with{"action": w.figure(m.Action, m.Unit), "mark": w.mark()})
	}
	if m.Method != "" {
		text += w.say("measure.method", with{"method": strings.TrimSuffix(w.ours(m.Method), ".")})
	}
	return text
}
