package exchange

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/testing/protocmp"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
)

// reshim collects a service entry with one line of shim work.
func reshim(shims string) *Collection {
	c := NewCollection()
	feed(c, "service entries", "serial,id,service date", "AM0147P,s1,2025-02-03")
	feed(c, "items done", "entry,item", "s1,T02")
	feed(c, "shim work", "entry,item,position,characteristic,measured before,shims,measured after",
		"s1,T02,output-shaft-bearing,end-float,0.15 mm,"+shims+",0.06 mm")
	c.Join()
	return c
}

func TestAPackOfShimsIsReadFromOneCell(t *testing.T) {
	c := reshim("0.51 mm x1 (AP-2074); 3 thou ×2; 0.13 mm")
	if faults := c.Faults.Sorted(); len(faults) > 0 {
		t.Fatal(faults)
	}
	entry, ok := c.Message(c.Draft("vehicles/AM0147P/serviceEntries/s1")).(*schedulev1.ServiceEntry)
	if !ok || len(entry.GetItems()) != 1 {
		t.Fatalf("got %v", entry)
	}
	mm := func(text string) *vehiclev1.Quantity { return &vehiclev1.Quantity{Value: text, Unit: "mm"} }
	want := []*schedulev1.ShimWork{{
		Position: "output-shaft-bearing", Characteristic: "end-float", MeasuredBefore: mm("0.15"), MeasuredAfter: mm("0.06"),
		Shims: []*schedulev1.ShimUsed{
			{Thickness: mm("0.51"), Count: 1, Part: "AP-2074"}, {Thickness: &vehiclev1.Quantity{Value: "3", Unit: "thou"}, Count: 2}, {Thickness: mm("0.13")},
		},
	}}
	if diff := cmp.Diff(want, entry.GetItems()[0].GetShims(), protocmp.Transform()); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestAPackThatCannotBeReadIsRefusedWithItsCell(t *testing.T) {
	c := reshim("0.51; 2 of 0.08 mm")
	faults := c.Faults.Sorted()
	if len(faults) != 1 || faults[0].Column != "shims" || faults[0].Row != 2 || !strings.Contains(faults[0].Want, "0.25 mm x2; 0.13 mm") {
		t.Errorf("got %v", faults)
	}
}

func TestAShimThatTheCatalogueDoesNotHaveIsRefused(t *testing.T) {
	c := reshim("0.51 mm x1 (AP-2074); 0.08 mm x2")
	c.Check(vehicle.MustDate(2026, 11, 25))
	for _, f := range c.Faults.Sorted() {
		if f.Column == "shims" && f.Got == "AP-2074" {
			return
		}
	}
	t.Errorf("got %v", c.Faults.Sorted())
}
