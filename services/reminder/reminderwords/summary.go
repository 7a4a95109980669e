package reminderwords

import (
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// sameVisit is how many days apart work may fall that is done on one visit:
// what the reminders themselves take together.
const sameVisit = 30

// visits groups work by visit, the leading one first, and keeps its order.
func visits(lines []reminder.Line) [][]reminder.Line {
	var all [][]reminder.Line
next:
	for _, l := range lines {
		for i, v := range all {
			if apart := v[0].Item.ActBy.DaysUntil(l.Item.ActBy); -sameVisit <= apart && apart <= sameVisit {
				all[i] = append(v, l)
				continue next
			}
		}
		all = append(all, []reminder.Line{l})
	}
	return all
}

// summary says what and by when, a line each, by visit.
func (w *writer) summary() {
	w.put(Section, w.say("summary.title", nil))
	n := 0
	for _, visit := range visits(w.work) {
		first := visit[0].Item.ActBy
		var rows []string
		for _, l := range visit {
			if l.Item.ActBy.Before(first) {
				first = l.Item.ActBy
			}
			key := "summary.line"
			if l.Item.ActBy.Before(w.today) {
				key = "summary.line-late"
			}
			n++
			rows = append(rows, w.say(key, with{"title": w.numbered(n, l.Item), "date": w.locale.Date(l.Item.ActBy)}))
		}
		if len(w.work) > 1 {
			w.put(Text, w.visit(len(visit), first))
		}
		w.list(rows)
	}
}

func (w *writer) visit(n int, by vehicle.Date) string {
	key := "summary.visit"
	if n == 1 {
		key = "summary.alone"
	}
	if by.Before(w.today) {
		key += "-late"
	}
	return w.say(key, with{"date": w.locale.Date(by)})
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
