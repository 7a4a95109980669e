package parts

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// contents is what a kit holds, as it is to be had today.
func (w *want) contents(kit *Part) []Line {
	if len(kit.Contents) == 0 {
		return nil
	}
	return w.orderFor(kit.Contents)
}

// technical adds what is filled in and set at the position. At a place on an
// assembly it is the fluid of the assembly, and of the assembly's settings
// those that speak of the place.
func (w *want) technical(c *Choice) {
	var open, openToo []vehicle.Reason
	on := w.asStandard(c)
	for at := w.site; at != nil && len(c.Capacities)+len(open) == 0; at = at.on {
		c.Capacities, open = settle(w.catalogue.capacities.of(at.position), on)
	}
	c.Settings, openToo = settle(w.catalogue.settings.of(w.position), on)
	c.Reasons = append(append(c.Reasons, open...), openToo...)
	for at := w.on; at != nil; at = at.on {
		settings, _ := settle(w.catalogue.settings.of(at.position), w.subject)
		for _, s := range settings {
			if speaksOf(s.Subject, w.position, at.position) {
				c.Settings = append(c.Settings, s)
			}
		}
	}
	for at := w.site; at != nil; at = at.on {
		if p := w.catalogue.positions.Get(at.position); p != nil {
			c.Tools = addNew(c.Tools, p.Tools)
		}
	}
	for _, s := range c.Settings {
		c.Tools = addNew(c.Tools, s.Tools)
	}
}

// asStandard is what conditions are judged on for the fluids and settings of
// the part that is ordered: where the owner has a part of their own, what that
// one is like says nothing of the standard part.
func (w *want) asStandard(c *Choice) *subject {
	f := w.fitted
	if w.with != nil || f == nil || f.Origin != build.FromOwner || f.Component.Part == c.Order.Number || len(c.Order.Traits) == 0 {
		return w.subject
	}
	on, makeup := *w.subject, *w.subject.makeup
	makeup.Fitted = maps.Clone(makeup.Fitted)
	makeup.Fitted[w.position] = c.Order.Traits
	on.makeup = &makeup
	c.Reasons = append(c.Reasons, reason("FOR_THE_STANDARD", PartName(c.Order.Number), fmt.Sprintf(
		"Fluids and settings are those for %s, not for %s that is on the vehicle.", c.Order.Number, f.Component.Part)))
	return &on
}

// speaksOf says whether the subject of a setting of an assembly shares a word
// with a place on it, the words of the assembly aside.
func speaksOf(subject, place, assembly string) bool {
	of := understand(strings.ReplaceAll(place, assembly, ""))
	return slices.ContainsFunc(understand(subject).words, func(word string) bool { return slices.Contains(of.words, word) })
}

func addNew(list, more []string) []string {
	for _, m := range more {
		if !slices.Contains(list, m) {
			list = append(list, m)
		}
	}
	return list
}

// settle decides among the rows of a position, which compete where their
// subject is the same. What is not decided is given as a reason.
func settle[R row](rows []R, on *subject) (settled []R, open []vehicle.Reason) {
	settled, undecided := compete(rows, on)
	for _, candidates := range undecided {
		open = append(open, openReason(candidates, on))
	}
	return settled, open
}

// compete gives the row that decides for each subject, and the candidates where
// several hold or may hold.
func compete[R row](rows []R, on *subject) (settled []R, undecided [][]verdict[R]) {
	bySubject := map[string][]R{}
	var order []string
	for _, r := range rows {
		key := r.subject()
		if bySubject[key] == nil {
			order = append(order, key)
		}
		bySubject[key] = append(bySubject[key], r)
	}
	for _, key := range order {
		switch candidates, _ := decide(bySubject[key], on); len(candidates) {
		case 0:
		case 1:
			settled = append(settled, candidates[0].row)
		default:
			undecided = append(undecided, candidates)
		}
	}
	return settled, undecided
}

// openReason says that several rows hold or may hold, and what would tell.
func openReason[R row](candidates []verdict[R], on *subject) vehicle.Reason {
	var names, records []string
	for _, c := range candidates {
		names = append(names, c.row.record())
		records = append(records, fmt.Sprintf("%s (%s)", c.row.record(), c.row.conditions().words()))
	}
	sentence := fmt.Sprintf("The records do not tell which holds here: %s.", wording.List(records, "or"))
	if ask := tellingQuestion(candidates, on); ask != "" {
		sentence += " " + ask
	}
	return reason("UNDECIDED", names[0], sentence, "rows", strings.Join(names, ", "))
}

// tellingQuestion asks for what would tell the candidates apart; empty where
// nothing that could be asked for would.
func tellingQuestion[R row](candidates []verdict[R], on *subject) string {
	var rows []row
	why := noCondition
	for _, c := range candidates {
		rows = append(rows, c.row)
		if c.is == unknown && why == noCondition {
			why = c.why
		}
	}
	return questionFor(why, on.place, rows)
}

// Sheet is the technical data of one vehicle on a date.
type Sheet struct {
	Fluids   []SheetFluid
	Settings []SheetSetting
	Open     []vehicle.Reason
}

// SheetFluid is what is filled in at a position.
type SheetFluid struct {
	*Capacity
	FilledFluid    string // what the build record says; empty when it does not
	FilledQuantity vehicle.Quantity
	Reasons        []vehicle.Reason
}

