package buildrpc_test

import (
	"fmt"
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
)

// A unit that was moved says where it came from to the works alone: whoever may
// see the one vehicle need not know of the other.
func TestAnOwnerAndADealerAreNotToldFromWhichVehicleAUnitCame(t *testing.T) {
	const here, there = "AM0148N", "AM0147P"
	w := startWithFleet(t)
	must(w.MoveComponent(t.Context(), &buildv1.MoveComponentRequest{
		Source: "builds/" + there, SourcePosition: "gearbox", Destination: "builds/" + here, MoveDate: on(2020, 1, 1), Reason: "exchange",
	}))(t)
	for _, c := range []struct {
		name   string
		caller access.Caller
		told   bool
	}{
		{"support", access.Caller{Role: access.Support}, true},
		{"an engineer", access.Caller{Role: access.Engineer}, true},
		{"a service", access.Caller{Role: access.Service}, true},
		{"an owner", access.Caller{Role: access.Owner, Person: "people/p0031"}, false},
		{"a dealer", access.Caller{Role: access.Dealer, Organisation: "organisations/ferncombe"}, false},
		{"nobody", access.Caller{}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			w.caller.Store(&c.caller)
			text := fmt.Sprint(
				must(w.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/" + here}))(t),
				must(w.GetConfiguration(t.Context(), &buildv1.GetConfigurationRequest{Name: "builds/" + here}))(t),
				must(w.GetConfiguration(t.Context(), &buildv1.GetConfigurationRequest{Name: "builds/" + here, AsBuilt: true}))(t),
				must(w.GetDriveLine(t.Context(), &buildv1.GetDriveLineRequest{Name: "builds/" + here + "/driveLine"}))(t))
			if strings.Contains(text, there) != c.told {
				t.Errorf("told of %s: %v, want %v", there, !c.told, c.told)
			}
			if !strings.Contains(text, here) || !strings.Contains(text, "gearbox") {
				t.Errorf("it is not about %s: %s", here, text)
			}
		})
	}
}
