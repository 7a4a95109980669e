package build_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/build"
)

// What something is in must be there, and nothing is in itself, however far round.
func TestAnAssemblyIsAPositionAndIsNotInItself(t *testing.T) {
	for name, c := range map[string]struct {
		within map[string]string
		want   []string
	}{
		"a bearing in its case":       {map[string]string{"b": "a"}, nil},
		"in what nobody knows":        {map[string]string{"b": "x"}, []string{"fitments[1].within"}},
		"in itself":                   {map[string]string{"b": "b"}, []string{"fitments[1].within"}},
		"each in the other":           {map[string]string{"a": "b", "b": "a"}, []string{"fitments[0].within", "fitments[1].within"}},
		"a seal in a bearing in both": {map[string]string{"b": "a", "c": "b"}, nil},
	} {
		r := build.Release{ID: "R1", Title: "First"}
		for _, p := range []string{"a", "b", "c"} {
			r.Fitments = append(r.Fitments, build.Fitment{Position: p, Part: "AP-1", Within: c.within[p]})
		}
		var got []string
		for _, f := range build.CheckRelease(&r) {
			if slices.Contains([]string{"fitments[0].within", "fitments[1].within", "fitments[2].within"}, f.Name) {
				got = append(got, f.Name)
			}
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: refused are %v, want %v", name, got, c.want)
		}
	}
}

// Eight assemblies may stand within each other, and are all known; nine may not.
func TestAssembliesAreEightDeepAndNoMore(t *testing.T) {
	for deep, want := range map[int]int{8: 0, 9: 1} {
		r := build.Release{ID: "R1", Title: "First", Fitments: []build.Fitment{{Position: "p0", Part: "AP-1"}}}
		for n := 1; n <= deep; n++ {
			r.Fitments = append(r.Fitments, build.Fitment{Position: fmt.Sprintf("p%d", n), Part: "AP-1", Within: fmt.Sprintf("p%d", n-1)})
		}
		refused := 0
		for _, f := range build.CheckRelease(&r) {
			if strings.HasSuffix(f.Name, ".within") {
				refused++
			}
		}
		if refused != want {
			t.Errorf("%d deep: %d are refused, want %d", deep, refused, want)
		}
	}
}

// What is in what, the nearest first; an option's part is where the standard's was.
func TestATimelineKnowsInWhichAssembliesSomethingIs(t *testing.T) {
	r := build.Release{ID: "R1", Fitments: []build.Fitment{{Position: "a", Part: "1"}, {Position: "b", Part: "2", Within: "a"}, {Position: "c", Part: "3", Within: "b"}},
		Options: []build.Option{{ID: "better", Fitments: []build.Fitment{{Position: "c", Part: "4"}}}}}
	life, err := build.TimelineOf(build.Record{Serial: "AM0147P", Release: "R1", Options: []string{"better"}}, nil, build.ReleaseSet{"R1": &r})
	if err != nil {
		t.Fatal(err)
	}
	if got := life.Assemblies("c"); !slices.Equal(got, []string{"b", "a"}) {
		t.Errorf("c is in %v", got)
	}
	if got := life.Assemblies("a"); got != nil {
		t.Errorf("a is in %v", got)
	}
}
