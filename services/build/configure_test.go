package build_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/drivetrain"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// want is what a test expects at one position; "" for a part means empty.
type want struct {
	part, serial string
	origin       build.Origin
	release      string
	standard     bool
}

func expect(t *testing.T, c build.Configuration, position string, w want) {
	t.Helper()
	f := c.At(position)
	if w.part == "" {
		if f != nil {
			t.Errorf("%s: got %s, want nothing", position, f.Component.Part)
		}
		return
	}
	if f == nil {
		t.Errorf("%s: got nothing, want %s", position, w.part)
		return
	}
	got := want{f.Component.Part, f.Component.Serial, f.Origin, f.Release, f.Standard}
	if got != w {
		t.Errorf("%s: got %+v, want %+v", position, got, w)
	}
}

func rules(f *build.Fitted) []string {
	var all []string
	for _, r := range f.Reasons() {
		all = append(all, r.Rule)
	}
	return all
}

func TestAsBuiltIsReleaseThenOptionsThenTheRecord(t *testing.T) {
	rec, releases := first(t)
	c, err := build.AsBuilt(rec, releases)
	if err != nil {
		t.Fatal(err)
	}
	expect(t, c, "shock-absorbers", want{"AP-2500", "", build.FromRelease, "R1", true})
	expect(t, c, "rear-axle-differential", want{"AP-2045", "", build.FromOption, "R1", true})
	expect(t, c, "winch", want{"AP-3100", "", build.FromOption, "R1", true})
	expect(t, c, "front-bumper", want{}) // the winch leaves it off
	expect(t, c, "gearbox", want{"AP-1100", "GB-1190", build.FromBuild, "R1", true})
	expect(t, c, "engine", want{"AP-1001", "EN-77", build.FromBuild, "R1", false})
	expect(t, c, "roof-rack", want{"AP-3900", "", build.FromBuild, "R1", false})
	if n := c.At("shock-absorbers").Quantity; n != 4 {
		t.Errorf("shock absorbers: got %d, want 4", n)
	}
	if got := c.At("gearbox").Component; !got.Has("synchro-3-4") || got.Fitted != rec.Built {
		t.Errorf("a listed unit without traits and date: got %v from %v, want those of the release and the build date", got.Traits, got.Fitted)
	}
	if got := rules(c.At("engine")); !slices.Equal(got, []string{"RELEASE_STANDARD", "BUILD_RECORD", "DEVIATION", "NOT_STANDARD"}) {
		t.Errorf("engine: reasons %v", got)
	}
	if c.Drive.AxleRatio.String() != "4.70" || c.Tyre.Size != "7.50-16" || c.Dial.Digits != 5 || c.Programme != "packhorse" {
		t.Errorf("drive line of the release: got %v %v %v %q", c.Drive, c.Tyre, c.Dial, c.Programme)
	}
}

// What was approved to differ is said of the position though the build record
// lists no unit there: two belts in place of three have no serial.
func TestADeviationIsSaidWhereNoUnitIsListed(t *testing.T) {
	rec, releases := first(t)
	rec.Deviations = append(rec.Deviations, build.Deviation{ID: "D9", Position: "shock-absorbers", Text: "Two in place of four.", ApprovedBy: "J. Harker", Approved: rec.Built})
	c, err := build.Configure(rec, nil, releases, rec.Built)
	if err != nil {
		t.Fatal(err)
	}
	if got := rules(c.At("shock-absorbers")); !slices.Equal(got, []string{"RELEASE_STANDARD", "DEVIATION"}) {
		t.Errorf("reasons %v", got)
	}
	if got := rules(c.At("winch")); slices.Contains(got, "DEVIATION") {
		t.Errorf("the winch has no deviation: %v", got)
	}
}

