package main

import (
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

// TestTheSpeedOfAVehicleReadsLikeThis compares what support reads out with
// testdata/speed.golden: taller tyres since 2023, the day before them, and a
// longer axle that makes the dial read low (STORIES.md of the demo works).
func TestTheSpeedOfAVehicleReadsLikeThis(t *testing.T) {
	data := demoData(t)
	var got strings.Builder
	for _, args := range [][]string{
		{"speed", "am 0118 z"},
		{"speed", "AM0118Z", "--on", "2023-03-14", "--rpm", "3000"},
		{"speed", "AM01170"},
	} {
		out, ok := halfshaft(t, data, args...)
		if !ok {
			t.Errorf("halfshaft %s failed", strings.Join(args, " "))
		}
		got.WriteString("$ halfshaft " + strings.Join(args, " ") + "\n" + out + "\n")
	}
	const path = "testdata/speed.golden"
	if *update {
		if err := os.WriteFile(path, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got.String()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if out, ok := halfshaft(t, data, "speed", "AM0118Z", "--json"); !ok || !strings.Contains(out, `"odometerFactorPpm"`) {
		t.Errorf("as JSON: %v\n%s", ok, out)
	}
	if out, ok := halfshaft(t, data, "speed", "AM0118Z", "--rpm", "20000"); ok || !strings.Contains(out, "10000 turns a minute") {
		t.Errorf("for an engine speed that none has: %v, %s", ok, out)
	}
}
