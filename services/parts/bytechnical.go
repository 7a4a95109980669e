package parts

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// datum is a fluid or a setting of the vehicle with the words it is asked for
// by.
type datum struct {
	site    *site
	fluid   *Capacity
	setting *Setting
	own     []string   // of the fluid itself, or of what is set
	loosely []string   // what people call any fluid, or any setting
	place   []string   // of where it goes
	names   [][]string // of the place as a whole: each is all the words of one name
	open    string     // where the records do not tell which of several holds: what would; empty where they do
}

// What people call any fluid: many ask for the oil of what has grease in it.
// And what they call any setting.
var (
	anyFluid   = []string{"fluid", "capacity", "lubricant", "oil", "grease"}
	anySetting = []string{"setting", "value", "tightened"}
)

// data gives the fluids and settings of the vehicle with their words.
func (r *Ready) data() []datum {
	var all []datum
	for _, s := range r.sites {
		place := wordsOf(s.called)
		names := [][]string{wordsOf(s.position)}
		if p := r.Catalogue.positions.Get(s.position); p != nil {
			for _, text := range append([]string{p.Title}, p.Words...) {
				names = append(names, wordsOf(text))
			}
		}
		eachDatum(r.Catalogue.capacities.of(s.position), s.subject, func(f *Capacity, open string) {
			all = append(all, datum{site: s, fluid: f, own: wordsOf(f.Fluid + " " + f.Family), loosely: anyFluid, place: place, names: names, open: open})
		})
		eachDatum(r.Catalogue.settings.of(s.position), s.subject, func(one *Setting, open string) {
			subject := wordsOf(one.Subject)
			d := datum{site: s, setting: one, own: wordsOf(one.Characteristic), loosely: anySetting, place: append(slices.Clone(subject), place...), open: open}
			d.names = append(slices.Clone(names), subject)
			for _, name := range names {
				d.names = append(d.names, append(slices.Clone(subject), name...))
			}
			all = append(all, d)
		})
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

func wordsOf(text string) []string {
	var out []string
	for _, t := range read(strings.ReplaceAll(text, "-", " ")) {
		out = append(out, t.text)
	}
	return out
}

// notMeant is the level of a datum that a question does not mean.
const notMeant = 4

// level says how well a question means the datum, 0 best: every word must be
// one of the datum or of its place, and at least one of the datum itself:
// "gearbox oil", "wheel nut torque". It is worse when the words of the place
// are no whole name of it, and worse still when the fluid was only called a
// fluid. A side or an end that was said must be the place's.
func (d *datum) level(a asked) int {
	level, itself := 0, false
	var rest []string
	for i, w := range a.words {
		forms := append([]string{w}, a.joined[i]...)
		has := func(words []string) bool {
			return slices.ContainsFunc(forms, func(f string) bool { return slices.Contains(words, f) })
		}
		switch {
		case has(d.own):
			itself = true
		case has(d.place):
			rest = append(rest, w)
		case has(d.loosely):
			itself, level = true, 2
		default:
			return notMeant
		}
	}
	if !itself || a.against(d.site.position, EitherHand) {
		return notMeant
	}
	if len(rest) > 0 && !slices.ContainsFunc(d.names, func(name []string) bool { return wordKey(withoutDirections(name)) == wordKey(rest) }) {
		level++
	}
	return level
}

func withoutDirections(words []string) []string {
	return slices.DeleteFunc(slices.Clone(words), func(w string) bool { return directions[w] != "" })
}

// dataMeant gives the fluids and settings that a question means best.
func (q *query) dataMeant() (meant []*datum) {
	best := notMeant
	for i := range q.index().data {
		d := &q.index().data[i]
		switch level := d.level(q.asked); {
		case level < best:
			best, meant = level, []*datum{d}
		case level == best && level < notMeant:
			meant = append(meant, d)
		}
	}
	return meant
}

// byTechnical answers a question that names a fluid or a setting; false when it
// does not, or when a part is called exactly so.
func (q *query) byTechnical() (Answer, bool) {
	var a Answer
	open := ""
	for _, d := range q.dataMeant() {
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
		a.AskBack = "Of what: " + list(where, "or") + "?"
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
