package forecast

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// plainSlopes keeps slopes as folding does, in one list and without places.
type plainSlopes []slope

func (p plainSlopes) insert(s slope) plainSlopes {
	i := slices.IndexFunc(p, func(other slope) bool { return other.pace >= s.pace })
	if i < 0 {
		i = len(p)
	}
	return slices.Insert(p, i, s)
}

func (p plainSlopes) forget(id int32) plainSlopes {
	return slices.DeleteFunc(p, func(s slope) bool { return s.from == id || s.to == id })
}

func (p plainSlopes) middle(kept int32) float64 {
	weights := make([]float64, len(p))
	for i, s := range p {
		weights[i] = s.weight
		if s.from < kept {
			weights[i] *= oldCounts
		}
	}
	all, sum := 0.0, 0.0
	for _, w := range weights {
		all += w
	}
	for i, w := range weights {
		if sum += w; sum >= all/2 {
			return p[i].pace
		}
	}
	return math.NaN()
}

func TestTheSlopesOfAWindowAreThoseOfAPlainList(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var f folding
		f.begin(0)
		var plain plainSlopes
		var ids []int32 // of the points in the window
		for next := range int32(rapid.IntRange(2, 40).Draw(t, "points")) {
			if len(ids) == window || len(ids) > 0 && rapid.IntRange(0, 5).Draw(t, "forget") == 0 {
				i := rapid.IntRange(0, len(ids)-1).Draw(t, "which")
				f.forget(ids[i])
				plain = plain.forget(ids[i])
				ids = slices.Delete(ids, i, i+1)
			}
			for _, from := range ids {
				s := slope{
					pace:   float64(rapid.IntRange(0, 6).Draw(t, "pace")), // few, so that many are equal
					weight: rapid.Float64Range(0.1, 1000).Draw(t, "weight"), from: from, to: next,
				}
				f.insert(s)
				plain = plain.insert(s)
			}
			ids = append(ids, next)
			for _, kept := range []int32{0, next - 2} {
				if f.count != len(plain) || f.count > 0 && f.middle(kept) != plain.middle(kept) {
					t.Fatalf("of %v, little before %d: got %d slopes, middle %v, want %v", plain, kept, f.count, f.middle(kept), plain.middle(kept))
				}
			}
		}
	})
}
