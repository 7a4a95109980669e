package shims

import "slices"

// total is a sum that shims can make, in ticks, and how many packs make it.
type total struct{ ticks, ways int64 }

// half is a part of the sizes, and what they make: layers[i][n] holds in order
// the totals of n shims of the first i sizes.
type half struct {
	sizes  []size
	layers [][][]total
}

func newHalf(sizes []size, most int) half {
	h := half{sizes: sizes, layers: make([][][]total, 1, len(sizes)+1)}
	h.layers[0] = make([][]total, most+1)
	h.layers[0][0] = []total{{0, 1}}
	for i, s := range sizes {
		h.layers = append(h.layers, layer(h.layers[i], s))
	}
	return h
}

// layer adds a size to the totals without it. A pack of n either has none of
// the size, or is a pack of n-1 with one more: of these, those that come to one
// more than the stock are taken out again.
func layer(without [][]total, s size) [][]total {
	with := make([][]total, len(without))
	with[0] = without[0]
	for n := 1; n < len(without); n++ {
		var tooMany []total
		if n > s.stock {
			tooMany = without[n-1-s.stock]
		}
		with[n] = merge(without[n], with[n-1], s.ticks, tooMany, int64(s.stock+1)*s.ticks)
	}
	return with
}

// merge puts the totals of b, each more by a number of ticks, among those of a;
// but for those of out, each more by another number, which are all among b.
func merge(a, b []total, more int64, out []total, moreOut int64) []total {
	merged := make([]total, 0, len(a)+len(b)-len(out))
	for _, y := range b {
		y.ticks += more
		if len(out) > 0 && out[0].ticks+moreOut == y.ticks {
			y.ways -= out[0].ways
			out = out[1:]
			if y.ways == 0 {
				continue
			}
		}
		for len(a) > 0 && a[0].ticks < y.ticks {
			merged, a = append(merged, a[0]), a[1:]
		}
		if len(a) > 0 && a[0].ticks == y.ticks {
			y.ways += a[0].ways
			a = a[1:]
		}
		merged = append(merged, y)
	}
	return append(merged, a...)
}

// of gives the totals of n shims.
func (h *half) of(n int) []total { return h.layers[len(h.sizes)][n] }

// unfold gives each way to make a total of n shims of the first i sizes, as the
// number of each size; until yield says that it is enough. The slice it hands
// over is its own.
func (h *half) unfold(i, n int, ticks int64, counts []int, yield func([]int) bool) bool {
	if i == 0 {
		return yield(counts)
	}
	s := h.sizes[i-1]
	for of := 0; of <= min(s.stock, n); of++ {
		rest := ticks - int64(of)*s.ticks
		if !has(h.layers[i-1][n-of], rest) {
			continue
		}
		counts[i-1] = of
		if !h.unfold(i-1, n-of, rest, counts, yield) {
			return false
		}
	}
	counts[i-1] = 0
	return true
}

func has(totals []total, ticks int64) bool {
	_, found := slices.BinarySearchFunc(totals, ticks, func(t total, ticks int64) int {
		switch {
		case t.ticks < ticks:
			return -1
		case t.ticks > ticks:
			return 1
		}
		return 0
	})
	return found
}

// reach is what all sizes make together.
type reach struct{ a, b half }

func newReach(sizes []size, most int) *reach {
	cut := len(sizes) / 2
	return &reach{newHalf(sizes[:cut], most), newHalf(sizes[cut:], most)}
}

// beside gives the totals of n shims on both sides of a pivot: the greatest
// that is not more, and the least that is; -1 for none.
func (r *reach) beside(n int, pivot int64) (below, above int64) {
	below, above = -1, -1
	for of := range n + 1 {
		b := r.b.of(n - of)
		at := len(b) // of the first that makes more than the pivot
		for _, x := range r.a.of(of) {
			for at > 0 && x.ticks+b[at-1].ticks > pivot {
				at--
			}
			if at > 0 {
				below = max(below, x.ticks+b[at-1].ticks)
			}
			if at < len(b) && (above < 0 || x.ticks+b[at].ticks < above) {
				above = x.ticks + b[at].ticks
			}
		}
	}
	return below, above
}

// pairs gives the totals of the two halves that make a total of n shims, with
// the number of shims in the first; until yield says that it is enough.
func (r *reach) pairs(n int, ticks int64, yield func(of int, x, y total) bool) {
	for of := range n + 1 {
		b := r.b.of(n - of)
		at := len(b)
		for _, x := range r.a.of(of) {
			for at > 0 && x.ticks+b[at-1].ticks > ticks {
				at--
			}
			if at > 0 && x.ticks+b[at-1].ticks == ticks && !yield(of, x, b[at-1]) {
				return
			}
		}
	}
}

// ways is how many packs of n shims make a total.
func (r *reach) ways(n int, ticks int64) (ways int64) {
	r.pairs(n, ticks, func(_ int, x, y total) bool {
		ways += x.ways * y.ways
		return true
	})
	return ways
}

// packs gives the packs of n shims that make a total, as the number of each
// size; no more of them than most.
func (r *reach) packs(n int, ticks int64, most int) (found [][]int) {
	cut := len(r.a.sizes)
	counts := make([]int, cut+len(r.b.sizes))
	r.pairs(n, ticks, func(of int, x, y total) bool {
		return r.a.unfold(cut, of, x.ticks, counts[:cut], func([]int) bool {
			return r.b.unfold(len(r.b.sizes), n-of, y.ticks, counts[cut:], func([]int) bool {
				if len(found) < most {
					found = append(found, slices.Clone(counts))
				}
				return len(found) < most
			})
		})
	})
	return found
}
