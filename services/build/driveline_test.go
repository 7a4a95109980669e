package build_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

func decimals(t *testing.T, texts ...string) []vehicle.Decimal {
	t.Helper()
	var out []vehicle.Decimal
	for _, text := range texts {
		d, err := vehicle.ParseDecimal(text)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, d)
	}
	return out
}

func texts(ratios []vehicle.Decimal) string {
	var out []string
	for _, r := range ratios {
		out = append(out, r.String())
	}
	return strings.Join(out, " ")
}

func rulesOf(reasons []vehicle.Reason) []string {
	var out []string
	for _, r := range reasons {
		out = append(out, r.Rule)
	}
	return out
}

// geared gives the second release another gearbox and to order a long transfer
// case, so that it shows which ratios are taken.
func geared(t *testing.T, releases build.ReleaseSet) {
	t.Helper()
	second := *releases["R2"]
	second.Driveline.Gears = decimals(t, "3.500", "2.100", "1.400", "1.000")
	second.Options = append(slices.Clone(second.Options), build.Option{ID: "long-transfer", Fitments: []build.Fitment{
		{Position: build.TransferCasePosition, Part: "AP-1250", Ratios: decimals(t, "0.996", "2.888")}}})
	if wrong := build.CheckRelease(&second); len(wrong) > 0 {
		t.Fatal(wrong)
	}
	releases["R2"] = &second
}

func TestTheRatiosAreThoseOfWhatIsFitted(t *testing.T) {
	fit := func(position, part string) build.Change {
		return build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2020, 1, 1), Component: build.Component{Position: position, Part: part}}
	}
	for _, c := range []struct {
		name          string
		changes       []build.Change
		gears, ranges string
		missing       string
	}{
		{"as the release has them", nil, "2.996 2.053 1.377 1.000", "1.148 2.888", ""},
		{"brought to a later release", []build.Change{{Kind: build.Upgrade, Source: build.SourceWorks, Date: day(2020, 1, 1), Release: "R2", Positions: []string{"gearbox"}}},
			"3.500 2.100 1.400 1.000", "1.148 2.888", ""},
		{"a part of a later release without an upgrade", []build.Change{fit("transfer-case", "AP-1250")}, "2.996 2.053 1.377 1.000", "0.996 2.888", ""},
		{"a part that no release knows", []build.Change{fit("gearbox", "OWN-5")}, "", "1.148 2.888", "GEARBOX_RATIOS_UNKNOWN"},
		{"a part that two releases know otherwise", []build.Change{fit("gearbox", "AP-1101")}, "", "1.148 2.888", "GEARBOX_RATIOS_UNKNOWN"},
		{"a part whose release gives none", []build.Change{fit("transfer-case", "AP-1202")}, "2.996 2.053 1.377 1.000", "", "TRANSFER_CASE_RATIOS_UNKNOWN"},
		{"nothing there", []build.Change{{Kind: build.Remove, Source: build.SourceService, Date: day(2020, 1, 1), Component: build.Component{Position: "gearbox"}}},
			"", "1.148 2.888", "GEARBOX_RATIOS_UNKNOWN"},
	} {
		rec, releases := first(t)
		geared(t, releases)
		d, err := build.DriveLineOf(rec, history(c.changes...), releases, day(2026, 11, 25), build.DriveLineQuestion{})
		if err != nil {
			t.Fatal(err)
		}
		var ranges []vehicle.Decimal
		for _, r := range d.Gearing.Ranges {
			ranges = append(ranges, r.Ratio)
		}
		if texts(d.Gearing.Gears) != c.gears || texts(ranges) != c.ranges {
			t.Errorf("%s: gears %s, ranges %s", c.name, texts(d.Gearing.Gears), texts(ranges))
		}
		missing := rulesOf(d.Missing)
		missing = slices.DeleteFunc(missing, func(rule string) bool { return rule == "DRIVE_GEARS_UNKNOWN" }) // nowhere in these releases
		if strings.Join(missing, " ") != c.missing {
			t.Errorf("%s: missing %v", c.name, missing)
		}
		if (len(d.Speeds) == 0) != (c.missing != "") || d.Speedometer == nil {
			t.Errorf("%s: %d speeds; without them the speedometer is told all the same: %v", c.name, len(d.Speeds), d.Speedometer)
		}
	}
}

