package parts_test

import (
	"fmt"
	"slices"

	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

func pick[T any](t *rapid.T, label string, of ...T) T { return rapid.SampledFrom(of).Draw(t, label) }

func drawWorld(t *rapid.T) (w world, releases build.ReleaseSet, l life) {
	const n = 9
	number := func(i int) string { return fmt.Sprintf("P-%d", i) }
	some := func(label string) []string {
		return slices.Clone(pick(t, label, [][]string{nil, nil, {"R1"}, {"R2"}, {"R1", "R2"}}...))
	}
	for i := range n {
		w.parts = append(w.parts, parts.Part{Number: number(i), Title: "Part", Releases: some("for"),
			Status: pick(t, "status", parts.Orderable, parts.Orderable, parts.UseUp, parts.Unavailable)})
	}
	dates := []string{"2010-01-01", "2015-01-01", "2020-01-01"}
	for i := range rapid.IntRange(0, 10).Draw(t, "supersessions") {
		old := rapid.IntRange(0, n-2).Draw(t, "old") // only forwards: no circle
		s := parts.Supersession{ID: fmt.Sprintf("S%02d", i), Old: number(old), Effective: day(pick(t, "effective", dates...)), Releases: some("holds for")}
		for _, j := range rapid.SliceOfNDistinct(rapid.IntRange(old+1, n-1), 1, min(2, n-1-old), rapid.ID).Draw(t, "new") {
			s.New = append(s.New, line(number(j), rapid.IntRange(0, 2).Draw(t, "quantity")))
		}
		if len(s.New) == 1 && rapid.IntRange(0, 2).Draw(t, "merge") == 0 {
			for _, j := range rapid.SliceOfNDistinct(rapid.IntRange(0, n-2), 1, 2, rapid.ID).Draw(t, "also old") {
				if j != old && number(j) < s.New[0].Part {
					s.AlsoOld = append(s.AlsoOld, number(j))
				}
			}
		}
		s.TwoWay = len(s.New) == 1 && len(s.AlsoOld) == 0 && rapid.Bool().Draw(t, "two way")
		for _, j := range rapid.SliceOfNDistinct(rapid.IntRange(0, n-1), 0, 1, rapid.ID).Draw(t, "together") {
			s.Together = append(s.Together, number(j))
		}
		w.supersessions = append(w.supersessions, s)
	}
	positions := []string{"alpha", "beta", "gamma"}
	releases = build.ReleaseSet{}
	for _, id := range []string{"R1", "R2"} {
		r := &build.Release{ID: id, Effective: day("2009-01-01")}
		for _, p := range positions[:rapid.IntRange(1, 3).Draw(t, "positions")] {
			r.Fitments = append(r.Fitments, fitment(p, number(rapid.IntRange(0, n-1).Draw(t, "part")), rapid.IntRange(0, 3).Draw(t, "count")))
		}
		releases[id] = r
	}
	l = built("AM0101", pick(t, "release", "R1", "R2"))
	for i := range rapid.IntRange(0, 3).Draw(t, "changes") {
		on, position := fmt.Sprintf("201%d-03-0%d", 3+i, 1+i), pick(t, "position", positions...)
		source := pick(t, "source", build.SourceService, build.SourceWorks, build.SourceCampaign, build.SourceOwner)
		switch rapid.IntRange(0, 3).Draw(t, "kind") {
		case 0:
			l = l.change(on, build.Remove, source, position, "")
		case 1:
			l = l.upgraded(on, pick(t, "to", "R1", "R2"), position)
		default:
			l = l.change(on, build.Fit, source, position, pick(t, "unit", number(0), number(3), number(6), "ZZ-9"))
		}
	}
	w.on = day(pick(t, "on", "2012-06-01", "2014-06-01", "2016-06-01", "2021-01-01"))
	return w, releases, l
}
