package works_test

import (
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

// What a caller tells besides readings and questions: they moved, the vehicle
// stands by the sea, they sold it, the odometer is another.
func TestWhatACallerTellsIsRecordedAtTheDesk(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	if _, err := d.clients.Access.CreateOrganisation(d.ctx, &accessv1.CreateOrganisationRequest{Organisation: &accessv1.Organisation{Name: "organisations/fellside", Title: "Fell Side Motors"}}); err != nil {
		t.Fatal(err)
	}
	p := telephone.New(t, 1280, "light")
	p.Scripts(false)
	d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
	page := d.url + "/vehicles/" + aldermoor.TourSerial

	// They moved.
	p.Open(page)
	p.Press("Change how they are reached")
	p.Says("How Margaret Harrowgate is reached")
	p.Enter("Postal address", "2 Invented Row\nFictionbury\nFB1 1AB\nUnited Kingdom")
	p.Enter("Telephone", "nix")
	p.Press("Keep the change")
	p.Says("Please enter a possible number")
	p.Enter("Telephone", "+44 (1632) 960-101")
	p.Press("Keep the change")
	p.Says("from now on they are reached so", "2 Invented Row", "+44 1632 960101")

	// How it is used, where that is asked; and when that is over.
	p.Says("Ask the caller", "How is it used")
	p.Press("Record the use")
	p.Choose("How it is used", "driven in some months only")
	p.Press("Record the use")
	p.Says("Please enter the first month of the season")
	p.Choose("How it is used", "kept by the sea or often on the beach")
	p.Press("Record the use")
	p.Says("The use was recorded")
	p.Open(page + "/use")
	p.Says("Kept by the sea or often on the beach", "it lasts")

	d.walkOtherOdometer(t, page)

	// A dealer rings who cannot see it.
	p.Open(page)
	p.Press("Let a dealer see it")
	p.Choose("Dealer", "Fell Side Motors")
	p.Enter("What for, without names", "noise at the left swivel")
	p.Press("Let them see it")
	p.Says("They see the vehicle and its record from now on", "noise at the left swivel")
	d.walkEndOfAssignment(t, p)

	// They sold it.
	p.Open(page)
	p.Press("Sold: new owner")
	p.Enter("Name of the new owner", "Ada Nettlefold")
	p.Press("Record the new owner")
	p.Says("Please enter what the works saw")
	p.Enter("What shows it, without names", "letter of 3 May, file 2026/41")
	p.Press("Record the new owner")
	p.Says("The new owner was recorded", "Ada Nettlefold")
	ties, err := d.clients.Owners.ListTies(d.ctx, &ownerv1.ListTiesRequest{Parent: "vehicles/" + aldermoor.TourSerial})
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range ties.GetTies() {
		if x.GetPerson() == "people/p0001" && x.GetEndDate() == nil {
			t.Errorf("the former owner is still tied to it: %v", x)
		}
	}
}

// walkEndOfAssignment takes the vehicle back from the dealer, which is not done
// without a reason.
func (d *deskWorld) walkEndOfAssignment(t *testing.T, p *telephone.Telephone) {
	t.Helper()
	p.Press("End it for Fell Side Motors")
	p.Says("neither the vehicle nor its record", "noise at the left swivel", "it is booked in with them")
	p.Press("They see it no longer")
	p.Says("Please enter why it is taken back, without names")
	p.Enter("Why, without names", "booked elsewhere")
	p.Press("They see it no longer")
	p.Says("They see the vehicle and its record no longer")
	all := got(d.clients.Access.ListAssignments(d.ctx, &accessv1.ListAssignmentsRequest{Parent: "vehicles/" + aldermoor.TourSerial}))(t).GetAssignments()
	found := false
	for _, a := range all {
		if a.GetOrganisation() == "organisations/fellside" {
			found = true
			if a.GetOpen() || a.GetEnd().GetComplete() || a.GetEnd().GetReason() != "booked elsewhere" || a.GetEnd().GetRecordedBy() != "bert" {
				t.Errorf("got %v", a)
			}
			p.Open(d.url + "/vehicles/" + aldermoor.TourSerial + "/dealers/" + last(a.GetName()))
			p.Says("It has ended", "booked elsewhere")
		}
	}
	if !found {
		t.Errorf("the assignment is not in %v", all)
	}
}

// walkOtherOdometer has an engineer record another odometer, after which the
// reading counts that was in doubt because of it. Support is told who does that.
func (d *deskWorld) walkOtherOdometer(t *testing.T, page string) {
	doubt, err := d.clients.Schedules.RecordReading(d.ctx, &schedulev1.RecordReadingRequest{Parent: "vehicles/" + aldermoor.TourSerial, Reading: &schedulev1.Reading{
		Value: &vehiclev1.Distance{EnteredValue: "12", EnteredUnit: "mi"}, Source: schedulev1.ReadingSource_READING_SOURCE_OWNER,
	}})
	if err != nil || doubt.GetState() != schedulev1.ReadingState_READING_STATE_DOUBTFUL {
		t.Fatalf("got %v, %v", doubt, err)
	}
	p := telephone.New(t, 320, "dark")
	p.Scripts(false)
	d.enters(p, "una", accessv1.Role_ROLE_ENGINEER)
	p.Open(page)
	p.Says("Support knows the name")
	p.Press("Settle the reading of " + vehicleDay(doubt))
	p.Press("Record another odometer")
	on := doubt.GetReadingDate()
	p.Set("Fitted on", vehicle.Date{Year: int(on.GetYear()), Month: time.Month(on.GetMonth()), Day: int(on.GetDay())}.String())
	p.Enter("What the old one showed", "7,230")
	p.Enter("What the new one showed when it was fitted", "ten")
	p.Press("Record the other odometer")
	p.Says("Please enter what the odometer showed")
	p.Enter("What the new one showed when it was fitted", "10")
	p.Enter("Why, without names", "the old one had stopped")
	p.Press("Record the other odometer")
	p.Says("The other odometer was recorded")
	all, err := d.clients.Schedules.ListReadings(d.ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/" + aldermoor.TourSerial, PageSize: 500})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range all.GetReadings() {
		if r.GetName() == doubt.GetName() && r.GetState() != schedulev1.ReadingState_READING_STATE_COUNTED {
			t.Errorf("the reading of the other odometer is %v", r)
		}
	}
}
