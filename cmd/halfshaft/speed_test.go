package main

import (
	"strings"
	"testing"
)

// TestTheSpeedOfAVehicleReadsLikeThis compares what support reads out with
// testdata/speed.golden: taller tyres since 2023, the day before them, and a
// longer axle that makes the dial read low (STORIES.md of the demo works).
func TestTheSpeedOfAVehicleReadsLikeThis(t *testing.T) {
	data := demoData(t)
	readLike(t, data, "testdata/speed.golden", [][]string{
		{"speed", "am 0118 z"},
		{"speed", "AM0118Z", "--on", "2023-03-14", "--rpm", "3000"},
		{"speed", "AM01170"},
	})
	if out, ok := halfshaft(t, data, "speed", "AM0118Z", "--json"); !ok || !strings.Contains(out, `"odometerFactorPpm"`) {
		t.Errorf("as JSON: %v\n%s", ok, out)
	}
	if out, ok := halfshaft(t, data, "speed", "AM0118Z", "--rpm", "20000"); ok || !strings.Contains(out, "10000 turns a minute") {
		t.Errorf("for an engine speed that none has: %v, %s", ok, out)
	}
}
