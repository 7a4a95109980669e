package figure

import (
	"cmp"
	"slices"
	"strings"

	"halfshaft/services/vehicle"
)

// describe says in sentences what the ledger shows.
func (l *Ledger) describe(r Reader) []string {
	var says []string
	var counted []Reading
	for _, reading := range l.Readings {
		if !reading.Doubtful {
			counted = append(counted, reading)
		}
	}
	if n := len(counted); n > 0 {
		says = append(says, r.counted("ledger.says", n, facts{
			"n": r.count(n), "first": r.date(counted[0].On), "last": r.date(counted[n-1].On), "distance": r.distance(counted[n-1].Distance),
		}))
	} else if len(l.Readings) > 0 {
		says = append(says, r.say("ledger.nothing", nil))
	} else {
		says = append(says, r.say("ledger.none", nil))
	}
	if n := len(l.Readings) - len(counted); n > 0 {
		says = append(says, r.counted("ledger.doubts", n, facts{"n": r.count(n)}))
	}
	for _, e := range l.Events {
		says = append(says, r.say("ledger.event", facts{"date": r.date(e.On), "name": e.Name}))
	}
	if n := len(l.Forecast); n > 0 {
		f := l.Forecast[n-1]
		says = append(says, r.say("ledger.goes", facts{"date": r.date(f.On), "likely": r.distance(f.Likely)}))
		if l.Chance > 0 {
			says = append(says, r.say("ledger.between", facts{"chance": r.count(l.Chance), "low": r.distance(f.Low), "high": r.distance(f.High)}))
		}
	}
	for i := 0; i < len(l.Limits); { // in order: those of one distance are neighbours
		at := l.Limits[i].At
		var names []string
		for ; i < len(l.Limits) && l.Limits[i].At == at; i++ {
			names = append(names, l.Limits[i].Name)
		}
		says = append(says, r.say("ledger.due", facts{"name": r.list(names), "at": r.distance(at)}))
	}
	return says
}

// table holds all that the drawing shows, in order of days, limits last.
func (l *Ledger) table(r Reader) Table {
	t := Table{
		Caption: r.say("ledger.caption", facts{"vehicle": l.Vehicle}),
		Heads:   []string{r.say("head.date", nil), r.say("head.distance", facts{"unit": r.unitName()}), r.say("head.what", nil), r.say("head.note", nil)},
	}
	type dated struct {
		on  vehicle.Date
		row []string
	}
	var rows []dated
	for _, e := range l.Events {
		rows = append(rows, dated{e.On, []string{r.date(e.On), "", e.Name, e.Note}})
	}
	for _, reading := range l.Readings {
		what := "ledger.reading"
		if reading.Doubtful {
			what = "ledger.doubted"
		}
		note := strings.Join(slices.DeleteFunc([]string{reading.Shown, reading.Note}, func(s string) bool { return s == "" }), "; ")
		rows = append(rows, dated{reading.On, []string{r.date(reading.On), r.whole(reading.Distance), r.say(what, nil), note}})
	}
	for _, f := range l.Forecast {
		rows = append(rows, dated{f.On, []string{
			r.date(f.On), r.whole(f.Likely), r.say("ledger.forecast", nil),
			r.say("between", facts{"low": r.whole(f.Low), "high": r.whole(f.High)}),
		}})
	}
	slices.SortStableFunc(rows, func(a, b dated) int { return cmp.Compare(a.on.Ordinal(), b.on.Ordinal()) })
	for _, row := range rows {
		t.Rows = append(t.Rows, row.row)
	}
	for _, limit := range l.Limits {
		t.Rows = append(t.Rows, []string{"", r.whole(limit.At), r.say("ledger.limited", facts{"name": limit.Name}), ""})
	}
	return t
}
