package typeset

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// dumbFit tries every place where a page may end and takes the best: the one
// that parts what matters least, and of those the last. Groups of rows are
// parted where whole ones leave the page mostly empty.
func dumbFit(strips []Strip, room float64) int {
	height := func(n int) (h float64) {
		for i, s := range strips[:n] {
			if h += s.Height; i > 0 {
				h += s.Before
			}
		}
		return h
	}
	if height(len(strips)) <= room {
		return len(strips)
	}
	best := 1
	bestKeep := Hard + 1
	for n := 1; n < len(strips) && height(n) <= room; n++ {
		if k := strips[n-1].Keep; k <= bestKeep {
			best, bestKeep = n, k
		}
	}
	if bestKeep > Loose {
		return best
	}
	if bestKeep == Free {
		best = parted(strips, best, Loose, room, emptiestLoose, height)
	}
	best = parted(strips, best, Soft, room, emptiestSoft, height)
	return best
}

// parted is the last end behind best that parts no more than keep, where a page
// would otherwise be emptier than percent.
func parted(strips []Strip, best int, keep Keep, room float64, percent int, height func(int) float64) int {
	if int(100*height(best)/room) >= percent {
		return best
	}
	for n := best + 1; n < len(strips) && height(n) <= room; n++ {
		if strips[n-1].Keep == keep {
			best = n
		}
	}
	return best
}

func TestAPageEndsWhereTheLeastIsParted(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 14).Draw(t, "strips")
		strips := make([]Strip, n)
		for i := range strips {
			strips[i] = Strip{
				Before: float64(rapid.IntRange(0, 2).Draw(t, "before")),
				Height: float64(rapid.IntRange(1, 6).Draw(t, "height")),
				Keep:   Keep(rapid.IntRange(0, int(Hard)).Draw(t, "keep")),
			}
		}
		room := float64(rapid.IntRange(3, 40).Draw(t, "room"))
		if got, want := Fit(strips, room), dumbFit(strips, room); got != want {
			t.Fatalf("%d strips, want %d: %+v in %.0f", got, want, strips, room)
		}
	})
}

// A heading, a drawing with its caption, and a table of two rows, the second of
// two lines: the page ends between the rows, or before the table where that has
// one row, and never within a row while there is another way.
func TestARowIsPartedOnlyWhereNothingElseCanBe(t *testing.T) {
	line := func(k Keep) Strip { return Strip{Height: 10, Keep: k} }
	for _, c := range []struct {
		name   string
		strips []Strip
		want   int
	}{
		{"two rows", []Strip{line(Hard), line(Hard), line(Firm), line(Hard), line(Paired), line(Whole), line(Free)}, 5},
		{"one row", []Strip{line(Hard), line(Hard), line(Firm), line(Hard), line(Whole), line(Free)}, 3},
		{"a row alone", []Strip{line(Hard), line(Whole), line(Whole), line(Free)}, 3},
	} {
		if got := Fit(c.strips, float64(10*len(c.strips)-5)); got != c.want {
			t.Errorf("%s: the page ends after %d, want %d", c.name, got, c.want)
		}
	}
}

// dumbCost tries every way of breaking words into lines.
func dumbCost(words []word, width float64) float64 {
	best := math.Inf(1)
	n := len(words)
	for cuts := range 1 << (n - 1) {
		sum, from := 0.0, 0
		for i := range n {
			if i < n-1 && cuts>>i&1 == 0 {
				continue
			}
			natural := 0.0
			for j, w := range words[from : i+1] {
				if natural += w.width; j > 0 {
					natural += w.space
				}
			}
			if natural > width+slip && i > from {
				sum = math.Inf(1)
				break
			}
			sum += cost(words[from:i+1], natural, width, i == n-1, from > 0)
			from = i + 1
		}
		best = min(best, sum)
	}
	return best
}

func TestLinesAreAsEvenAsAnyWayOfBreakingThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		words := make([]word, rapid.IntRange(1, 12).Draw(t, "words"))
		for i := range words {
			words[i] = word{width: float64(rapid.IntRange(1, 10).Draw(t, "width")), space: 1}
		}
		width := float64(rapid.IntRange(10, 30).Draw(t, "line"))
		got, from := 0.0, 0
		ends := fit(words, width)
		for _, end := range ends {
			natural := 0.0
			for j, w := range words[from:end] {
				if natural += w.width; j > 0 {
					natural += w.space
				}
			}
			if natural > width+slip {
				t.Fatalf("a line of %.1f in %.1f", natural, width)
			}
			got, from = got+cost(words[from:end], natural, width, end == len(words), from > 0), end
		}
		if from != len(words) {
			t.Fatalf("%d of %d words are set", from, len(words))
		}
		if want := dumbCost(words, width); math.Abs(got-want) > 1e-6 {
			t.Fatalf("lines that end behind %v cost %.3f, others %.3f", ends, got, want)
		}
	})
}

func TestALastLineIsNotOneShortWord(t *testing.T) {
	words := []word{{width: 30}, {width: 30, space: 1}, {width: 30, space: 1}, {width: 4, space: 1}}
	if ends := fit(words, 92); len(ends) != 2 || ends[0] == 3 {
		t.Errorf("lines end behind %v", ends)
	}
}
