package partsrpc

import (
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

func TestTheIndexOfUsesIsTheFleetThatWasHeardOf(t *testing.T) {
	release := func(id string) *build.Release {
		return &build.Release{ID: id, Fitments: []build.Fitment{{Position: "gearbox", Part: "AP-1"}}}
	}
	state := func(body, release string) (vehicle.Serial, *known) {
		serial, err := vehicle.NewSerial(body)
		if err != nil {
			t.Fatal(err)
		}
		_, packed, err := buildwire.Pack(&buildv1.BuildState{Build: &buildv1.Build{
			Name: build.Name(serial), Release: "releases/" + release, BuildDate: &date.Date{Year: 2012, Month: 6, Day: 1}}})
		if err != nil {
			t.Fatal(err)
		}
		return serial, &known{packed}
	}
	a, knownA := state("AM0101", "R1")
	b, knownB := state("AM0102", "R2")
	u := &uses{}
	has := func(what string, want int, refusal string) {
		t.Helper()
		got := -1
		err := u.read(func(x *parts.UseIndex) error { got = x.Len(); return nil })
		switch {
		case refusal != "" && (err == nil || !strings.Contains(err.Error(), refusal)):
			t.Errorf("%s: got %v, want an error that names %s", what, err, refusal)
		case refusal == "" && (err != nil || got != want):
			t.Errorf("%s: got %d vehicles, %v; want %d", what, got, err, want)
		}
	}
	has("before anything was heard", 0, "")
	u.hear(map[vehicle.Serial]*known{a: knownA}, nil, build.ReleaseSet{"R1": release("R1")})
	has("a fleet", 1, "")
	u.hear(nil, map[vehicle.Serial]*known{b: knownB}, build.ReleaseSet{"R1": release("R1")})
	has("a vehicle whose release is not known: no list may lack it", 0, string(b))
	u.hear(nil, map[vehicle.Serial]*known{}, build.ReleaseSet{"R1": release("R1"), "R2": release("R2")})
	has("the release came", 2, "")
	u.hear(map[vehicle.Serial]*known{b: knownB}, nil, build.ReleaseSet{"R2": release("R2")})
	has("the fleet anew, and smaller", 1, "")
	u.hear(map[vehicle.Serial]*known{}, nil, build.ReleaseSet{})
	has("a fleet of none", 0, "")
}
