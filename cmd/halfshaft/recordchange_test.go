package main

import (
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/testdata/aldermoor"
)

// named is a name that the service gave, another in each run.
var named = regexp.MustCompile(`changes/[0-9a-f]{12}`)

// TestRecordedChangesReadLikeThis records a change of every kind, and moves, as
// a person at the desk would, and compares what is printed with
// testdata/recordchange.golden. Each builds on those before it.
func TestRecordedChangesReadLikeThis(t *testing.T) {
	data := demoData(t)
	p := serve(t, data, "--date", aldermoor.Today.String())
	defer p.stop(t)
	var got strings.Builder
	for _, args := range [][]string{
		{"record", "change", "am 0104 a", "fit", "alternator", "ap6011", "--component-serial", "AL-9", "--lot", "L7", "--prior", "12000mi",
			"--bedding-in", "2020-05-04", "--source", "service", "--by", "P. Holt", "--reason", "bearing noisy", "--reading", "8,310 mi"},
		{"record", "change", "AM0104A", "remove", "heater", "--source", "owner", "--reason", "in the way of a radio", "--on", "2025-06-01"},
		{"record", "change", "AM0104A", "overhaul", "output shaft bearing", "--source", "works", "--by", "Aldermoor Works", "--reason", "re-shimmed to 0.10 mm"},
		{"record", "change", "AM0104A", "tyres", "235/85R16", "--pattern", "all-terrain", "--source", "service", "--reason", "taller tyres wanted"},
		{"record", "change", "AM0104A", "axle-ratio", "4.12", "--source", "works", "--reason", "quieter on the road", "--reading", "8310"},
		{"record", "change", "AM0104A", "speedometer-drive", "6:16", "--source", "works", "--reason", "reads right again"},
		{"record", "change", "AM0104A", "tyres", "235/85R16", "--pattern", "all-terrain", "--circumference", "2440mm", "--source", "works", "--reason", "measured over ten turns", "--reading", "8310mi"},
		{"record", "change", "AM0104A", "option-added", "tow-hitch", "--source", "works", "--reason", "ordered by the owner"},
		{"record", "change", "AM0104A", "option-removed", "tow-hitch", "--source", "works", "--reason", "no longer wanted"},
		{"record", "change", "AM0104A", "plate", "PH 12"},
		{"record", "change", "AM0104A", "plate", ""},
		{"record", "change", "AM0102E", "upgrade", "R3", "--positions", "distributor,brake-hydraulics", "--source", "works", "--reason", "asked for"},
		{"record", "change", "AM0103C", "fit", "brake-hydraulics", "--source", "service", "--reason", "leaked"},
		{"record", "change", "AM0110E", "fit", "distributor", "ZX-1", "--traits", "electronic", "--source", "owner", "--reason", "another ignition"},
		{"record", "change", "AM01138", "dial", "--digits", "5", "--unit", "km", "--turns-per-unit", "621", "--tenths", "--start", "0", "--source", "service",
			"--reason", "taken abroad", "--on", "2026-05-01"},
		{"record", "move", "AM01058", "rear-axle-differential", "AM01066", "--covered", "7000mi", "--reason", "the other one whines", "--by", "P. Holt"},
		{"record", "move", "AM0101G", "hub front left", "AM0101G", "hub-front-right", "--reason", "swapped sides", "--on", "2026-05-17"},
	} {
		out, ok := halfshaft(t, data, args...)
		if !ok {
			t.Errorf("halfshaft %s failed", strings.Join(args, " "))
		}
		got.WriteString("$ halfshaft " + strings.Join(args, " ") + "\n" + named.ReplaceAllString(out, "changes/ID") + "\n")
	}
	const path = "testdata/recordchange.golden"
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
}

