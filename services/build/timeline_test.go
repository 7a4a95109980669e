package build_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/build"
	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

func TestSegmentsBreakWhereTheOdometerCountsOtherwise(t *testing.T) {
	rec, releases := first(t)
	standard := drivetrain.Tyre{Size: "7.50-16", Pattern: "bar"}
	wide := drivetrain.Tyre{Size: "235/85R16", Pattern: "mud-terrain"}
	old := vehicle.Dial{Digits: 5, Unit: vehicle.Miles, TurnsPerUnit: 1000}
	metric := vehicle.Dial{Digits: 6, Unit: vehicle.Kilometres, TurnsPerUnit: 640, Tenths: true}
	drive := drivetrain.Drive{AxleRatio: vehicle.Decimal{Coefficient: 470, Scale: 2}, DriverTeeth: 5, DrivenTeeth: 15}
	lower := drive
	lower.AxleRatio = vehicle.Decimal{Coefficient: 410, Scale: 2}
	zero := vehicle.Entered{Unit: vehicle.Kilometres}

	changes := history(
		// The works' own change before the delivery belongs to the first segment.
		build.Change{Kind: build.AxleRatio, Source: build.SourceWorks, Date: day(2012, 4, 20), Drive: lower},
		build.Change{Kind: build.Tyres, Source: build.SourceOwner, Date: day(2014, 6, 1), Tyre: wide, Reading: miles(t, "6100")},
		// Two of one day make one segment, with the old dial's last reading and the new dial's first.
		build.Change{Kind: build.AxleRatio, Source: build.SourceService, Date: day(2016, 6, 1), Drive: drive},
		build.Change{Kind: build.DialChanged, Source: build.SourceService, Date: day(2016, 6, 1), Dial: metric, DialStart: zero, Reading: miles(t, "9000")},
		build.Change{Kind: build.Fit, Source: build.SourceService, Date: day(2017, 1, 1), Component: build.Component{Position: "gearbox"}},
	)
	line, err := build.TimelineOf(rec, changes, releases)
	if err != nil {
		t.Fatal(err)
	}
	want := []build.Segment{
		{From: day(2012, 4, 30), Until: day(2014, 6, 1), Dial: old, Tyre: standard, Drive: lower,
			Start: miles(t, "212"), End: miles(t, "6100")},
		{From: day(2014, 6, 1), Until: day(2016, 6, 1), Dial: old, Tyre: wide, Drive: lower,
			Start: miles(t, "6100"), End: miles(t, "9000"), Change: "builds/AM0147P/changes/c2"},
		{From: day(2016, 6, 1), Dial: metric, Tyre: wide, Drive: drive,
			Start: zero, NewDial: true, Change: "builds/AM0147P/changes/c3"},
	}
	if diff := cmp.Diff(want, line.Segments); diff != "" {
		t.Errorf("segments (-want +got):\n%s", diff)
	}
}

func TestTheStaysOfAPositionTellItsUnitsAndTheirOverhauls(t *testing.T) {
	rec, releases := first(t)
	changes := history(
		build.Change{Kind: build.Overhaul, Source: build.SourceService, Date: day(2015, 1, 1), Component: build.Component{Position: "transfer-case"}, Reading: miles(t, "5000")},
		build.Change{Kind: build.Fit, Source: build.SourceCampaign, Date: day(2018, 1, 1), Component: build.Component{Position: "transfer-case", Serial: "TC-9"}, Reading: miles(t, "8000")},
		build.Change{Kind: build.Remove, Source: build.SourceService, Date: day(2019, 1, 1), Component: build.Component{Position: "transfer-case"}},
	)
	line, err := build.TimelineOf(rec, changes, releases)
	if err != nil {
		t.Fatal(err)
	}
	stays := line.At("transfer-case")
	if len(stays) != 2 {
		t.Fatalf("got %d stays, want 2", len(stays))
	}
	first, second := stays[0], stays[1]
	if first.Component.Serial != "TC-2201" || first.From != day(2012, 3, 20) || first.Until != day(2018, 1, 1) ||
		first.EndReading != miles(t, "8000") || first.Ended != "builds/AM0147P/changes/c2" {
		t.Errorf("first stay: got %+v", first)
	}
	if len(first.Overhauls) != 1 || first.Overhauls[0].Date != day(2015, 1, 1) || first.Overhauls[0].Reading != miles(t, "5000") ||
		first.Overhauls[0].Component.BeddingIn != day(2015, 1, 1) {
		t.Errorf("its overhauls: got %+v", first.Overhauls)
	}
	if second.Component.Serial != "TC-9" || second.Origin != build.FromCampaign || second.FromReading != miles(t, "8000") || second.Until != day(2019, 1, 1) {
		t.Errorf("second stay: got %+v", second)
	}
	if got := line.At("nowhere"); len(got) != 0 {
		t.Errorf("an unknown position: got %+v", got)
	}
}

func TestAnUpgradeReplacesAnOwnersOwnPartEvenOfTheSameNumber(t *testing.T) {
	rec, releases := first(t)
	c := configure(t, rec, history(
		build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2014, 1, 1), Component: build.Component{Position: "front-axle-differential", Part: "AP-2041"}},
		build.Change{Kind: build.Upgrade, Source: build.SourceWorks, Date: day(2015, 1, 1), Release: "R2", Positions: []string{"front-axle-differential"}},
	), releases, day(2015, 1, 1))
	expect(t, c, "front-axle-differential", want{"AP-2041", "", build.FromService, "R2", true})
	if got := c.At("front-axle-differential").Component.Fitted; got != day(2015, 1, 1) {
		t.Errorf("fitted %v, want the day of the upgrade", got)
	}
}
