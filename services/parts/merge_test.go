package parts_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

// A hub was split into a housing and two bearings, and later housing and
// bearing were made one again: one takes the place of one of each.
func TestPartsThatAreMergedAreOrderedOnce(t *testing.T) {
	split := parts.Supersession{ID: "S1", Old: "HUB-1", New: lines(line("HOUSING", 1), line("BEARING", 2)), Effective: day("2012-01-01")}
	merge := func(on string, old string, also ...string) parts.Supersession {
		return parts.Supersession{ID: "S2", Old: old, AlsoOld: also, New: lines(line("HUB-2", 1)), Effective: day(on)}
	}
	kit := part("KIT", "Hub kit", holds(line("HOUSING", 1), line("BEARING", 1), line("WASHER", 2)))
	all := []parts.Part{part("HUB-1", "Hub"), part("HOUSING", "Housing"), part("BEARING", "Bearing"), part("WASHER", "Washer"), part("HUB-2", "Hub"), kit}
	releases := build.ReleaseSet{"R1": {ID: "R1", Effective: day("2008-01-01"), Fitments: []build.Fitment{fitment("hub", "HUB-1", 2), fitment("set", "KIT", 1)}}}
	for _, test := range []struct {
		name  string
		merge parts.Supersession
		want  string
	}{
		{"as many as of the part of which there are most", merge("2015-01-01", "HOUSING", "BEARING"), "HUB-2 x4 also "},
		{"whichever of them is named first", merge("2015-01-01", "BEARING", "HOUSING"), "HUB-2 x4 also "},
		{"as many as of the only one that goes here", merge("2015-01-01", "HOUSING", "WASHER"), "HUB-2 x2 also 4 BEARING"},
		{"not before its day", merge("2030-01-01", "HOUSING", "BEARING"), "HOUSING x2 also 4 BEARING"},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := catalogueOf(all, []parts.Supersession{split, test.merge})
			got := askOf(t, c, releases, built("AM0101", "R1"), today, "hub")
			if len(got.Choices) != 1 || plain(&got.Choices[0]) != test.want {
				t.Errorf("got %+v, want %s", got.Choices, test.want)
			}
		})
	}
	t.Run("so are those that a kit holds", func(t *testing.T) {
		c := catalogueOf(all, []parts.Supersession{split, merge("2015-01-01", "HOUSING", "BEARING")})
		got := askOf(t, c, releases, built("AM0101", "R1"), today, "set")
		want := lines(line("HUB-2", 1), line("WASHER", 2))
		if len(got.Choices) != 1 || cmp.Diff(want, got.Choices[0].Contents) != "" {
			t.Errorf("got %+v, want a choice with contents %v", got.Choices, want)
		}
	})
}

// Hoses of the left and of the right were merged into one pair, and there are
// such hoses in front and behind: two pairs, of which one is meant.
func TestAMergeIsOrderedForEachPlaceOfItsOldParts(t *testing.T) {
	c := catalogueOf([]parts.Part{part("HOSE-L", "Hose"), part("HOSE-R", "Hose"), part("PAIR", "Pair of hoses", words("hose"))}, []parts.Supersession{
		{ID: "S1", Old: "HOSE-L", AlsoOld: []string{"HOSE-R"}, New: lines(line("PAIR", 1)), Effective: day("2015-01-01")},
	})
	releases := build.ReleaseSet{"R1": {ID: "R1", Effective: day("2008-01-01"), Fitments: []build.Fitment{
		fitment("hose-front-left", "HOSE-L", 1), fitment("hose-front-right", "HOSE-R", 1),
		fitment("hose-rear-left", "HOSE-L", 1), fitment("hose-rear-right", "HOSE-R", 1),
	}}}
	for question, want := range map[string]int{"PAIR": 2, "HOSE-R": 2, "hoses pair": 2} {
		if got := askOf(t, c, releases, built("AM0101", "R1"), today, question); len(got.Choices) != want || got.AskBack == "" {
			t.Errorf("%s: %d choices, asks %q, want %d and a question", question, len(got.Choices), got.AskBack, want)
		}
	}
}
