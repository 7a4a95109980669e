package shims

// search finds totals among packs of 1 to most shims.
type search struct {
	m     *model
	reach *reach
	most  int
	near  [][2]int64 // for n-1 the totals of n shims beside P*; see reach.beside
}

func newSearch(m *model, sizes []size, most int) *search {
	return &search{m: m, reach: newReach(sizes, most), most: most}
}

// beside gives the totals of n shims beside P*, the thinner first; -1 for none.
func (s *search) beside(n int) [2]int64 {
	for len(s.near) < n {
		below, above := s.reach.beside(len(s.near)+1, s.m.pivot)
		s.near = append(s.near, [2]int64{below, above})
	}
	return s.near[n-1]
}

// choice is a number of shims and the totals that are equally good.
type choice struct {
	count  int
	totals []int64 // the thinner first; one, or two on either side of P*
}

// best gives the best totals in the window, false when there are none. The
// target is in the window, so the totals beside P* are the only ones to look at.
func (s *search) best(rule Rule) (best choice, ok bool) {
	for n := 1; n <= s.most; n++ {
		var c choice
		for _, t := range s.beside(n) {
			if t >= 0 && s.m.fits(t) {
				c = s.better(c, choice{n, []int64{t}})
			}
		}
		if c.totals == nil {
			continue
		}
		if rule == FewestThenNearest {
			return c, true
		}
		best = s.better(best, c)
	}
	return best, best.totals != nil
}

// better gives the one that is nearer to P*; of two that are as near, the one
// with fewer shims; and both in one where that is the same as well.
func (s *search) better(a, b choice) choice {
	if a.totals == nil {
		return b
	}
	switch order := s.m.nearer(a.totals[0], b.totals[0]); {
	case order > 0:
		return b
	case order == 0 && a.count == b.count:
		return choice{a.count, append(a.totals, b.totals...)}
	}
	return a
}

// outside gives the totals next to the window, where none is in it: the
// greatest below it and the least above it, each with the fewest shims.
func (s *search) outside() (below, above choice) {
	for n := 1; n <= s.most; n++ {
		t := s.beside(n)
		if t[0] >= 0 && (below.totals == nil || t[0] > below.totals[0]) {
			below = choice{n, t[:1]}
		}
		if t[1] >= 0 && (above.totals == nil || t[1] < above.totals[0]) {
			above = choice{n, t[1:]}
		}
	}
	return below, above
}
