package parts

import (
	"cmp"
	"fmt"
	"slices"

	"halfshaft/services/wording"
)

// data gives the fluids and settings of the vehicle with their words.
func (r *Ready) data() []datum {
	var all []datum
	for _, s := range r.sites {
		take := func(d datum, open string) {
			d.site, d.open = s, open
			d.at(r.Catalogue, s.called)
			all = append(all, d)
		}
		eachDatum(r.Catalogue.capacities.of(s.position), s.subject, func(f *Capacity, open string) { take(fluidDatum(f), open) })
		eachDatum(r.Catalogue.settings.of(s.position), s.subject, func(one *Setting, open string) { take(settingDatum(one), open) })
	}
	return all
}

// eachDatum gives the rows that hold, and those between which nothing on record
// decides with the question that would: two candidates are two, never none.
func eachDatum[R row](rows []R, on *subject, take func(one R, open string)) {
	settled, undecided := compete(rows, on)
	for _, one := range settled {
		take(one, "")
	}
	for _, candidates := range undecided {
		open := cmp.Or(tellingQuestion(candidates, on), openReason(candidates, on).Sentence)
		for _, c := range candidates {
			take(c.row, open)
		}
	}
}

// dataMeant gives the fluids and settings that a question means best, and how
// well.
func (q *query) dataMeant(data []datum) (meant []*datum, best int) {
	best = notMeant
	for i := range data {
		d := &data[i]
		switch level := d.level(q.asked); {
		case level < best:
			best, meant = level, []*datum{d}
		case level == best && level < notMeant:
			meant = append(meant, d)
		}
	}
	if directed := slices.DeleteFunc(slices.Clone(meant), func(d *datum) bool { return !d.directed(q.asked) }); len(directed) > 0 {
		meant = directed
	}
	return meant, best
}

// byTechnical answers a question that names a fluid or a setting; false when it
// does not, or when a part is called exactly so. What only other vehicles have
// is refused when it is meant better than anything here.
func (q *query) byTechnical() (Answer, bool) {
	var a Answer
	open := ""
	meant, level := q.dataMeant(q.index().data)
	if level > placeNamed && level < called {
		if elsewhere, better := q.dataMeant(q.index().absent(q.Ready)); better < level {
			return q.technicalElsewhere(elsewhere), true
		}
	}
	for _, d := range meant {
		open = cmp.Or(open, d.open)
		if d.fluid != nil {
			a.Fluids = append(a.Fluids, q.fluid(d.site, d.fluid))
		} else {
			a.Settings = append(a.Settings, q.setting(d.site, d.setting))
		}
	}
	if len(a.Fluids)+len(a.Settings) == 0 {
		return a, false
	}
	for _, f := range q.Catalogue.search(q.asked, 1) {
		if f.Named {
			return a, false
		}
	}
	var where []string
	for _, f := range a.Fluids {
		where = append(where, "the "+spoken(f.Position))
	}
	for _, s := range a.Settings {
		where = append(where, "the "+spoken(s.Position))
	}
	if where = sortedUnique(where); len(where) > 1 && !a.sameTechnical() {
		const most = 5
		if more := len(where) - most; more > 0 {
			where = append(where[:most], fmt.Sprintf("one of %d more", more))
		}
		a.AskBack = "Of what: " + wording.List(where, "or") + "?"
	} else if len(a.Fluids)+len(a.Settings) > 1 {
		a.AskBack = open
	}
	a.Question = "fluids and settings " + q.asked.all()
	return a, true
}

// sameTechnical says whether all fluids and settings of an answer are the same:
// left and right need not be asked for then.
func (a *Answer) sameTechnical() bool {
	return (len(a.Fluids) == 0 || len(a.Settings) == 0) &&
		!slices.ContainsFunc(a.Fluids, func(f SheetFluid) bool {
			first := a.Fluids[0]
			return f.Fluid != first.Fluid || f.Quantity != first.Quantity || f.Method != first.Method
		}) &&
		!slices.ContainsFunc(a.Settings, func(s SheetSetting) bool {
			first := a.Settings[0]
			return s.Characteristic != first.Characteristic || s.Subject != first.Subject || s.Window() != first.Window()
		})
}
