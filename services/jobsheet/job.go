package jobsheet

import (
	"slices"
	"strings"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// job makes the job of a remedy's item.
func (r *Remedy) job(i *RemedyItem) Job {
	j := Job{
		Item: r.Campaign + "/" + i.ID, Title: i.Title, Group: "campaign", Why: r.Why, Parts: slices.Clone(i.Parts),
		Tools: slices.Clone(i.Tools), Minutes: i.Minutes, FollowUp: r.FollowUp, RemedyItem: i.ID,
	}
	j.Cautions = distinct(r.Caution, i.Caution)
	for _, l := range i.Measured {
		j.Values = append(j.Values, Value{Limit: l, Title: words(l.Characteristic)})
	}
	return j
}

// itemJob makes the job of an item of the programme. What it asks for and nobody
// could tell becomes a gap.
func (s *Sheet) itemJob(i *Item, f *Facts) Job {
	j := Job{
		Item: i.ID, Title: i.Title, Group: i.Group, Position: i.Position, Why: i.Why,
		Tools: slices.Clone(i.Tools), Docs: distinct(i.Doc),
	}
	s.parts(&j, i, f)
	fill := s.fluid(&j, i, f)
	cautions := []string{i.Caution, fill}
	for k := range f.Settings {
		set := &f.Settings[k]
		if !i.concerns(set) {
			continue
		}
		j.Settings = append(j.Settings, set.Setting)
		j.Tools = append(j.Tools, set.Tools...)
		cautions = append(cautions, set.Caution)
		if set.Shimmed {
			j.Shims = append(j.Shims, set.pack(f))
		}
	}
	j.Cautions = said(distinct(cautions...))
	j.Tools = distinct(j.Tools...)
	for _, l := range i.Measured {
		j.Values = append(j.Values, i.values(l, f)...)
		j.Methods = append(j.Methods, l.Method)
	}
	j.Methods = distinct(j.Methods...)
	return j
}

// concerns reports whether a setting is wanted for an item: it stands on the same
// page of the workshop book, at a place that the item is about. So an oil change
// has the torque of the drain plug, and not that of the main bearings.
func (i *Item) concerns(s *SheetSetting) bool {
	if i.Doc == "" || s.Doc != i.Doc {
		return false
	}
	if i.looksAtFluid() && s.Characteristic == torque && !strings.Contains(s.Subject, "plug") {
		return false
	}
	return i.Position == "" || covers(i.Position, s.Position) ||
		slices.ContainsFunc(i.Needs, func(n Need) bool { return covers(n.Position, s.Position) })
}

// torque is how tightly something is done up.
const torque = "torque"

// looks are the words of items that open a plug, look at what is behind it and
// close it again.
var looks = []string{"level check", "look for water", "drain test"}

// looksAtFluid reports whether an item only looks at a fluid. Then the torques of
// the housing and of what hangs on it, which stand on the same page, are not
// wanted: nothing but a plug is opened (common practice, no source).
func (i *Item) looksAtFluid() bool {
	title := strings.ToLower(i.Title)
	return i.Fluid.Fluid == "" && len(i.Needs) == 0 && len(i.Measured) == 0 &&
		slices.ContainsFunc(looks, func(words string) bool { return strings.Contains(title, words) })
}

// parts puts the parts of an item on the job.
func (s *Sheet) parts(j *Job, i *Item, f *Facts) {
	for _, n := range i.Needs {
		found := f.Parts[n.Position]
		if len(found) == 0 {
			s.Gaps = append(s.Gaps, vehicle.Reason{
				Rule: "PART_UNKNOWN", Sentence: i.ID + " needs a part at " + words(n.Position) + ", and nobody could say which: ask the works.",
				Facts: []vehicle.Fact{{Name: "item", Value: i.ID}, {Name: "position", Value: n.Position}},
			})
			continue
		}
		for k, p := range found {
			if n.Quantity > 0 && k == 0 {
				p.Quantity = n.Quantity
			}
			p.Quantity, p.Position, p.IfNeeded = max(1, p.Quantity), n.Position, n.IfNeeded
			j.Parts = append(j.Parts, p)
		}
	}
}

// fluid puts what is filled in on the job, by what this vehicle takes where that
// is on record; it gives its caution.
func (s *Sheet) fluid(j *Job, i *Item, f *Facts) (caution string) {
	if i.Fluid.Fluid == "" {
		return ""
	}
	var exact []Fluid
	for k := range f.Fluids {
		if fill := &f.Fluids[k]; fill.Fluid.Fluid == i.Fluid.Fluid && covers(i.Position, fill.Position) {
			exact = append(exact, fill.Fluid)
		}
	}
	if len(exact) == 0 {
		one := i.Fluid
		one.Position = i.Position
		exact = []Fluid{one}
	}
	for _, fluid := range exact {
		if fluid.NeverMix == "" {
			fluid.NeverMix = i.Fluid.NeverMix
		}
		j.Fluids = append(j.Fluids, fluid)
		caution = fluid.Caution
	}
	return caution
}

// values gives the values of a limit: one for each place at which the item looks,
// and one alone where it looks at one.
func (i *Item) values(l schedule.MeasuredLimit, f *Facts) []Value {
	places := i.places(f)
	if len(places) == 0 {
		return i.valuesAt(l, i.Position, f)
	}
	var out []Value
	for _, place := range places {
		out = append(out, i.valuesAt(l, place, f)...)
	}
	return out
}

// places are the positions at which an item looks, where it looks at several that
// begin alike and nothing stands at that alone: "propshaft" is "propshaft-front"
// and "propshaft-rear". The service entry wants each value at its own.
func (i *Item) places(f *Facts) []string {
	if i.Position == "" || slices.Contains(f.Positions, i.Position) {
		return nil
	}
	var out []string
	for _, p := range f.Positions {
		if covers(i.Position, p) {
			out = append(out, p)
		}
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// valuesAt gives the values of a limit at a position: one for each place on it
// where it was measured before, one alone where it never was.
func (i *Item) valuesAt(l schedule.MeasuredLimit, at string, f *Facts) []Value {
	var out []Value
	for k := range f.Series {
		series := &f.Series[k]
		if series.Characteristic != l.Characteristic || !(covers(at, series.Position) || at == "" && series.Position == "") {
			continue
		}
		v := Value{Limit: l, Title: words(l.Characteristic), Trend: series.Trend, Renewed: series.Renewed, Last: series.Values[:min(len(series.Values), 3)]}
		if series.Position != i.Position {
			v.Position = series.Position
		}
		out = append(out, v)
	}
	if len(out) == 0 {
		v := Value{Limit: l, Title: words(l.Characteristic)}
		if at != i.Position {
			v.Position = at
		}
		return []Value{v}
	}
	if len(out) > 1 { // what was measured somewhere in general, once, is not asked for beside its places
		out = slices.DeleteFunc(out, func(v Value) bool { return v.Position == "" })
	}
	return out
}

// pack gives the shims that are in at a setting.
func (s *SheetSetting) pack(f *Facts) Shims {
	out := Shims{Position: s.Position, Characteristic: s.Characteristic, Subject: s.Subject, Window: s.Window, Sizes: s.Sizes}
	for _, p := range f.Packs {
		if p.Position == s.Position && (p.Characteristic == "" || p.Characteristic == s.Characteristic) {
			out.Pack, out.PackText = p.Thickness, p.Text
			break
		}
	}
	return out
}

// said leaves out what a longer text says in the same words.
func said(texts []string) []string {
	return slices.DeleteFunc(slices.Clone(texts), func(t string) bool {
		return slices.ContainsFunc(texts, func(o string) bool { return len(o) > len(t) && strings.Contains(o, t) })
	})
}

// words writes a name of a position or a characteristic for people.
func words(name string) string { return strings.ReplaceAll(name, "-", " ") }

// distinct gives each text once, in order, and no empty one.
func distinct(texts ...string) []string {
	var out []string
	for _, t := range texts {
		if t != "" && !slices.Contains(out, t) {
			out = append(out, t)
		}
	}
	return out
}
