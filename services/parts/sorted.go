package parts

import (
	"slices"
	"sort"
)

// sorted is an ordered list that is changed in batches: a few changes move
// what stands behind them and compare nothing else, so that a large list is
// not sorted anew for them.
type sorted[T any] struct {
	all         []T
	added, gone []T // since it was last in order
}

func (s *sorted[T]) add(x T)    { s.added = append(s.added, x) }
func (s *sorted[T]) remove(x T) { s.gone = append(s.gone, x) }

// settle takes in what was added, then out what was removed.
func (s *sorted[T]) settle(compare func(a, b T) int) {
	slices.SortFunc(s.added, compare)
	switch many := len(s.added) > len(s.all)/8; {
	case many && len(s.all) == 0:
		s.all = slices.Clone(s.added)
	case many:
		s.all = append(s.all, s.added...)
		slices.SortFunc(s.all, compare)
	default:
		s.insert(compare)
	}
	slices.SortFunc(s.gone, compare)
	s.cut(compare)
	s.added, s.gone = nil, nil
}

// insert works from the end, so that everything moves once.
func (s *sorted[T]) insert(compare func(a, b T) int) {
	end := len(s.all)
	s.all = append(s.all, s.added...)
	for i := len(s.added) - 1; i >= 0; i-- {
		x := s.added[i]
		at := sort.Search(end, func(j int) bool { return compare(s.all[j], x) > 0 })
		copy(s.all[at+i+1:], s.all[at:end])
		s.all[at+i] = x
		end = at
	}
}

// cut takes out one for each that is gone.
func (s *sorted[T]) cut(compare func(a, b T) int) {
	kept, from := 0, 0 // everything before from is decided, and kept of it stand in front
	for _, x := range s.gone {
		at := from + sort.Search(len(s.all)-from, func(j int) bool { return compare(s.all[from+j], x) >= 0 })
		if at == len(s.all) || compare(s.all[at], x) != 0 {
			continue
		}
		kept += copy(s.all[kept:], s.all[from:at])
		from = at + 1
	}
	if from > 0 {
		kept += copy(s.all[kept:], s.all[from:])
		s.all = slices.Delete(s.all, kept, len(s.all))
	}
}
