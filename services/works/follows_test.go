package works_test

import (
	"bytes"
	"context"
	"regexp"
	"slices"
	"strings"
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/console"
	"halfshaft/services/vehicle"
	"halfshaft/services/works"
)

// desk is the console at the demo works.
func desk(t *testing.T) (context.Context, works.Clients, *console.Console, func(error) string) {
	_, ctx, clients := startDemo(t, works.Config{})
	var out bytes.Buffer
	k := &console.Console{Access: clients.Access, Owners: clients.Owners, Builds: clients.Builds, Parts: clients.Parts,
		Schedules: clients.Schedules, Reminders: clients.Reminders, Out: &out}
	return ctx, clients, k, func(err error) string {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		text := out.String()
		out.Reset()
		return regexp.MustCompile(`changes/[0-9a-f]{12}`).ReplaceAllString(text, "changes/ID")
	}
}

// AM0151X left the works with silicone brake fluid. What is put in after other
// brakes were fitted follows from those, on the fluid sheet, in the schedule and
// for the small parts; the wrong fluid swells the seals.
func TestTheBrakeFluidFollowsTheBrakesThatWereFitted(t *testing.T) {
	ctx, clients, k, said := desk(t)
	fit := func(part string) string {
		return said(k.RecordChange(ctx, "AM0151X", console.Change{What: console.FitChange{Position: "brake hydraulics", Part: part},
			Source: "service", Reason: "the silicone set leaked", On: vehicle.MustDate(2026, 5, 10)}))
	}
	read := func() string {
		return said(k.Fluids(ctx, "AM0151X", "brake-hydraulics", vehicle.Date{})) + said(k.Part(ctx, "AM0151X", "brake hose front left", vehicle.Date{}))
	}
	fluidItem := func() string {
		s, err := clients.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/AM0151X/schedule"})
		if err != nil {
			t.Fatal(err)
		}
		var on []string
		for _, it := range s.GetItems() {
			switch it.GetItemId() {
			case "B01", "B01S", "C01F", "C01S":
				on = append(on, it.GetItemId())
				for _, r := range it.GetReasons() {
					if r.GetRule() == "TRAITS_ASSUMED" {
						on = append(on, "assumed")
					}
				}
			}
		}
		slices.Sort(on)
		return strings.Join(on, " ")
	}
	got := "AS BUILT\n" + read()
	if id := fluidItem(); id != "B01S C01S" {
		t.Errorf("as built the programme has %s, want B01S and C01S", id)
	}
	got += "\nA PART OF ANOTHER RELEASE\n" + fit("AP-4040") + read()
	if id := fluidItem(); id != "B01 C01F" {
		t.Errorf("with glycol brakes the programme has %s, want B01 and C01F", id)
	}
	got += "\nA PART THAT NOBODY KNOWS\n" + fit("ZX-9") + read()
	if id := fluidItem(); id != "B01S C01S assumed assumed" {
		t.Errorf("with brakes that nobody knows the programme has %s, want that of the standard, both assumed", id)
	}
	golden(t, "brake-fluid", got)
	conf, err := clients.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: "builds/AM0151X"})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range conf.GetFitted() {
		if f.GetComponent().GetPosition() == "brake-hydraulics" && f.GetTraitsOrigin() != buildv1.TraitsOrigin_TRAITS_ORIGIN_ASSUMED {
			t.Errorf("the API says %s, want that its traits are assumed", f.GetTraitsOrigin())
		}
	}
}

// The gearbox of AM0120A goes into AM01218. Its oil level was looked at on 30
// November 2025, that of the gearbox which it replaces on 23 January 2026.
func TestAGearboxBringsItsOwnServices(t *testing.T) {
	ctx, clients, k, said := desk(t)
	moved := said(k.MoveComponent(ctx, console.Move{From: "AM0120A", FromPosition: "gearbox", To: "AM01218", On: vehicle.MustDate(2026, 5, 10), Reason: "the other one whines"}))
	s, err := clients.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/AM01218/schedule"})
	if err != nil {
		t.Fatal(err)
	}
	for _, it := range s.GetItems() {
		if it.GetItemId() != "G01L" {
			continue
		}
		if d := it.GetDueDate(); d.GetYear() != 2026 || d.GetMonth() != 5 || d.GetDay() != 30 || it.GetLastDoneEntry() != "vehicles/AM0120A/serviceEntries/v21" {
			t.Errorf("due %v, last done by %s: %s", d, it.GetLastDoneEntry(), it.GetSentence())
		}
	}
	golden(t, "gearbox-moved", moved)
}

// Whoever records other tyres through the API need record no event beside it.
func TestOtherTyresRecordedThroughTheAPIStartTheirChecks(t *testing.T) {
	ctx, clients, _, _ := desk(t)
	made, err := clients.Builds.RecordChange(ctx, &buildv1.RecordChangeRequest{Parent: "builds/AM0104A", Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_TYRES, Tyre: &vehiclev1.Tyre{Size: "235/85R16", Pattern: "all-terrain"},
		ChangeDate: &date.Date{Year: 2026, Month: 5, Day: 10}, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, Reason: "taller tyres"}})
	if err != nil {
		t.Fatal(err)
	}
	s, err := clients.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/AM0104A/schedule"})
	if err != nil {
		t.Fatal(err)
	}
	started := ""
	for _, it := range s.GetItems() {
		for _, r := range it.GetReasons() {
			if r.GetRule() == "STARTED_BY_EVENT" && r.GetRecord() == made.GetName() {
				started += it.GetItemId() + " "
			}
		}
	}
	if started != "W05 K04 " {
		t.Errorf("the change started %q, want W05 and K04", started)
	}
}