// A vehicle brought part of the way to a newer release keeps the rest of its
// own (trade.md, hard case of capability 1).
func TestAPartialUpgradeFollowsTheLaterReleaseOnlyWhereItWasMade(t *testing.T) {
	rec, releases := first(t)
	changes := history(build.Change{
		Kind: build.Upgrade, Source: build.SourceWorks, Date: day(2016, 5, 2), Release: "R2",
		Positions: []string{"swivel-housing-left", "transfer-case", "rear-axle-differential", "front-axle-differential"},
	})
	before := configure(t, rec, changes, releases, day(2016, 5, 1))
	expect(t, before, "swivel-housing-left", want{"AP-2100L", "", build.FromRelease, "R1", true})

	after := configure(t, rec, changes, releases, day(2016, 5, 2))
	expect(t, after, "swivel-housing-left", want{"AP-2110L", "", build.FromService, "R2", true})
	expect(t, after, "swivel-housing-right", want{"AP-2100R", "", build.FromRelease, "R1", true})
	expect(t, after, "transfer-case", want{"AP-1201", "", build.FromService, "R2", true})
	// R2 has another part for the option that this vehicle has.
	expect(t, after, "rear-axle-differential", want{"AP-2046", "", build.FromService, "R2", true})
	// R2 keeps this part, so the same unit stays.
	expect(t, after, "front-axle-differential", want{"AP-2041", "", build.FromRelease, "R2", true})
	if got := after.At("front-axle-differential").Component.Fitted; got != rec.Built {
		t.Errorf("a unit whose part stays: fitted %v, want the build date", got)
	}
	if got := rules(after.At("swivel-housing-left")); !slices.Equal(got, []string{"UPGRADED", "RELEASE_STANDARD"}) {
		t.Errorf("reasons %v", got)
	}
	if after.Release != "R1" || after.Programme != "packhorse" {
		t.Errorf("the vehicle itself stays of release %s", after.Release)
	}
}

// A part fitted in a campaign outranks the as-built entry, and on its own day
// whatever else is recorded, in whichever order that was written down.
func TestACampaignOutranksTheBuildAndOrdinaryServiceOfTheSameDay(t *testing.T) {
	rec, releases := first(t)
	rec.Delivered = rec.Built
	remedy := build.Change{Kind: build.Fit, Source: build.SourceCampaign, Date: rec.Built,
		Component: build.Component{Position: "gearbox", Part: "AP-1109", Serial: "GB-9"}}
	service := build.Change{Kind: build.Fit, Source: build.SourceService, Date: rec.Built,
		Component: build.Component{Position: "gearbox", Part: "AP-1100"}}
	for name, changes := range map[string][]build.Change{
		"recorded before": history(remedy, service), "recorded after": history(service, remedy),
	} {
		c := configure(t, rec, changes, releases, rec.Built)
		t.Run(name, func(t *testing.T) {
			expect(t, c, "gearbox", want{"AP-1109", "GB-9", build.FromCampaign, "R1", false})
		})
	}
	service.Date = day(2013, 1, 1)
	c := configure(t, rec, history(remedy, service), releases, day(2013, 1, 1))
	expect(t, c, "gearbox", want{"AP-1100", "", build.FromService, "R1", true})
	if got := rules(c.At("gearbox")); !slices.Contains(got, "AFTER_CAMPAIGN") {
		t.Errorf("an ordinary part after a campaign: reasons %v, want a warning", got)
	}
}

func TestAnOwnersModificationIsNeverTakenForTheStandard(t *testing.T) {
	rec, releases := first(t)
	c := configure(t, rec, history(
		build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2014, 1, 1),
			Component: build.Component{Position: "gearbox"}}, // even with the standard's own part
		build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2014, 1, 2),
			Component: build.Component{Position: "snorkel", Part: "OWN-1"}},
	), releases, day(2014, 1, 2))
	expect(t, c, "gearbox", want{"AP-1100", "", build.FromOwner, "R1", false})
	expect(t, c, "snorkel", want{"OWN-1", "", build.FromOwner, "R1", false})
}

