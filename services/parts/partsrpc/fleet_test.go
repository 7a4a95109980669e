package partsrpc

import (
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

func TestAVehicleThatAFreshSnapshotLacksIsGone(t *testing.T) {
	f := &fleet{vehicles: map[vehicle.Serial]*known{}, releases: build.ReleaseSet{}, places: parts.NewPlaces(nil), recent: map[occasion]*visit{},
		stream: buildwire.NewStream(know)}
	first, err1 := vehicle.NewSerial("AM0101")
	second, err2 := vehicle.NewSerial("AM0102")
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	release := func(part string) *buildv1.Release {
		return &buildv1.Release{Name: "releases/R1", Fitments: []*buildv1.Fitment{{Position: "gearbox", Part: part}}}
	}
	state := func(s vehicle.Serial) *buildv1.BuildState {
		return &buildv1.BuildState{Build: &buildv1.Build{Name: build.Name(s), Release: "releases/R1", BuildDate: &date.Date{Year: 2012, Month: 6, Day: 1}}}
	}
	on := vehicle.MustDate(2026, 11, 25)
	has := func(s vehicle.Serial, part string) {
		t.Helper()
		v, err := f.vehicle(s, on)
		switch {
		case err != nil:
			t.Fatal(err)
		case part == "" && v != nil:
			t.Errorf("%s is there", s)
		case part != "" && (v == nil || v.vehicle.Configuration.At("gearbox").Component.Part != part):
			t.Errorf("%s has %+v, want %s", s, v, part)
		}
	}
	send := func(resp *buildv1.WatchBuildsResponse) {
		t.Helper()
		if _, _, _, err := f.apply(resp); err != nil {
			t.Fatal(err)
		}
	}
	send(&buildv1.WatchBuildsResponse{Releases: []*buildv1.Release{release("AP-1")}, Builds: []*buildv1.BuildState{state(first)}})
	has(first, "") // half a snapshot
	send(&buildv1.WatchBuildsResponse{Builds: []*buildv1.BuildState{state(second)}, Revision: 5, Synced: true})
	has(first, "AP-1")
	has(second, "AP-1")

	f.stream.Begin() // the stream broke and was opened again
	send(&buildv1.WatchBuildsResponse{Releases: []*buildv1.Release{release("AP-2")}})
	has(first, "AP-1") // the old state serves until the new one is whole
	send(&buildv1.WatchBuildsResponse{Builds: []*buildv1.BuildState{state(second)}, Revision: 6, Synced: true})
	has(first, "")
	has(second, "AP-2")

	changed := state(second)
	changed.Changes = []*buildv1.Change{{
		Name: build.Name(second) + "/changes/c1", Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE,
		ChangeDate: &date.Date{Year: 2020, Month: 1, Day: 1}, Component: &buildv1.Component{Position: "gearbox", Part: "AP-3"},
	}}
	send(&buildv1.WatchBuildsResponse{Builds: []*buildv1.BuildState{changed}, Revision: 7, Synced: true})
	has(second, "AP-3")
}
