package build_test

import (
	"slices"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

func TestTheFleetOfTheTestsIsWithoutFault(t *testing.T) {
	records, releases := fleet(t)
	for _, r := range releases {
		if wrong := build.CheckRelease(r); len(wrong) > 0 {
			t.Errorf("%s: %v", r.ID, wrong)
		}
	}
	for _, rec := range records {
		if wrong := build.CheckRecord(&rec, releases); len(wrong) > 0 {
			t.Errorf("%s: %v", rec.Serial, wrong)
		}
	}
}

func TestEverythingWrongWithAReleaseIsSaidAtOnce(t *testing.T) {
	r := build.Release{
		ID:       "R 3",
		Fitments: []build.Fitment{{Position: "gearbox", Part: "AP-1"}, {Position: "gearbox", Part: ""}, {Position: "Gear Box", Part: "AP-2", Quantity: -1}},
		Options: []build.Option{
			{ID: "winch", Removes: []string{"nowhere"}, Requires: []string{"rope"}, Excludes: []string{"winch"}},
			{ID: "winch", Fitments: []build.Fitment{{Position: "winch", Part: "AP-3", Traits: []string{"Electric"}}}},
		},
		Driveline: build.Driveline{Gears: []vehicle.Decimal{{}}, Synchronised: []int{2}},
	}
	want := []string{
		"name", "effective_date", "fitments[1].position", "fitments[1].part", "fitments[2].position", "fitments[2].quantity",
		"options[0].removes[0]", "options[0].requires[0]", "options[0].excludes[0]", "options[1].option_id", "options[1].fitments[0].traits[0]",
		"driveline.gears[0]", "driveline.synchronised_gears[0]", "driveline.tyre.size", "driveline.axle_ratio",
		"driveline.speedometer_drive.driver_teeth", "driveline.speedometer_drive.driven_teeth",
		"driveline.dial.digits", "driveline.dial.unit", "driveline.dial.turns_per_unit",
	}
	if got := complaints(build.CheckRelease(&r)); !slices.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
}

func TestEachFaultOfARecordIsNamedByItsField(t *testing.T) {
	for _, c := range []struct {
		name  string
		spoil func(*build.Record)
		want  []string
	}{
		{"an unknown release", func(r *build.Record) { r.Release = "R9" }, []string{"release"}},
		{"an option twice and one that is none", func(r *build.Record) { r.Options = []string{"lsd-rear", "lsd-rear", "wings"} }, []string{"options[1]", "options[2]"}},
		{"an option without what it needs", func(r *build.Record) { r.Options = []string{"winch-rope"} }, []string{"options[0]"}},
		{"options that rule each other out", func(r *build.Record) { r.Options = []string{"tow-hitch-front", "winch"} }, []string{"options[1]"}},
		{"a position that nobody approved", func(r *build.Record) { r.Deviations = r.Deviations[:1] }, []string{"components[3].position", "components[3].part"}[:1]},
		{"a unit at two positions", func(r *build.Record) { r.Components[1].Serial = "gb 1190" }, []string{"components[1].serial"}},
		{"a position twice", func(r *build.Record) { r.Components[1].Position = "gearbox" }, []string{"components[1].position"}},
		{"no part where none is called for", func(r *build.Record) { r.Components[3].Part = "" }, []string{"components[3].part"}},
		{"a unit fitted after the delivery", func(r *build.Record) { r.Components[0].Fitted = day(2013, 1, 1) }, []string{"components[0].fitted_date"}},
		{"delivered before it was built", func(r *build.Record) {
			r.Delivered = day(2012, 4, 9)
			r.RoadTest, r.Measurements = nil, nil
		}, []string{"delivery_date"}},
		{"no build date", func(r *build.Record) { r.Built = vehicle.Date{} }, []string{"build_date"}},
		{"a measurement without unit", func(r *build.Record) { r.Measurements[0].Value.Unit = "" }, []string{"measurements[0].value.unit"}},
		{"a deviation that nobody approved", func(r *build.Record) { r.Deviations[1].ApprovedBy = " " }, []string{"deviations[1].approved_by"}},
		{"an axle ratio that no axle has", func(r *build.Record) { r.Drive.AxleRatio = vehicle.Decimal{Coefficient: 47} }, []string{"axle_ratio"}},
		{"one speedometer gear of two", func(r *build.Record) { r.Drive.DriverTeeth = 5 }, []string{"speedometer_drive.driven_teeth"}},
		{"gears the wrong way round", func(r *build.Record) { r.Drive.DriverTeeth, r.Drive.DrivenTeeth = 15, 5 }, []string{"speedometer_drive"}},
		{"a pattern without a size", func(r *build.Record) { r.Tyre = drivetrain.Tyre{Pattern: "bar"} }, []string{"tyre.size"}},
		{"a reading in another unit than the dial's", func(r *build.Record) { r.DeliveryReading.Unit = vehicle.Kilometres }, []string{"delivery_reading.entered_unit"}},
		{"tenths that the dial does not show", func(r *build.Record) { r.DeliveryReading = miles(t, "212.4") }, []string{"delivery_reading.entered_value"}},
		{"a donor from the future", func(r *build.Record) { r.DonorYear = 2013 }, []string{"donor_year"}},
		{"control characters", func(r *build.Record) { r.FrameNumber = "FN\x07" }, []string{"frame_number"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			rec, releases := first(t)
			c.spoil(&rec)
			if got := complaints(build.CheckRecord(&rec, releases)); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

func TestEachFaultOfAChangeIsNamedByItsField(t *testing.T) {
	service := func(c build.Change) build.Change {
		c.Source = build.SourceService
		if c.Date.IsZero() {
			c.Date = day(2014, 1, 1)
		}
		return c
	}
	for _, c := range []struct {
		name   string
		change build.Change
		want   []string
	}{
		{"nothing said", build.Change{}, []string{"kind", "source", "change_date"}},
		{"before the delivery", service(build.Change{Kind: build.Remove, Component: build.Component{Position: "gearbox"}, Date: day(2012, 4, 29)}), []string{"change_date"}},
		{"by the works before the delivery", build.Change{Kind: build.Remove, Source: build.SourceWorks, Component: build.Component{Position: "gearbox"}, Date: day(2012, 4, 29)}, nil},
		{"in the future", service(build.Change{Kind: build.Remove, Component: build.Component{Position: "gearbox"}, Date: day(2027, 1, 1)}), []string{"change_date"}},
		{"a position that does not exist", service(build.Change{Kind: build.Fit, Component: build.Component{Position: "wings", Part: "X"}}), []string{"component.position"}},
		{"a position that only an owner adds", build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2014, 1, 1), Component: build.Component{Position: "wings", Part: "X"}}, nil},
		{"a part that nobody knows", build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2014, 1, 1), Component: build.Component{Position: "wings"}}, []string{"component.part"}},
		{"removing from an empty position", service(build.Change{Kind: build.Remove, Component: build.Component{Position: "front-bumper"}}), []string{"component.position"}},
		{"overhauling another unit", service(build.Change{Kind: build.Overhaul, Component: build.Component{Position: "gearbox", Serial: "GB-2"}}), []string{"component.serial"}},
		{"overhauling the unit in place", service(build.Change{Kind: build.Overhaul, Component: build.Component{Position: "gearbox", Serial: "gb1190"}}), nil},
		{"tyres without a size", service(build.Change{Kind: build.Tyres}), []string{"tyre.size"}},
		{"an axle ratio of nothing", service(build.Change{Kind: build.AxleRatio}), []string{"axle_ratio"}},
		{"a dial without its first reading", service(build.Change{Kind: build.DialChanged, Dial: vehicle.Dial{Digits: 5, Unit: vehicle.Miles, TurnsPerUnit: 1000}}), []string{"dial_start"}},
		{"an upgrade to nothing, nowhere", service(build.Change{Kind: build.Upgrade, Release: "R9"}), []string{"release"}},
		{"an upgrade of a strange position", service(build.Change{Kind: build.Upgrade, Release: "R3", Positions: []string{"gearbox", "wings", "gearbox"}}), []string{"positions[2]", "positions[1]"}},
		{"an option that is there", service(build.Change{Kind: build.OptionAdded, Option: "winch"}), []string{"option"}},
		{"an option that another rules out", service(build.Change{Kind: build.OptionAdded, Option: "tow-hitch-front"}), []string{"option"}},
		{"an option of another release", service(build.Change{Kind: build.OptionAdded, Option: "disc-front"}), []string{"option"}},
		{"taking off an option that is not there", service(build.Change{Kind: build.OptionRemoved, Option: "tow-hitch-front"}), []string{"option"}},
		{"a reading that the dial cannot show", service(build.Change{Kind: build.Remove, Component: build.Component{Position: "gearbox"}, Reading: miles(t, "123456")}), []string{"reading.entered_value"}},
		{"a plate", build.Change{Kind: build.PlateChanged, Date: day(2014, 1, 1), Plate: "AB 1"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			rec, releases := first(t)
			if got := complaints(build.CheckChange(&c.change, &rec, nil, releases, day(2026, 11, 25))); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

func TestAnAmendmentLeavesNothingBeforeTheVehicleWas(t *testing.T) {
	rec, _ := first(t)
	changes := history(build.Change{Kind: build.PlateChanged, Date: day(2013, 1, 1), Source: build.SourceService})
	if got := build.CheckAmended(&rec, changes); len(got) != 0 {
		t.Errorf("got %v", got)
	}
	rec.Delivered = day(2013, 2, 1)
	if got := complaints(build.CheckAmended(&rec, changes)); !slices.Equal(got, []string{"delivery_date"}) {
		t.Errorf("delivered after the change: got %v", got)
	}
	rec.Built = day(2013, 2, 1)
	if got := complaints(build.CheckAmended(&rec, changes)); !slices.Equal(got, []string{"build_date"}) {
		t.Errorf("built after the change: got %v", got)
	}
}