func TestOptionsCanBeAddedAndTakenOffLater(t *testing.T) {
	rec, releases := first(t)
	changes := history(
		build.Change{Kind: build.OptionRemoved, Source: build.SourceService, Date: day(2013, 1, 1), Option: "winch"},
		build.Change{Kind: build.OptionAdded, Source: build.SourceService, Date: day(2014, 1, 1), Option: "tow-hitch-front"},
		// An option of a later release, after the vehicle follows it somewhere.
		build.Change{Kind: build.Upgrade, Source: build.SourceWorks, Date: day(2015, 1, 1), Release: "R2", Positions: []string{"gearbox"}},
		build.Change{Kind: build.OptionAdded, Source: build.SourceOwner, Date: day(2015, 1, 1), Option: "disc-front"},
	)
	c := configure(t, rec, changes, releases, day(2013, 1, 1))
	expect(t, c, "winch", want{})
	expect(t, c, "front-bumper", want{"AP-3000", "", build.FromService, "R1", true})
	c = configure(t, rec, changes, releases, day(2015, 1, 1))
	expect(t, c, "tow-hitch", want{"AP-3200", "", build.FromOption, "R1", true})
	expect(t, c, "brakes-front", want{"AP-4000", "", build.FromOwner, "R1", false})
	if want := []string{"lsd-rear", "tow-hitch-front", "disc-front"}; !slices.Equal(c.Options, want) {
		t.Errorf("options in force: got %v, want %v", c.Options, want)
	}
}

// A re-shim in year eleven starts the bedding-in of that component again.
func TestAnOverhaulKeepsTheUnitAndRestartsItsBeddingIn(t *testing.T) {
	rec, releases := first(t)
	c := configure(t, rec, history(build.Change{
		Kind: build.Overhaul, Source: build.SourceService, Date: day(2023, 6, 1),
		Component: build.Component{Position: "transfer-case", Lot: "L99"},
	}), releases, day(2023, 6, 1))
	got := c.At("transfer-case").Component
	if got.Serial != "TC-2201" || got.Lot != "L99" || got.Fitted != day(2012, 3, 20) || got.BeddingStart() != day(2023, 6, 1) {
		t.Errorf("got %+v", got)
	}
	expect(t, c, "transfer-case", want{"AP-1200", "TC-2201", build.FromBuild, "R1", true})
}

// A correction says what was always true; a change says what happened on a day
// (trade.md: a correction against a change).
func TestACorrectionIsTrueFromTheBuildOnAndAChangeFromItsDay(t *testing.T) {
	rec, releases := first(t)
	corrected := rec
	corrected.Components = slices.Clone(rec.Components)
	corrected.Components[0].Lot = "L08"
	changes := history(build.Change{Kind: build.Fit, Source: build.SourceService, Date: day(2019, 1, 1),
		Component: build.Component{Position: "gearbox", Lot: "L20"}})
	for _, c := range []struct {
		on  vehicle.Date
		lot string
	}{{day(2012, 4, 10), "L08"}, {day(2018, 12, 31), "L08"}, {day(2019, 1, 1), "L20"}, {day(2045, 1, 1), "L20"}} {
		conf := configure(t, corrected, changes, releases, c.on)
		if got := conf.At("gearbox").Component.Lot; got != c.lot {
			t.Errorf("on %s: lot %s, want %s", c.on, got, c.lot)
		}
	}
}

