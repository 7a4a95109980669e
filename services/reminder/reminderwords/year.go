package reminderwords

// year writes the letter at the year's end: what the vehicle did, what was
// done to it, and what comes next.
func (w *writer) year() {
	y := w.Year
	year := with{"year": y.Year}
	w.put(Section, w.say("year.driven.title", nil))
	if y.Driven > 0 {
		w.put(Text, w.say("year.driven", with{"year": y.Year, "distance": w.locale.About(y.Driven)}))
	} else {
		w.put(Text, w.say("year.not-driven", year))
	}
	if len(y.Readings) > 0 {
		w.put(Section, w.say("year.readings.title", nil))
		var rows []string
		for _, r := range y.Readings {
			rows = append(rows, w.say("year.reading", with{"date": w.locale.Date(r.Date), "value": w.locale.Entered(r.Value)}))
		}
		w.list(rows)
	}
	w.put(Section, w.say("year.work.title", nil))
	if len(y.Works) == 0 {
		w.put(Text, w.say("year.no-work", nil))
	}
	var rows []string
	for _, d := range y.Works {
		data, key := with{"date": w.locale.Date(d.Date), "title": w.ours(d.Title)}, "year.work"
		if workshop := OneLine(d.Workshop); workshop != "" {
			key, data["workshop"] = "year.work-at", workshop
		}
		rows = append(rows, w.say(key, data))
	}
	w.list(rows)
	if len(y.Measured) > 0 {
		w.put(Section, w.say("year.measured.title", nil))
		rows = nil
		for _, m := range y.Measured {
			rows = append(rows, w.change(m))
		}
		w.list(rows)
	}
	w.next()
	w.link(Link, "actions.schedule", w.Links.Schedule)
	if w.Draft.Vehicle.Sample {
		w.put(Small, w.say("sample", nil))
	}
	w.odometer()
}

func (w *writer) next() {
	y := w.Year
	next := with{"year": y.Year + 1}
	w.put(Section, w.say("year.next.title", next))
	if len(y.Next) == 0 {
		w.put(Text, w.say("year.nothing", next))
	}
	var rows []string
	for _, c := range y.Next {
		rows = append(rows, w.say("year.next", with{"title": w.ours(c.Title), "date": w.locale.Date(c.ActBy)}))
	}
	w.list(rows)
}

// change is a measured value and how it moved, with what is good.
func (w *writer) change(m Change) string {
	name := w.name(m.Characteristic)
	if m.Position != "" {
		name += ", " + w.name(m.Position)
	}
	data := with{"name": name, "now": w.figure(m.Now, m.Unit), "date": w.locale.Date(m.NowDate)}
	key := "year.measured"
	if m.Before != "" {
		key, data["before"], data["before_date"] = "year.moved", w.figure(m.Before, m.Unit), w.locale.Date(m.BeforeDate)
	}
	line := w.say(key, data)
	switch {
	case m.Lower != "" && m.Upper != "":
		return w.say("year.limits.between", with{"line": line, "range": w.figures(m.Lower, m.Upper, m.Unit)}) + w.mark()
	case m.Upper != "":
		return w.say("year.limits.most", with{"line": line, "upper": w.figure(m.Upper, m.Unit)}) + w.mark()
	case m.Lower != "":
		return w.say("year.limits.least", with{"line": line, "lower": w.figure(m.Lower, m.Unit)}) + w.mark()
	}
	return line
}
