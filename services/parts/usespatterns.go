package parts

import (
	"math"
	"slices"

	"halfshaft/services/build"
)

// usePattern is a part that may stand where the catalogue calls for one that
// supersessions connect it with: a pattern of the same thing. It may have gone
// in from one day on and until another.
type usePattern struct {
	number string
	role   *role // nil where the question is not about it
	entry  int32 // the first day that it may have gone in; always for one that was there all along
	until  int32 // the day from which it no longer went in; never while it may
	path   []*Supersession
}

// always is the beginning of what has none.
const always = math.MinInt32

// isOpen says whether it may have gone in from a day on.
func (p *usePattern) isOpen(day int32) bool { return p.until > max(day, p.entry) }

// wasAllowed says whether it might be fitted on a day.
func (p *usePattern) wasAllowed(day int32) bool { return p.entry <= day && day < p.until }

type patternKey struct{ number, release string }

// patterns gives every part that may stand where a part is called for, at a
// position that follows a release, itself among them: what came after it, what
// came before it, for that may have been the pattern of the day when the
// vehicle was built, and what else came after that.
func (run *usesRun) patterns(number, release string) []usePattern {
	key := patternKey{number, release}
	if all, ok := run.patternsOf[key]; ok {
		return all
	}
	all := []usePattern{{number: number, entry: always}}
	at := map[string]int{number: 0}
	for i := 0; i < len(all); i++ {
		for _, s := range run.catalogue.byNew[all[i].number] {
			for _, old := range s.olds() {
				if _, ok := at[old]; !ok && run.mayHold(s, release) {
					at[old] = len(all)
					all = append(all, usePattern{number: old, entry: always, path: append(slices.Clip(all[i].path), s)})
				}
			}
		}
	}
	for isNew := true; isNew; {
		isNew = false
		for i := 0; i < len(all); i++ {
			for _, s := range run.catalogue.byOld[all[i].number] {
				if !run.mayHold(s, release) {
					continue
				}
				entry, path := max(all[i].entry, dayNumber(s.Effective)), append(slices.Clip(all[i].path), s)
				for _, next := range s.New {
					k, known := at[next.Part]
					switch {
					case !known:
						at[next.Part] = len(all)
						all, isNew = append(all, usePattern{number: next.Part, entry: entry, path: path}), true
					case entry < all[k].entry: // by another way it came earlier, and so may what comes after it
						all[k].entry, all[k].path, isNew = entry, path, true
					}
				}
			}
		}
	}
	for i := range all {
		all[i].role, all[i].until = run.roles[build.Fold(all[i].number)], run.wentInUntil(all[i].number, release)
	}
	run.patternsOf[key] = all
	return all
}

// mayHold says whether a supersession may hold at a position that follows a
// release, on some day and with some other parts.
func (run *usesRun) mayHold(s *Supersession, release string) bool {
	if len(s.Releases) > 0 && !slices.Contains(s.Releases, release) {
		return false
	}
	return !slices.ContainsFunc(s.New, func(l Line) bool {
		p := run.catalogue.Part(l.Part)
		return p != nil && !p.suits(release)
	})
}

// wentInUntil is the day from which a part no longer went in: that of the first
// supersession of it that holds whatever else is on the vehicle, is not
// two-way, and does not have its stock used up.
func (run *usesRun) wentInUntil(number, release string) int32 {
	until := int32(never)
	for _, s := range run.catalogue.byOld[number] {
		isKnown := !slices.ContainsFunc(s.New, func(l Line) bool { return run.catalogue.Part(l.Part) == nil })
		if isKnown && run.mayHold(s, release) && len(s.Together) == 0 && !s.TwoWay && !run.isUsedUp(s, number) {
			until = min(until, dayNumber(s.Effective))
		}
	}
	return until
}

func (run *usesRun) isUsedUp(s *Supersession, number string) bool {
	p := run.catalogue.Part(number)
	return s.OldStock == UsedUpFirst || s.OldStock == OldStockUnsaid && p != nil && p.Status == UseUp
}

// leftBy is the first supersession that led away from a part by a day, as far
// as it may hold; nil for none.
func (run *usesRun) leftBy(number, release string, day int32) *Supersession {
	for _, s := range run.catalogue.byOld[number] {
		if dayNumber(s.Effective) <= day && run.mayHold(s, release) {
			return s
		}
	}
	return nil
}

// patternOf gives the parts that took the place of a part by a day: the pattern
// of that day.
func (run *usesRun) patternOf(number, release string, day int32) []string {
	reached, ends := []string{number}, []string(nil)
	for i := 0; i < len(reached); i++ {
		s := run.leftBy(reached[i], release, day)
		if s == nil {
			ends = append(ends, reached[i])
			continue
		}
		for _, l := range s.New {
			if !slices.Contains(reached, l.Part) {
				reached = append(reached, l.Part)
			}
		}
	}
	return ends
}