// TestAChangeThatCannotBeIsRefusedInWords records nothing: the last command
// shows that the vehicle is as it was.
func TestAChangeThatCannotBeIsRefusedInWords(t *testing.T) {
	data := demoData(t)
	p := serve(t, data, "--date", aldermoor.Today.String())
	defer p.stop(t)
	before, _ := halfshaft(t, data, "vehicle", "AM0101G")
	service := []string{"--source", "service", "--reason", "a test"}
	for _, c := range []struct {
		name string
		args []string
		want string
	}{
		{"no authority and no reason", []string{"remove", "heater"}, `source: got nothing, want under whose authority: service, works, campaign, owner`},
		{"a position of no release", append([]string{"fit", "wings", "AP-1"}, service...), `change.component.position: got "wings", want a position of the releases`},
		{"nothing to take off", append([]string{"remove", "radio"}, service...), `want a position where something stands on that day`},
		{"ahead of the day", append([]string{"axle-ratio", "4.12", "--on", "2027-01-01"}, service...), `change.change_date: got "2027-01-01", want today`},
		{"before the delivery", append([]string{"axle-ratio", "4.12", "--on", "2011-04-01"}, service...), `change.change_date: got "2011-04-01", want 2011-04-24, the delivery date, or later`},
		{"before it was built", append([]string{"axle-ratio", "4.12", "--on", "2001-08-01"}, service...), `on 1 August 2001 there was no such vehicle`},
		{"no day at all", append([]string{"axle-ratio", "4.12", "--on", "yesterday"}, service...), `on: got "yesterday", want a day`},
		{"tyres that roll too far", append([]string{"tyres", "7.50-16", "--circumference", "9000mm"}, service...), `change.tyre.circumference_mm: got "9000", want 1500 to 4000 mm`},
		{"gears without teeth", append([]string{"speedometer-drive", "0:16"}, service...), `change.speedometer_drive.driver_teeth`},
		{"a dial without its turns", append([]string{"dial", "--digits", "5", "--unit", "km", "--start", "0km"}, service...), `change.dial.turns_per_unit: got "0", want 100 to 5000`},
		{"more than the dial shows", append([]string{"axle-ratio", "4.12", "--reading", "123456mi"}, service...), `change.reading.entered_value: got "123456", want what a dial of 5 digits`},
		{"a release of no works", append([]string{"upgrade", "R9", "--positions", "heater"}, service...), `change.release: got "releases/R9", want a release that exists`},
		{"an option it has not", append([]string{"option-removed", "winch-wire"}, service...), `want an option that is on the vehicle on that day`},
		{"a unit that stands on another vehicle", append([]string{"fit", "rear-axle-differential", "AP-3010", "--component-serial", "R9004"}, service...), `AM01058`},
		{"a life of no unit", append([]string{"fit", "alternator", "--prior", "12000"}, service...), `prior: got "12000", want a distance with its unit`},
		{"a kind that is none", append([]string{"respray"}, service...), `unexpected argument respray`},
	} {
		t.Run(c.name, func(t *testing.T) {
			if out, ok := halfshaft(t, data, append([]string{"record", "change", "AM0101G"}, c.args...)...); ok || !strings.Contains(out, c.want) {
				t.Errorf("%v\n%s\nwant %q", ok, out, c.want)
			}
		})
	}
	for _, c := range []struct {
		name string
		args []string
		want string
	}{
		{"from where nothing stands", []string{"AM0101G", "radio", "AM0103C", "--reason", "a test"}, "nothing stood at the radio of AM0101G"},
		{"to where it is", []string{"AM0101G", "heater", "AM0101G", "--reason", "a test"}, `destination: got "builds/AM0101G", want another vehicle, or another position`},
		{"to where it does not belong", []string{"AM0101G", "heater", "AM0103C", "wings", "--reason", "a test"}, `destination_position: got "wings"`},
		{"to a vehicle one slip away", []string{"AM0101G", "heater", "AM0103D", "--reason", "a test"}, "One slip away"},
		{"for no reason", []string{"AM0101G", "heater", "AM0103C", "--reason", " "}, "reason: got nothing, want why"},
		{"after a way of no unit", []string{"AM0101G", "heater", "AM0103C", "--reason", "a test", "--covered", "9"}, `covered: got "9", want a distance with its unit`},
	} {
		t.Run("moved "+c.name, func(t *testing.T) {
			if out, ok := halfshaft(t, data, append([]string{"record", "move"}, c.args...)...); ok || !strings.Contains(out, c.want) {
				t.Errorf("%v\n%s\nwant %q", ok, out, c.want)
			}
		})
	}
	if after, _ := halfshaft(t, data, "vehicle", "AM0101G"); after != before {
		t.Errorf("the vehicle changed (-before +after):\n%s", cmp.Diff(before, after))
	}
}

func TestARecordedChangeIsGivenAsJSONToo(t *testing.T) {
	data := demoData(t)
	p := serve(t, data, "--date", aldermoor.Today.String())
	defer p.stop(t)
	tight := func(args ...string) string {
		out, ok := halfshaft(t, data, append(args, "--json")...)
		if !ok {
			t.Errorf("halfshaft %s: %s", strings.Join(args, " "), out)
		}
		return strings.Join(strings.Fields(out), "")
	}
	out := tight("record", "change", "AM0101G", "axle-ratio", "4.12", "--source", "works", "--reason", "quieter")
	for _, want := range []string{`"kind":"CHANGE_KIND_AXLE_RATIO"`, `"changeDate":{"year":2026,"month":5,"day":18}`, `"source":"CHANGE_SOURCE_WORKS"`, `"axleRatio":"4.12"`} {
		if !strings.Contains(out, want) {
			t.Errorf("%s is not in %s", want, out)
		}
	}
	if out, _ := halfshaft(t, data, "schedule", "AM0101G"); !strings.Contains(out, "the change of tyres, axle or") {
		t.Errorf("the checks were not started:\n%s", out)
	}
	out = tight("record", "move", "AM0101G", "heater", "AM0103C", "--reason", "a test")
	if !strings.Contains(out, `"removed":{"name":"builds/AM0101G/changes/`) || !strings.Contains(out, `"counterpart":"builds/AM0103C/changes/`) {
		t.Errorf("both halves of a move: %s", out)
	}
}
