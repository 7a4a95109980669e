package schedulerpc_test

import (
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// hubs is an item that measures at each of several positions.
func hubs() *schedulev1.Item {
	it := every("S05", "", 24)
	it.Position = "hub"
	it.Measured = []*schedulev1.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Action: "0.20", Method: "each wheel"}}
	return it
}

// withHubs has a vehicle with three hubs, built on 24 November 2012.
func withHubs(t *testing.T) *works {
	t.Helper()
	w := open(t, kv.NewStore(etcdtest.Client(t)))
	r := release()
	for _, p := range []string{"hub-front-left", "hub-front-right", "hub-rear-left", "hubcap-rack"} {
		r.Fitments = append(r.Fitments, &buildv1.Fitment{Position: p, Part: "AP-1300"})
	}
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: r}))(t)
	must(w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: programme(1, "2000-01-01", hubs(), endFloat("0.22"))}))(t)
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM0147P", "2012-11-24")}))(t)
	return w
}

func TestWorkThatTheVehicleCannotHaveHadIsRefused(t *testing.T) {
	w := withHubs(t)
	float := func(item, position string) []*schedulev1.ItemDone {
		return []*schedulev1.ItemDone{{ItemId: item, Measured: []*schedulev1.MeasuredValue{{Characteristic: "end-float", Position: position, Value: quantity("0.10 mm")}}}}
	}
	for _, c := range []struct {
		name        string
		entry       *schedulev1.ServiceEntry
		field, want string // both empty where it is taken
	}{
		{"before it was built", &schedulev1.ServiceEntry{ServiceDate: calendar("2012-11-23"), Items: []*schedulev1.ItemDone{{ItemId: "T02"}}},
			"service_entry.service_date", "2012-11-24, the day on which it was built, or later"},
		{"on the day", &schedulev1.ServiceEntry{ServiceDate: calendar("2012-11-24"), Items: []*schedulev1.ItemDone{{ItemId: "T02"}}}, "", ""},
		{"an item of no programme", &schedulev1.ServiceEntry{Items: []*schedulev1.ItemDone{{ItemId: "Z99"}}}, "service_entry.items[0].item_id", "an item of this vehicle's programme"},
		{"a hub, and which one nobody says", &schedulev1.ServiceEntry{Items: float("S05", "")},
			"service_entry.items[0].measured[0].position", "which of those that S05 looks at: hub-front-left, hub-front-right, hub-rear-left"},
		{"the beginning of several", &schedulev1.ServiceEntry{Items: float("S05", "hub")},
			"service_entry.items[0].measured[0].position", "which of those that S05 looks at: hub-front-left, hub-front-right, hub-rear-left"},
		{"a hub that it has not", &schedulev1.ServiceEntry{Items: float("S05", "hub-rear-right")},
			"service_entry.items[0].measured[0].position", "where S05 looks: hub-front-left, hub-front-right, hub-rear-left"},
		{"a place on a hub", &schedulev1.ServiceEntry{Items: float("S05", "hub-front-left-outer")}, "", ""},
		{"a hub", &schedulev1.ServiceEntry{Items: float("S05", "hub-front-left")}, "", ""},
		{"one position, which need not be said", &schedulev1.ServiceEntry{Items: float("T02", "")}, "", ""},
		{"another than that", &schedulev1.ServiceEntry{Items: float("T02", "engine")}, "service_entry.items[0].measured[0].position", "where T02 looks: output-shaft-bearing"},
	} {
		_, err := w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: c.entry})
		if c.field == "" {
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); f.Fields[0].Name != c.field || !strings.HasPrefix(f.Fields[0].Want, c.want) {
			t.Errorf("%s: %+v", c.name, f.Fields)
		}
	}
}
