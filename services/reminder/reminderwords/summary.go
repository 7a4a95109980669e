package reminderwords

import (
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// sameVisit is how many days apart work may fall that is done on one visit:
// what the reminders themselves take together.
const sameVisit = 30

// visit is work that is done together: on a day from from on, by by.
type visit struct {
	lines    []reminder.Line
	from, by vehicle.Date
	late     bool // some of it is overdue
}

// visits groups work by visit, the leading one first, and keeps its order. All
// that is overdue is one visit, today. What may not be done yet by the day of a
// visit is another one.
func (w *writer) visits() []visit {
	var all []visit
next:
	for _, l := range w.work {
		v := w.alone(l)
		for i, o := range all {
			from, by := later(o.from, v.from), o.by
			if v.by.Before(by) {
				by = v.by
			}
			lead := w.alone(o.lines[0]).by
			if apart := lead.DaysUntil(v.by); -sameVisit <= apart && apart <= sameVisit && !by.Before(from) {
				all[i] = visit{append(o.lines, l), from, by, o.late || v.late}
				continue next
			}
		}
		all = append(all, v)
	}
	return all
}

// alone is one piece of work as a visit of its own.
func (w *writer) alone(l reminder.Line) visit {
	from := later(w.today, l.Item.NotBefore)
	return visit{[]reminder.Line{l}, from, later(from, l.Item.ActBy), l.Item.ActBy.Before(w.today)}
}

func later(a, b vehicle.Date) vehicle.Date {
	if a.Before(b) {
		return b
	}
	return a
}

// summary says what and by when, a line each, by visit. A day that stands over
// the lines is not said again in them.
func (w *writer) summary() {
	w.put(Section, w.say("summary.title", nil))
	n := 0
	for _, v := range w.visits() {
		over := vehicle.Date{} // the day that stands over the lines
		if len(w.work) > 1 {
			var heading string
			heading, over = w.over(v)
			w.put(Text, heading)
		}
		var rows []string
		for _, l := range v.lines {
			key := "summary.line"
			switch by := l.Item.ActBy; {
			case by == over:
				key = "summary.line-there"
			case by.Before(w.today):
				key = "summary.line-late"
			}
			n++
			rows = append(rows, w.say(key, with{"title": w.numbered(n, l.Item), "date": w.locale.Date(l.Item.ActBy)}))
		}
		w.blocks = append(w.blocks, Block{Kind: List, Rows: rows, Numbered: len(w.work) > 1})
	}
}

// over is what stands over the work of a visit, and the day that it names for
// all of it.
func (w *writer) over(v visit) (string, vehicle.Date) {
	key, day := "summary.visit", v.by
	if len(v.lines) == 1 {
		key = "summary.alone"
	}
	switch {
	case v.late:
		key += "-late"
		if day = v.oneDay(); !day.IsZero() && len(v.lines) > 1 {
			key += "-since"
		} else {
			day = vehicle.Date{}
		}
	case v.from.After(w.today) && v.from == v.by:
		key += "-on"
	case v.from.After(w.today):
		key += "-from"
	}
	return w.say(key, with{"from": w.locale.Date(v.from), "date": w.locale.Date(day)}), day
}

// oneDay is the day by which all the work of a visit was to be done; zero where
// there are several.
func (v visit) oneDay() vehicle.Date {
	for _, l := range v.lines {
		if l.Item.ActBy != v.lines[0].Item.ActBy {
			return vehicle.Date{}
		}
	}
	return v.lines[0].Item.ActBy
}

// numbered is the title of a piece of work, with its number where there are
// several.
func (w *writer) numbered(n int, i reminder.Item) string {
	title := w.ours(i.Title)
	if len(w.work) == 1 {
		return title
	}
	return w.say("item.title", with{"n": n, "title": title})
}
