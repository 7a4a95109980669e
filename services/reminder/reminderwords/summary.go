package reminderwords

import (
	"slices"

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
		heading, day := w.over(v)
		for i, lines := range v.byDay(day) {
			if len(w.work) == 1 {
				heading, day = "", vehicle.Date{}
			} else if i > 0 {
				heading, day = w.same(lines[0].Item.ActBy)
			}
			w.put(Text, heading)
			var rows []string
			for _, l := range lines {
				n++
				rows = append(rows, w.row(n, l.Item, day))
			}
			if len(rows) > 0 {
				w.blocks = append(w.blocks, Block{Kind: List, Rows: rows, Numbered: len(w.work) > 1})
			}
		}
	}
}

// row is one piece of work below a day, zero for none.
func (w *writer) row(n int, i reminder.Item, over vehicle.Date) string {
	key := "summary.line"
	switch {
	case i.ActBy == over:
		key = "summary.line-there"
	case i.ActBy.Before(w.today):
		key = "summary.line-late"
	}
	return w.say(key, with{"title": w.numbered(n, i), "date": w.locale.Date(i.ActBy)})
}

// same is what stands over more of a visit's work, all of one day.
func (w *writer) same(day vehicle.Date) (string, vehicle.Date) {
	key := "summary.same"
	if day.Before(w.today) {
		key = "summary.same-late"
	}
	return w.say(key, with{"date": w.locale.Date(day)}), day
}

// muchForADay is how much work of one day gets a line of its own over it.
const muchForADay = 3

// byDay parts the work of a visit: what stands right under its heading, and then
// what is much for one day that is not the heading's.
func (v visit) byDay(over vehicle.Date) [][]reminder.Line {
	parts, at := [][]reminder.Line{nil}, map[vehicle.Date]int{over: 0}
	of := map[vehicle.Date]int{}
	for _, l := range v.lines {
		of[l.Item.ActBy]++
	}
	for _, l := range v.lines {
		day := l.Item.ActBy
		i, known := at[day]
		if !known && of[day] >= muchForADay {
			i, parts = len(parts), append(parts, nil)
		}
		at[day] = i
		parts[i] = append(parts[i], l)
	}
	return parts
}

// arranged is the work of a visit in the order in which the summary numbers it.
func (w *writer) arranged(v visit) []reminder.Line {
	_, day := w.over(v)
	return slices.Concat(v.byDay(day)...)
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
