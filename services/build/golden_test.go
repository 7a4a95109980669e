package build_test

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

// TestAConfigurationReadsLikeThis compares what people are told of a vehicle
// with testdata/configuration.txt.
func TestAConfigurationReadsLikeThis(t *testing.T) {
	rec, releases := first(t)
	changes := history(
		build.Change{Kind: build.Upgrade, Source: build.SourceWorks, Date: day(2016, 5, 2), Release: "R2", Positions: []string{"swivel-housing-left", "transfer-case"}},
		build.Change{Kind: build.Fit, Source: build.SourceService, Date: day(2017, 8, 14), Component: build.Component{Position: "shock-absorbers", Part: "AP-2500", Lot: "L31"}},
		build.Change{Kind: build.Fit, Source: build.SourceCampaign, Date: day(2018, 2, 1), Component: build.Component{Position: "front-axle-differential", Part: "AP-2049", Serial: "D-7"}},
		build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2019, 9, 9), Component: build.Component{Position: "snorkel", Part: "OWN-1"}},
		build.Change{Kind: build.Overhaul, Source: build.SourceService, Date: day(2023, 6, 1), Component: build.Component{Position: "transfer-case"}},
		build.Change{Kind: build.OptionAdded, Source: build.SourceService, Date: day(2024, 1, 15), Option: "winch-rope"},
		build.Change{Kind: build.Fit, Source: build.SourceService, Date: day(2025, 3, 3), Counterpart: "builds/AM0148N/changes/c9",
			Component: build.Component{Position: "gearbox", Part: "AP-1101", Serial: "GB-1207", Lot: "L09", Prior: miles(t, "20400")}},
		build.Change{Kind: build.Fit, Source: build.SourceService, Date: day(2026, 1, 1), Component: build.Component{Position: "front-axle-differential", Part: "AP-2041"}},
	)
	built, err := build.AsBuilt(rec, releases)
	if err != nil {
		t.Fatal(err)
	}
	got := "AS BUILT\n" + readable(built) + "\nON 25 NOVEMBER 2026\n" + readable(configure(t, rec, changes, releases, day(2026, 11, 25)))
	const path = "testdata/configuration.txt"
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
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func readable(c build.Configuration) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, release %s, options %s\n", c.Serial, c.Release, strings.Join(c.Options, ", "))
	fmt.Fprintf(&b, "%s, axle %s, speedometer drive %d:%d, dial of %d digits in %s, plate %s\n",
		c.Tyre, c.Drive.AxleRatio, c.Drive.DriverTeeth, c.Drive.DrivenTeeth, c.Dial.Digits, c.Dial.Unit, c.Plate)
	for i := range c.Fitted {
		f := &c.Fitted[i]
		standard := "standard"
		if !f.Standard {
			standard = "not standard"
		}
		fmt.Fprintf(&b, "\n%s: %d x %s (%s, %s, release %s, since %s)\n", f.Component.Position, f.Quantity, f.Component.Part, f.Origin, standard, f.Release, f.Component.Fitted)
		for _, r := range f.Reasons() {
			fmt.Fprintf(&b, "  %s\n", r.Sentence)
		}
	}
	return b.String()
}
