package main

import (
	"strings"
	"testing"
)

// TestThePlanOfVisitsReadsLikeThis compares what support reads out with
// testdata/visits.golden: laid up every winter, driven from June to August, and
// driven all year and much (STORIES.md of the demo works).
func TestThePlanOfVisitsReadsLikeThis(t *testing.T) {
	data := demoData(t)
	readLike(t, data, "testdata/visits.golden", [][]string{
		{"visits", "am 0147 p", "--months", "12"},
		{"visits", "AM0161T", "--months", "15"},
		{"visits", "AM0150Z", "--months", "8"},
		{"visits", "AM0164N", "--months", "1"},
	})
	if out, ok := halfshaft(t, data, "visits", "AM0147P", "--json"); !ok || !strings.Contains(out, `"leastCost"`) {
		t.Errorf("as JSON: %v\n%s", ok, out)
	}
	if out, ok := halfshaft(t, data, "visits", "AM0147P", "--months", "99"); ok || !strings.Contains(out, "1 to 60") {
		t.Errorf("for a hundred months: %v, %s", ok, out)
	}
}
