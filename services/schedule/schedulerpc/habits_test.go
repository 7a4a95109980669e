package schedulerpc_test

import (
	"fmt"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
)

// fleetOf adds vehicles that were driven from June to August only and read at
// both ends, some more and some less, all until the end of 2025.
func (w *works) fleetOf(serials ...string) {
	for i, serial := range serials {
		must(w.builds.CreateBuild(w.t.Context(), &buildv1.CreateBuildRequest{Build: built(serial, "2021-05-01")}))(w.t)
		for year := range 4 {
			at := int64((300 + 50*i) * year)
			w.readOf(serial, fmt.Sprintf("%d-06-01", 2022+year), fmt.Sprint(at))
			w.readOf(serial, fmt.Sprintf("%d-09-01", 2022+year), fmt.Sprint(at+int64(300+50*i)))
		}
	}
}

func TestAVehicleThatNobodyReadIsTakenToBeUsedAsTheFleetIs(t *testing.T) {
	w := start(t, "2026-04-01", every("E01", "3000", 0))
	ask := func() *schedulev1.Schedule {
		return must(w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: "vehicles/AM0147P/schedule", OnDate: calendar("2026-11-25")}))(t)
	}
	alone := ask()
	if text := alone.GetPace().GetEvidence().GetSentence(); !strings.Contains(text, "any such vehicle") {
		t.Errorf("alone: %s", text)
	}
	others := []string{}
	for n := 148; len(others) < 6; n++ {
		if serial, err := vehicle.NewSerial(fmt.Sprintf("AM%04d", n)); err == nil {
			others = append(others, string(serial))
		}
	}
	w.fleetOf(others...)
	fleet := ask()
	text := fleet.GetPace().GetEvidence().GetSentence()
	if !strings.Contains(text, "the vehicles of this fleet") || !strings.Contains(text, "as the fleet is") {
		t.Errorf("in a fleet: %s", text)
	}
	if a, b := alone.GetPace().GetPerYear().GetMillimetres(), fleet.GetPace().GetPerYear().GetMillimetres(); b >= a {
		t.Errorf("a fleet of 300 to 550 miles a year leaves the pace at %d, alone it is %d", b, a)
	}
	// A reading of this year moves no other vehicle's dates.
	w.readOf(others[0], "2026-09-01", "9000")
	if again := ask(); !proto.Equal(again, fleet) {
		t.Error("another vehicle's reading of this year changed the answer")
	}
	// A late one of the years before does, for it is a fact like the others.
	w.readOf(others[0], "2024-07-15", "750")
	if again := ask(); proto.Equal(again, fleet) {
		t.Error("another vehicle's reading of 2024 changed nothing")
	}
}
