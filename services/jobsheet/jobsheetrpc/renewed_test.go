package jobsheetrpc

import (
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/jobsheet"
)

// The pack that is in goes with its component: when another was fitted there, the
// sheet knows none, until one is written down.
func TestAPackThatWentWithItsComponentIsNotIn(t *testing.T) {
	on := func(year int32) *date.Date { return &date.Date{Year: year, Month: 5, Day: 18} }
	pack := func(year int32, thickness string) *schedulev1.ServiceEntry {
		return &schedulev1.ServiceEntry{ServiceDate: on(year), Items: []*schedulev1.ItemDone{{ItemId: "T02", Shims: []*schedulev1.ShimWork{{
			Position: "output-shaft-bearing", Characteristic: "end-float", Shims: []*schedulev1.ShimUsed{{Thickness: &vehiclev1.Quantity{Value: thickness, Unit: "mm"}, Count: 1}}}}}}}
	}
	built := &schedulev1.MeasuredSeries{Position: "output-shaft-bearing", Characteristic: "shim-pack", Values: []*schedulev1.SeriesValue{{MeasuredDate: on(2018), Value: &vehiclev1.Quantity{Value: "0.64", Unit: "mm"}}}}
	fitted := &schedulev1.SeriesBreak{BreakDate: on(2024), Record: "builds/AM0147P/changes/c1"}
	for name, c := range map[string]struct {
		entries []*schedulev1.ServiceEntry
		breaks  []*schedulev1.SeriesBreak
		want    string
	}{
		"as it was built":            {nil, nil, "0.64 mm"},
		"as it was changed":          {[]*schedulev1.ServiceEntry{pack(2022, "0.51")}, []*schedulev1.SeriesBreak{{BreakDate: on(2022), Record: "vehicles/AM0147P/serviceEntries/e1"}}, "0.51 mm"},
		"another bearing since":      {[]*schedulev1.ServiceEntry{pack(2022, "0.51")}, []*schedulev1.SeriesBreak{fitted}, ""},
		"set on the day it went in":  {[]*schedulev1.ServiceEntry{pack(2022, "0.51"), pack(2024, "0.57")}, []*schedulev1.SeriesBreak{fitted}, "0.57 mm"},
		"another since it was built": {nil, []*schedulev1.SeriesBreak{fitted}, ""},
	} {
		series := &schedulev1.MeasuredSeries{Position: built.Position, Characteristic: built.Characteristic, Values: built.Values, Breaks: c.breaks}
		g := &gathered{entries: c.entries, series: []*schedulev1.MeasuredSeries{series}}
		var f jobsheet.Facts
		g.measured(&f)
		got := ""
		if len(f.Packs) > 0 {
			got = f.Packs[0].Thickness.String()
		}
		if got != c.want {
			t.Errorf("%s: %q is in, want %q", name, got, c.want)
		}
	}
}
