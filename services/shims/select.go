package shims

import (
	"cmp"
	"math/big"
	"slices"

	"halfshaft/services/vehicle"
)

// Select chooses the pack. An error is a *fault.Error of kind Invalid that names
// every field that is wrong; that no pack fits is an answer, not an error.
func Select(p Problem) (Result, error) {
	m, err := p.read()
	if err != nil {
		return Result{}, err
	}
	s := newSearch(m, m.sizes, p.LargestCount)
	r := Result{
		Needed: m.pack.amount(m.needed), Target: m.value.amount(m.target),
		Fitted: m.fittedPack(&p),
	}
	var gives, gain *big.Rat
	best, found := s.best(p.Rule)
	if found {
		gives, gain = m.valueOf(best.totals[0]), m.gainOver(best.totals[0])
		r.Verdict = FitPack
		r.Packs, r.Optimal = s.packs(best)
		if c, ok := s.nearer(p.Rule, best); ok {
			r.Nearer = &s.some(c, 1)[0]
		}
	} else {
		r.Misses = s.misses()
		r.Reliefs = m.reliefs(&p)
	}
	if m.measured.Cmp(m.lower) >= 0 && m.measured.Cmp(m.upper) <= 0 {
		r.Verdict = LeaveIt
		r.Worthwhile = found && gain.Cmp(m.step(&p)) > 0
	}
	teller{&p, m, &r, gives, gain}.tell()
	return r, nil
}

// gainOver is how much nearer to the target a total comes than what is fitted.
func (m *model) gainOver(total int64) *big.Rat {
	d := m.off(m.measured)
	return d.Sub(d, m.off(m.valueOf(total)))
}

// step is the smallest step at which the measurement was read.
func (m *model) step(p *Problem) *big.Rat {
	r := fraction(p.Measured.Value.Resolution())
	return r.Mul(r, m.unit.per)
}

func (m *model) fittedPack(p *Problem) Pack {
	pack := Pack{
		Total: m.pack.amount(m.fitted), Gives: m.value.amount(m.measured),
		Off: m.value.amount(m.off(m.measured)),
	}
	for _, h := range p.Fitted.Shims {
		pack.Shims = append(pack.Shims, Use{Thickness: h.Thickness, Part: h.Part, Count: h.Count})
		pack.Count += h.Count
	}
	return pack
}

// packs writes out the packs of a choice, and counts them.
func (s *search) packs(c choice) (packs []Pack, ways int64) {
	for _, t := range c.totals {
		ways += s.reach.ways(c.count, t)
	}
	return s.some(c, MaxPacks), ways
}

// some writes out the packs of a choice, no more of them than most.
func (s *search) some(c choice, most int) (packs []Pack) {
	for _, t := range c.totals {
		found := s.reach.packs(c.count, t, most-len(packs))
		slices.SortFunc(found, func(a, b []int) int { return slices.Compare(b, a) }) // the thickest first
		for _, counts := range found {
			packs = append(packs, s.m.packOf(counts, t))
		}
	}
	return packs
}

// packOf is the pack with a number of each size.
func (m *model) packOf(counts []int, total int64) Pack {
	value := m.valueOf(total)
	p := Pack{Total: m.pack.amount(thicknessOf(total)), Gives: m.value.amount(value), Off: m.value.amount(m.off(value))}
	for i, n := range slices.Backward(counts) {
		if n == 0 {
			continue
		}
		s := m.sizes[i]
		p.Count += n
		p.Shims = append(p.Shims, Use{
			Thickness: s.thickness, Part: s.part, Count: n,
			FromFitted: min(n, s.held), Short: max(0, n-s.stock),
		})
	}
	return p
}

// misses gives the packs next to the window, the nearest first.
func (s *search) misses() []Miss {
	type found struct {
		Miss
		by *big.Rat
	}
	var all []found
	below, above := s.outside()
	for _, c := range []choice{below, above} {
		if c.totals == nil {
			continue
		}
		counts := s.reach.packs(c.count, c.totals[0], 1)[0]
		f := found{Miss: Miss{Pack: s.m.packOf(counts, c.totals[0])}}
		value := s.m.valueOf(c.totals[0])
		if f.Above = value.Cmp(s.m.upper) > 0; f.Above {
			f.by = value.Sub(value, s.m.upper)
		} else {
			f.by = value.Sub(s.m.lower, value)
		}
		f.By = s.m.value.amount(f.by)
		all = append(all, f)
	}
	slices.SortStableFunc(all, func(a, b found) int {
		return cmp.Or(a.by.Cmp(b.by), cmp.Compare(a.Count, b.Count))
	})
	var misses []Miss
	for _, f := range all {
		misses = append(misses, f.Miss)
	}
	return misses
}

// reliefs tries what would be without the limits that are not of the shims
// themselves: first each alone, then, where neither helps, both.
func (m *model) reliefs(p *Problem) (all []Relief) {
	endless, short := slices.Clone(m.sizes), false
	for i := range endless {
		if s := &endless[i]; s.listed && s.stock < MaxCount {
			s.stock, short = MaxCount, true
		}
	}
	for _, r := range []Relief{{Stock: true}, {Count: true}, {Stock: true, Count: true}} {
		if r.Stock && r.Count && len(all) > 0 || r.Stock && !short || r.Count && p.LargestCount == MaxCount {
			continue
		}
		sizes, most := m.sizes, p.LargestCount
		if r.Stock {
			sizes = endless
		}
		if r.Count {
			most = MaxCount
		}
		s := newSearch(m, sizes, most)
		if best, ok := s.best(p.Rule); ok {
			counts := s.reach.packs(best.count, best.totals[0], 1)[0]
			r.Pack = m.packOf(counts, best.totals[0])
			all = append(all, r)
		}
	}
	return all
}

// place is where the pack needed lies among what can be made of the sizes,
// whatever their stock.
type place int

const (
	among place = iota
	belowNothing
	belowThinnest
	aboveThickest
)

func (m *model) place(largest int) place {
	thickest, thinnest := m.sizes[0].ticks, m.sizes[len(m.sizes)-1].ticks
	switch {
	case m.needed.Sign() < 0:
		return belowNothing
	case m.needed.Cmp(thicknessOf(thinnest)) < 0:
		return belowThinnest
	case m.needed.Cmp(thicknessOf(int64(largest)*thickest)) > 0:
		return aboveThickest
	}
	return among
}

// limits writes the window as the problem does.
func limits(lower, upper vehicle.Quantity) string {
	if lower.Unit == upper.Unit {
		return lower.Value.String() + " to " + upper.String()
	}
	return lower.String() + " to " + upper.String()
}
