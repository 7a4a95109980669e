package works_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/console"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

// golden compares what a person reads with what was read and found good.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name+".golden")
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s: %s", path, diff)
	}
}

// The readings of the demo works that wait for a person, a decision about the
// dial that went round, and how far the parts of two vehicles have gone.
func TestDoubtfulReadingsDecisionsAndComponentsReadAsTheGoldenFilesSay(t *testing.T) {
	_, ctx, clients := startDemo(t, works.Config{})
	var out bytes.Buffer
	k := &console.Console{Access: clients.Access, Owners: clients.Owners, Builds: clients.Builds, Parts: clients.Parts,
		Schedules: clients.Schedules, Reminders: clients.Reminders, Out: &out}
	said := func(err error) string {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		text := out.String()
		out.Reset()
		return text
	}
	doubtful := said(k.Readings(ctx, "-"))
	golden(t, "readings-doubtful", doubtful)
	name := regexp.MustCompile(`vehicles/AM01138/readings/\S+`).FindString(doubtful)
	golden(t, "settle", said(k.Settle(ctx, name, "rejected", "", "cannot be"))+said(k.Settle(ctx, name, "rolled-over", "", "the owner saw it turn")))
	golden(t, "components", said(k.Components(ctx, "AM01066", vehicle.MustDate(2025, 10, 19)))+said(k.Components(ctx, "AM0101G", vehicle.MustDate(2025, 9, 5))))
}
