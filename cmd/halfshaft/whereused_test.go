package main

import (
	"strings"
	"testing"
)

// TestWhereSomethingIsUsedReadsLikeThis compares what support reads out with
// testdata/whereused.golden: the differential that went from one vehicle to
// another, also on a day on which it lay on the bench, a part of a lot
// (STORIES.md of the demo works), a small part that nobody records, and a
// belt that the release calls for and that was superseded since.
func TestWhereSomethingIsUsedReadsLikeThis(t *testing.T) {
	data := demoData(t)
	readLike(t, data, "testdata/whereused.golden", [][]string{
		{"where-used", "--serial", "r 1052"},
		{"where-used", "--serial", "R1052", "--on", "2019-06-05"},
		{"where-used", "--part", "ap3010", "--lot", "L201202"},
		{"where-used", "--serial", "R9004"},
		{"where-used", "--part", "AP-400011", "--until", "2011-06-30"},
		{"where-used", "--part", "AP-1060", "--until", "2011-06-30"},
	})
	for _, c := range []struct{ args, want string }{
		{"--serial R1O52", "No record names a component with the serial R1O52"},
		{"--lot L999999", "No record names lot L999999"},
		{"--part AP-999999", "Neither the catalogue nor any record knows a part AP-999999"},
		{"", "a part, unless a lot or a component_serial is given"},
		{"--lot L201202 --with-supersessions", "with_supersessions"},
		{"--part AP-1063 --until 2021-05-31", "No vehicle has it, had it or may have it until 31 May 2021. Looked at were:"},
		{"--part AP-1063 --until 2021-05-31", "the places at which the catalogue puts the part"},
		{"--serial R1052 --on yesterday", "a day, as in 2026-05-18"},
	} {
		if out, ok := halfshaft(t, data, append([]string{"where-used"}, strings.Fields(c.args)...)...); ok || !strings.Contains(out, c.want) {
			t.Errorf("%q: %v\n%s\nwant %q", c.args, ok, out, c.want)
		}
	}
	for _, c := range []struct{ args, want string }{
		{"--part AP-400011A --on 2019-05-01", "31 vehicles may have it"}, {"--part AP-400011A", "AM0103C may have it: brakes-front-shoe-set, AP-400011A, since 1 May 2019"},
		{"--part AP-1060", "6 vehicles have it."}, {"--part AP-1063", "AM0164N may have it: fan-belt, AP-1063, since 14 March 2026"},
		{"--part AP-1063", "AP-1063 was the pattern to fit on 14 March 2026"},
	} {
		if out, ok := halfshaft(t, data, append([]string{"where-used"}, strings.Fields(c.args)...)...); !ok || !strings.Contains(out, c.want) {
			t.Errorf("%q: %v\n%s\nwant %q", c.args, ok, out, c.want)
		}
	}
	if out, ok := halfshaft(t, data, "where-used", "--serial", "R1052", "--json"); !ok || strings.Count(out, `"build":`) != 2 {
		t.Errorf("as JSON: %v\n%s", ok, out)
	}
}