// SheetSetting is what something is set to.
type SheetSetting struct {
	*Setting
	Reasons []vehicle.Reason
}

// Sheet gives the fluids and settings of the vehicle, all or those of one
// position and what is on it.
func (r *Ready) Sheet(positions ...string) Sheet {
	r.mu.Lock()
	defer r.mu.Unlock()
	var sheet Sheet
	for _, s := range r.sites {
		if len(positions) > 0 && !slices.ContainsFunc(positions, func(p string) bool { return p == "" || s.isOn(p) }) {
			continue
		}
		fluids, open := settle(r.Catalogue.capacities.of(s.position), s.subject)
		sheet.Open = append(sheet.Open, open...)
		if len(fluids)+len(open) == 0 && s.fitted != nil {
			sheet.Open = append(sheet.Open, s.noFluid()...)
		}
		for _, f := range fluids {
			sheet.Fluids = append(sheet.Fluids, r.fluid(s, f))
		}
		settings, open := settle(r.Catalogue.settings.of(s.position), s.subject)
		sheet.Open = append(sheet.Open, open...)
		for _, one := range settings {
			sheet.Settings = append(sheet.Settings, r.setting(s, one))
		}
	}
	return sheet
}

// noFluid says why none of the fluids on record for the position is for what
// stands there; nothing where there are none.
func (s *site) noFluid() []vehicle.Reason {
	_, others := decide(s.catalogue.capacities.of(s.position), s.subject)
	if len(others) == 0 {
		return nil
	}
	why := make([]string, len(others))
	for i, o := range others {
		why[i] = o.row.record() + " " + o.row.Conditions.unmetWords(o.why, s.subject)
	}
	return []vehicle.Reason{reason("NO_FLUID", others[0].row.record(), fmt.Sprintf(
		"None of the fluids on record is for the %s of this vehicle: %s.", spoken(s.position), strings.Join(why, "; ")), "position", s.position)}
}

// isOn says whether the site is a position or on what stands there.
func (s *site) isOn(position string) bool {
	for at := s; at != nil; at = at.on {
		if at.position == position {
			return true
		}
	}
	return false
}

// rowReason says why a row of the technical data holds.
func (s *site) rowReason(r row, what string) vehicle.Reason {
	c := *r.conditions()
	var why []string
	if c.AppliesWhen != "" {
		c.AppliesWhen = ""
		why = append(why, s.byFitted())
	}
	if holds := c.words(); holds != "" {
		why = append(why, holds)
	}
	sentence := fmt.Sprintf("The %s is the same for every vehicle that has it.", what)
	if len(why) > 0 {
		sentence = fmt.Sprintf("The %s goes %s; this position follows release %s.", what, strings.Join(why, ", "), s.release)
		if holds := c.words(); holds != "" && len(why) == 1 {
			sentence = fmt.Sprintf("The %s is for: %s; this position follows release %s.", what, holds, s.release)
		}
	}
	return reason("TECHNICAL_ROW", r.record(), sentence, "position", s.position)
}

// byFitted says what the row was chosen by, where it asks what is fitted.
func (s *site) byFitted() string {
	if s.fitted == nil {
		return "by what is fitted"
	}
	switch traits, assumed := s.catalogue.traitsOf(s.fitted); {
	case len(traits) == 0:
		return "by what is fitted"
	case assumed:
		return "by what is fitted there, taken to be like " + s.fitted.Likeness() + ": " + spoken(strings.Join(traits, ", "))
	default:
		return "by what is fitted there: " + spoken(strings.Join(traits, ", "))
	}
}

// setting tells what something is set to, and why.
func (r *Ready) setting(s *site, one *Setting) SheetSetting {
	why := s.rowReason(one, fmt.Sprintf("%s of the %s", spoken(one.Characteristic), spoken(s.position)))
	return SheetSetting{one, append([]vehicle.Reason{why}, s.assumptions(&one.Conditions)...)}
}

// fluid tells what belongs in, what it must not meet, and what was filled in.
func (r *Ready) fluid(s *site, c *Capacity) SheetFluid {
	f := SheetFluid{Capacity: c, Reasons: []vehicle.Reason{s.rowReason(c, "fluid of the "+spoken(s.position))}}
	f.Reasons = append(f.Reasons, s.assumptions(&c.Conditions)...)
	if len(c.NeverMix) > 0 {
		var families []string
		for _, m := range c.NeverMix {
			families = append(families, spoken(m))
		}
		f.Reasons = append(f.Reasons, reason("NEVER_MIX", CapacityName(c.ID),
			fmt.Sprintf("Never mix it with %s.", wording.List(families, "or")), "never_mix", strings.Join(c.NeverMix, ", ")))
	}
	for i := range r.vehicle.Filled {
		if in := &r.vehicle.Filled[i]; in.Position == s.position {
			f.FilledFluid, f.FilledQuantity = in.Fluid, in.Quantity
		}
	}
	if f.FilledFluid != "" && f.FilledFluid != c.Fluid {
		f.Reasons = append(f.Reasons, reason("FILLED_OTHERWISE", CapacityName(c.ID), fmt.Sprintf(
			"The build record says that %s was filled in; %s belongs there. Find out what is in before anything is added.", f.FilledFluid, c.Fluid),
			"filled", f.FilledFluid, "belongs", c.Fluid))
	}
	return f
}
