package bulletin

import (
	"fmt"
	"slices"

	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
)

// Preview is what a set comes to.
type Preview struct {
	On                     vehicle.Date
	Matches                []Match // in order of serial, all states; of those out only the first reason
	In, Unknown, Near, Out int
	Loose                  []LooseUnit // units of the set's conditions that stand on no vehicle
	Missing                []MissingSerial
}

// Preview judges every vehicle of a fleet.
func (r *Ready) Preview(f *Fleet) Preview {
	p := Preview{On: f.on, Matches: make([]Match, 0, f.Len())}
	for i := range f.subjects {
		m := r.match(&f.subjects[i], false)
		switch m.State {
		case In:
			p.In++
		case Unknown:
			p.Unknown++
		case Near:
			p.Near++
		default:
			p.Out++
		}
		p.Matches = append(p.Matches, m)
	}
	p.Loose, p.Missing = r.loose(f), r.missing(f)
	return p
}

// MissingSerial is a serial of the lists of a set that no vehicle bears. Its
// check character is right, and a slip in two places can still have made it.
type MissingSerial struct {
	Serial   vehicle.Serial
	Excepted bool // it is excepted; else it is listed
}

// missing finds those of a set, the listed first, each list in order.
func (r *Ready) missing(f *Fleet) []MissingSerial {
	var found []MissingSerial
	for excepted, list := range [][]vehicle.Serial{r.bulletin.Set.Serials, r.bulletin.Set.Except} {
		for _, s := range slices.Sorted(slices.Values(list)) {
			if f.find(s) == nil {
				found = append(found, MissingSerial{s, excepted == 1})
			}
		}
	}
	return found
}

// Sentence says what to look at.
func (m MissingSerial) Sentence() string {
	if m.Excepted {
		return string(m.Serial) + " is excepted, and there is no such vehicle: look whether it is written right."
	}
	return string(m.Serial) + " is listed, and there is no such vehicle: look whether it is written right. Once there is one, it is in the set."
}

// LooseUnit is a unit that a condition names, or may name, and that stands on
// no vehicle: it was taken off and is not on record elsewhere.
type LooseUnit struct {
	Unit    Stay
	Last    vehicle.Serial // the vehicle that it was taken off
	Certain bool           // whether it certainly is one; else its lot, part or serial is not on record
}

// loose finds the units on the shelf, each once: of a unit with a serial the
// last vehicle that it stood on.
func (r *Ready) loose(f *Fleet) []LooseUnit {
	var found []LooseUnit
	last := map[string]int{} // serial of a unit to its place in found
	for i := range f.subjects {
		s := &f.subjects[i]
		for k := range s.pieces {
			p := &s.pieces[k]
			u, ok := r.looseUnit(f, s, p)
			if !ok {
				continue
			}
			at, seen := last[p.serial]
			switch {
			case p.serial == "" || !seen:
				last[p.serial] = len(found)
				found = append(found, u)
			case found[at].Unit.Until.Before(u.Unit.Until):
				found[at] = u
			}
		}
	}
	return found
}

func (r *Ready) looseUnit(f *Fleet, s *subject, p *piece) (LooseUnit, bool) {
	u := LooseUnit{Unit: *p.Stay, Last: s.Serial}
	is := false
	for _, t := range r.units {
		certain, may := t.loose(p, f)
		u.Certain, is = u.Certain || certain, is || may
	}
	return u, is
}

// Sentences are the preview for print: the counts, each vehicle that is not
// out with why, and the loose units.
func (p *Preview) Sentences() []string {
	lines := []string{fmt.Sprintf("On %s: %d in the set, %d that cannot be told and are on the list until somebody has looked, %d nearly in, %d out.",
		p.On.Long(), p.In, p.Unknown, p.Near, p.Out)}
	for _, state := range []MatchState{In, Unknown, Near} {
		for i := range p.Matches {
			m := &p.Matches[i]
			if m.State != state {
				continue
			}
			line := string(m.Serial) + " " + state.words() + ". " + m.Sentence()
			if m.Cure != nil {
				line += " " + m.Cure.Sentence()
			}
			lines = append(lines, line)
		}
	}
	for i := range p.Loose {
		lines = append(lines, p.Loose[i].Sentence())
	}
	for _, m := range p.Missing {
		lines = append(lines, m.Sentence())
	}
	return lines
}

func (s MatchState) words() string {
	switch s {
	case In:
		return "is in"
	case Unknown:
		return "cannot be told"
	case Near:
		return "is nearly in"
	}
	return "is out"
}

// Sentence says what the build record shows.
func (c *Cure) Sentence() string {
	parts := make([]string, len(c.Parts))
	for i, p := range c.Parts {
		parts[i] = p.String() + " at the " + spoken(p.Position)
	}
	return "A campaign fitted " + wording.List(parts, "and") + " by " + c.Date.Long() + ": the remedy is on record, and nothing is open."
}

// Growth is what came of comparing a list with the fleet of a day.
type Growth struct {
	Entered []Match          // that were not on the list, to be entered and notified once; by serial
	Cured   []Match          // on the list, whose remedy the build record shows; by serial
	Left    []Match          // on the list, that meet the conditions no longer: they stay; by serial
	Gone    []vehicle.Serial // on the list, that the fleet does not have: they stay too
}

// Grow compares the serials that were ever entered with a fleet. Given the same
// list with Entered added, it enters nobody again.
func (r *Ready) Grow(previous []vehicle.Serial, f *Fleet) Growth {
	var g Growth
	were := serialSet(previous)
	for i := range f.subjects {
		s := &f.subjects[i]
		belongs, was := r.state(s).OnList(), were[s.Serial]
		if !belongs && !was {
			continue
		}
		m := r.match(s, true)
		switch {
		case !was:
			g.Entered = append(g.Entered, m)
		case !belongs:
			g.Left = append(g.Left, m)
		case m.Cure != nil:
			g.Cured = append(g.Cured, m)
		}
	}
	for s := range were {
		if f.find(s) == nil {
			g.Gone = append(g.Gone, s)
		}
	}
	slices.Sort(g.Gone)
	return g
}
