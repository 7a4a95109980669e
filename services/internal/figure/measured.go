package figure

import (
	"cmp"
	"slices"

	"halfshaft/services/vehicle"
)

// Measured is a measured value over time or distance, against the window in
// which it is to be.
type Measured struct {
	Name       string // what is measured, and of which vehicle: "Output shaft bearing of AM01082"
	Unit       string // of the values: "mm"
	Decimals   int    // that a value is measured to
	ByDistance bool   // whether the values are shown over the distance; else over time
	Today      vehicle.Date

	Lower, Upper, Action *float64 // the ends of the window, and where something must be done; nil for none
	Values               []Value
	Renewals             []Renewal
	Trend                []TrendPoint // in order
	Chance               int          // in percent, that a measurement lies in the range of the trend
	Meets                *Meeting
}

// Place is a day and the distance on that day. Figures over time use the one,
// figures over distance the other.
type Place struct {
	On vehicle.Date
	At vehicle.Distance
}

// Value is one measurement.
type Value struct {
	Place
	Value float64
	Aside bool // it does not count for the trend
	Note  string
}

// Renewal is work after which the values begin anew.
type Renewal struct {
	Place
	Name string
}

// TrendPoint is where the trend runs.
type TrendPoint struct {
	Place
	Low, Likely, High float64
}

// Meeting is when the trend meets a limit. Early and Late are the ends of the
// range; Late is zero where the end is not in sight.
type Meeting struct {
	Limit               float64
	Early, Likely, Late Place
}

// Figure draws the values.
func (m Measured) Figure(r Reader, layout Layout) Figure {
	m.Values, m.Renewals = slices.Clone(m.Values), slices.Clone(m.Renewals)
	slices.SortStableFunc(m.Values, func(a, b Value) int { return m.compare(a.Place, b.Place) })
	slices.SortStableFunc(m.Renewals, func(a, b Renewal) int { return m.compare(a.Place, b.Place) })
	f := Figure{Title: r.say("measured.title", facts{"name": m.Name}), Description: m.describe(r), Table: m.table(r).tidied()}
	s := newSheet(layout)
	if len(m.Values) == 0 {
		f.Drawing = s.nothing(r.say("measured.none", nil))
		return f
	}
	f.Drawing = m.draw(r, s)
	return f
}

func (m *Measured) compare(a, b Place) int {
	if m.ByDistance {
		return cmp.Or(cmp.Compare(a.At, b.At), a.On.Compare(b.On))
	}
	return cmp.Or(a.On.Compare(b.On), cmp.Compare(a.At, b.At))
}

// value writes a value with its unit.
func (m *Measured) value(r Reader, v float64) string {
	return r.number(v, m.Decimals) + " " + m.Unit
}

// where writes a place on the axis of the figure.
func (m *Measured) where(r Reader, p Place) string {
	if m.ByDistance {
		return r.distance(p.At)
	}
	return r.date(p.On)
}

// atPlace is where in a sentence: "on 19 May 2026", "at 33,350 miles".
func (m *Measured) atPlace(r Reader, p Place) string {
	if m.ByDistance {
		return r.say("measured.at", facts{"distance": m.where(r, p)})
	}
	return r.say("measured.on", facts{"date": m.where(r, p)})
}

// window says how a value is to be; "" where nothing is asked.
func (m *Measured) window(r Reader) string {
	switch {
	case m.Lower != nil && m.Upper != nil:
		return r.say("measured.between", facts{"lower": m.value(r, *m.Lower), "upper": m.value(r, *m.Upper)})
	case m.Lower != nil:
		return r.say("measured.least", facts{"lower": m.value(r, *m.Lower)})
	case m.Upper != nil:
		return r.say("measured.most", facts{"upper": m.value(r, *m.Upper)})
	}
	return ""
}

func (m *Measured) outside(v float64) bool {
	return m.Lower != nil && v < *m.Lower || m.Upper != nil && v > *m.Upper
}

func (m *Measured) describe(r Reader) []string {
	var says []string
	if n := len(m.Values); n > 0 {
		last := m.Values[n-1]
		says = append(says, r.counted("measured.says", n, facts{
			"n": r.count(n), "last": m.value(r, last.Value), "where": m.atPlace(r, last.Place), "first": m.value(r, m.Values[0].Value),
		}))
		if m.outside(last.Value) {
			says = append(says, r.say("measured.outside", nil))
		}
	} else {
		says = append(says, r.say("measured.none", nil))
	}
	if text := m.window(r); text != "" {
		says = append(says, text)
	}
	if m.Action != nil {
		says = append(says, r.say("measured.action", facts{"action": m.value(r, *m.Action)}))
	}
	for _, n := range m.Renewals {
		says = append(says, r.say("measured.renewed", facts{"where": m.where(r, n.Place), "name": n.Name}))
	}
	if m.Meets != nil {
		key := "measured.meets"
		if m.Meets.Late == (Place{}) {
			key = "measured.meets.open"
		}
		says = append(says, r.say(key, facts{
			"limit": m.value(r, m.Meets.Limit), "likely": m.atPlace(r, m.Meets.Likely), "early": m.where(r, m.Meets.Early), "late": m.where(r, m.Meets.Late),
		}))
	}
	return says
}

// table holds values and renewals in order, then the trend.
func (m *Measured) table(r Reader) Table {
	t := Table{Caption: r.say("measured.caption", facts{"name": m.Name}), Heads: []string{
		r.say("head.date", nil), r.say("head.distance", facts{"unit": r.unitName()}),
		r.say("measured.head", facts{"unit": m.Unit}), r.say("head.note", nil),
	}}
	type placed struct {
		Place
		row []string
	}
	var rows []placed
	cells := func(p Place, value, note string) placed {
		row := []string{r.date(p.On), "", value, note}
		if p.At != 0 || p.On.IsZero() {
			row[1] = r.whole(p.At)
		}
		return placed{p, row}
	}
	for _, n := range m.Renewals {
		rows = append(rows, cells(n.Place, "", n.Name))
	}
	for _, v := range m.Values {
		note := v.Note
		switch {
		case note != "":
		case v.Aside:
			note = r.say("measured.aside", nil)
		case m.outside(v.Value):
			note = r.say("measured.out", nil)
		}
		rows = append(rows, cells(v.Place, r.number(v.Value, m.Decimals), note))
	}
	slices.SortStableFunc(rows, func(a, b placed) int { return m.compare(a.Place, b.Place) })
	for _, p := range m.Trend {
		rows = append(rows, cells(p.Place, r.number(p.Likely, m.Decimals), r.say("measured.trend", facts{
			"low": r.number(p.Low, m.Decimals), "high": r.number(p.High, m.Decimals),
		})))
	}
	for _, row := range rows {
		t.Rows = append(t.Rows, row.row)
	}
	return t
}