func TestATyreThatNobodyKnowsLeavesTheRestAnswered(t *testing.T) {
	rec, releases := first(t)
	tyres := build.Change{Kind: build.Tyres, Source: build.SourceOwner, Date: day(2020, 1, 1), Tyre: drivetrain.Tyre{Size: "6.00-16"}}
	ask := func(changes ...build.Change) build.DriveLine {
		t.Helper()
		d, err := build.DriveLineOf(rec, history(changes...), releases, day(2026, 11, 25), build.DriveLineQuestion{})
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	d := ask(tyres)
	if !slices.Equal(rulesOf(d.Missing), []string{"TYRE_UNKNOWN"}) || d.Speedometer != nil || d.Speeds != nil || d.Factor != 0 || len(d.Gearing.Gears) != 4 {
		t.Errorf("got %v, %+v", rulesOf(d.Missing), d)
	}
	tyres.Tyre.Measured = 2200
	d = ask(tyres)
	if !slices.Contains(rulesOf(d.Reasons), "TYRE_MEASURED") || d.Circumference.Millimetres != 2200 || d.Circumference.Tolerance != 0 || len(d.Speeds) != 8 {
		t.Errorf("measured: got %v, %+v", rulesOf(d.Reasons), d.Circumference)
	}
	// The size can be told, and what it was before cannot.
	later := tyres
	later.Date, later.Tyre = day(2022, 1, 1), drivetrain.Tyre{Size: "205R16"}
	tyres.Tyre.Measured = 0
	if d = ask(tyres, later); slices.Contains(rulesOf(d.Reasons), "READ_BEFORE") || d.Speedometer == nil {
		t.Errorf("after an unknown tyre: %v", rulesOf(d.Reasons))
	}
}

func TestRatiosStandWhereTheyBelong(t *testing.T) {
	_, releases := first(t)
	r := *releases["R1"]
	r.Fitments = slices.Clone(r.Fitments)
	r.Fitments[1].Ratios = decimals(t, "2.996")
	r.Options = []build.Option{
		{ID: "a", Fitments: []build.Fitment{{Position: "gearbox", Part: "AP-9", Ratios: decimals(t, "3.0", "0")}}},
		{ID: "b", Fitments: []build.Fitment{{Position: "gearbox", Part: "AP-9", Ratios: decimals(t, "3.1")}}},
		{ID: "c", Fitments: []build.Fitment{{Position: "transfer-case", Part: "AP-8", Ratios: decimals(t, "1", "2", "3")}}},
		{ID: "d", Fitments: []build.Fitment{{Position: "engine", Part: "AP-7", Ratios: decimals(t, "1")}}},
		{ID: "e", Fitments: []build.Fitment{{Position: "gearbox", Part: "AP-1100", Ratios: decimals(t, "3.0")}}}, // the standard's part
	}
	r.Driveline.TransferHigh = vehicle.Decimal{}
	r.Driveline.Drives = []drivetrain.Teeth{{Driver: 5, Driven: 15}, {Driver: 0, Driven: 61}}
	r.Driveline.Tyre.Measured = 245
	want := []string{
		"fitments[1].ratios", "options[0].fitments[0].ratios[1]", "options[1].fitments[0].ratios", "options[2].fitments[0].ratios",
		"options[3].fitments[0].ratios", "options[4].fitments[0].ratios", "driveline.transfer_high", "driveline.tyre.circumference_mm",
		"driveline.available_speedometer_drives[1].driver_teeth", "driveline.available_speedometer_drives[1].driven_teeth",
	}
	if got := complaints(build.CheckRelease(&r)); !slices.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}