func TestWhatWasTrueOnThatDayIsAnsweredDecadesLater(t *testing.T) {
	rec, releases := first(t)
	ratio, _ := vehicle.ParseDecimal("4.10")
	changes := history(
		build.Change{Kind: build.Tyres, Source: build.SourceOwner, Date: day(2015, 7, 1), Tyre: drivetrain.Tyre{Size: "235/85R16", Pattern: "mud-terrain"}},
		build.Change{Kind: build.AxleRatio, Source: build.SourceService, Date: day(2031, 2, 3), Drive: drivetrain.Drive{AxleRatio: ratio}},
		build.Change{Kind: build.PlateChanged, Date: day(2020, 3, 3), Plate: "AB 1"},
		build.Change{Kind: build.Remove, Source: build.SourceOwner, Date: day(2040, 1, 1), Component: build.Component{Position: "roof-rack"}},
	)
	for _, c := range []struct {
		on               vehicle.Date
		tyre, axle, qual string
		rack             bool
	}{
		{day(2015, 6, 30), "7.50-16", "4.70", "QA 147 X", true},
		{day(2015, 7, 1), "235/85R16", "4.70", "QA 147 X", true},
		{day(2031, 2, 2), "235/85R16", "4.70", "AB 1", true},
		{day(2052, 1, 1), "235/85R16", "4.10", "AB 1", false},
	} {
		got := configure(t, rec, changes, releases, c.on)
		if got.Tyre.Size != c.tyre || got.Drive.AxleRatio.String() != c.axle || got.Plate != c.qual || (got.At("roof-rack") != nil) != c.rack {
			t.Errorf("on %s: got %v %v %q rack %v", c.on, got.Tyre, got.Drive.AxleRatio, got.Plate, got.At("roof-rack") != nil)
		}
	}
	if _, err := build.Configure(rec, changes, releases, day(2012, 4, 9)); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("before the build: got %v, want a refusal", err)
	}
}

// A component moved between two vehicles takes its history along.
func TestAMovedComponentKeepsSerialDistanceAndBeddingIn(t *testing.T) {
	records, releases := fleet(t)
	from, to := records["AM0147P"], records["AM0148N"]
	overhaul := history(build.Change{Kind: build.Overhaul, Source: build.SourceService, Date: day(2017, 1, 1),
		Component: build.Component{Position: "transfer-case"}})
	for _, c := range []struct {
		name    string
		changes []build.Change
		covered vehicle.Entered
		bedding vehicle.Date
	}{
		{"never overhauled", nil, miles(t, "20400"), day(2012, 3, 20)},
		{"overhauled before", overhaul, vehicle.Entered{}, day(2017, 1, 1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := build.Move{From: &from, To: &to, FromPosition: "transfer-case", ToPosition: "transfer-case",
				Date: day(2018, 5, 5), Covered: c.covered, Reason: "exchange"}
			removed, fitted, err := m.Changes(c.changes, releases)
			if err != nil {
				t.Fatal(err)
			}
			got := fitted.Component
			if got.Serial != "TC-2201" || got.Part != "AP-1200" || got.Prior != c.covered || got.BeddingStart() != c.bedding || got.Fitted != day(2018, 5, 5) {
				t.Errorf("fitted: got %+v", got)
			}
			if removed.Kind != build.Remove || removed.Component.Position != "transfer-case" {
				t.Errorf("removed: got %+v", removed)
			}
			fitted.ID, fitted.Counterpart = "m1", "builds/AM0147P/changes/m0"
			conf := configure(t, to, []build.Change{fitted}, releases, day(2018, 5, 5))
			expect(t, conf, "transfer-case", want{"AP-1200", "TC-2201", build.FromService, "R2", false})
			if s := conf.At("transfer-case").Reasons()[1].Sentence; !strings.Contains(s, "moved here from AM0147P") {
				t.Errorf("the reason does not say where it came from: %q", s)
			}
		})
	}
	m := build.Move{From: &from, To: &to, FromPosition: "tow-hitch", ToPosition: "tow-hitch", Date: day(2018, 5, 5)}
	if _, _, err := m.Changes(nil, releases); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("moving from an empty position: got %v, want a refusal", err)
	}
}

func TestConfigureNeedsTheReleaseOfTheRecord(t *testing.T) {
	rec, _ := first(t)
	if _, err := build.Configure(rec, nil, build.ReleaseSet{}, day(2020, 1, 1)); !fault.Is(err, fault.FailedPrecondition) {
		t.Errorf("got %v, want FailedPrecondition", err)
	}
}
