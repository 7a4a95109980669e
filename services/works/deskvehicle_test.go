package works_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/vehicle"
	"halfshaft/services/wording"
	"halfshaft/testdata/aldermoor"
)

// enters signs somebody in with a password and codes, which needs no script.
func (d *deskWorld) enters(p *telephone.Telephone, id string, role accessv1.Role) {
	d.t.Helper()
	p.Open(d.invited(id, "Somebody Called "+wording.UpperFirst(id), role))
	p.Enter("New password", "seven pistons in the shed")
	p.Press("Go on to the codes")
	p.Enter("Code", d.code(telephone.Ask[string](p, `document.querySelector("dd").innerText`)))
	p.Press("Check the code")
	p.Press("I have them")
}

// As somebody at the telephone does it, with scripts and without.
func TestTheTelephoneIsAnsweredAtTheDesk(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	for name, c := range map[string]struct {
		width   int64
		scheme  string
		scripts bool
	}{
		"without scripts, narrow and dark": {320, "dark", false},
		"with scripts, wide and light":     {1280, "light", true},
	} {
		t.Run(name, func(t *testing.T) {
			data := t.TempDir()
			layDemo(t, data)
			d := openDeskOver(t, data)
			p := telephone.New(t, c.width, c.scheme)
			p.Name = fmt.Sprintf("vehicle-%d", c.width)
			p.Scripts(c.scripts)
			d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
			serial := vehicle.Serial(aldermoor.TourSerial)

			// In two steps from a spoken serial to the answer.
			p.Enter("Find", serial.Spoken())
			p.Press("Find")
			p.Says(aldermoor.TourSerial, "Who", "Ask the caller", "Due", "Warranty")
			p.Enter("Part, fluid or setting for this vehicle", "fan belt")
			p.Press("Answer")
			p.Says("Order", "Because")

			// What is no serial opens nothing: whose it may be is listed.
			p.Enter("Find", strings.Replace(aldermoor.TourSerial, "0", "O", 1))
			p.Press("Find")
			p.Says("Ask the caller before you open one.", aldermoor.TourSerial, "Alfa Mike zero one zero one Golf")
			p.Press(aldermoor.TourSerial)
			p.Says("True distance")
			p.Enter("Find", "zzgnarl")
			p.Press("Find")
			p.Says("No part, fluid or setting is called so", "Nothing like it was asked before.")

			doubt, err := d.clients.Schedules.RecordReading(d.ctx, &schedulev1.RecordReadingRequest{Parent: "vehicles/" + aldermoor.TourSerial, Reading: &schedulev1.Reading{
				Value: &vehiclev1.Distance{EnteredValue: "12", EnteredUnit: "mi"}, Source: schedulev1.ReadingSource_READING_SOURCE_OWNER,
			}})
			if err != nil || doubt.GetState() != schedulev1.ReadingState_READING_STATE_DOUBTFUL {
				t.Fatalf("got %v, %v", doubt, err)
			}
			p.Open(d.url + "/vehicles/" + aldermoor.TourSerial)
			p.Says("Readings in doubt")
			p.Press("Settle the reading of " + vehicleDay(doubt))
			p.Set("Decision", "REJECTED")
			p.Enter("Why", "a trip counter was read")
			p.Press("Settle the reading")
			p.Says("The decision was recorded")

			d.walkShims(p)
			d.walkReading(p)
			d.walkEnquiry(p, c.scripts)
			for _, page := range []string{"", "/due", "/parts", "/history", "/measured", "/speed", "/service"} {
				p.Open(d.url + "/vehicles/" + aldermoor.TourSerial + page)
				if n := telephone.Ask[int64](p, `new TextEncoder().encode(document.documentElement.outerHTML).length`); n > 100_000 {
					t.Errorf("%q weighs %d bytes", page, n)
				} else {
					t.Logf("%q weighs %d bytes", page, n)
				}
			}
		})
	}
}

// Without a mouse: to the content, to the box, and the fields in the order in
// which they are read; what has the focus is seen.
func TestTheVehiclesPageIsWalkedByTheKeyboard(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	p := telephone.New(t, 1280, "light")
	p.Scripts(true)
	d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
	p.Open(d.url + "/vehicles/" + aldermoor.TourSerial)
	var met []string
	for range 24 {
		p.Key(kb.Tab)
		met = append(met, p.Focus())
		if thick := telephone.Ask[string](p, `getComputedStyle(document.activeElement).outlineWidth`); thick != "3px" {
			t.Errorf("%q has an outline of %s", p.Focus(), thick)
		}
	}
	last := -1
	for _, want := range []string{"Skip to the content", "Sign out", "Find", "Home", "At a glance", "Due", "Open an enquiry", "Record a reading", "Record work"} {
		at := slices.Index(met, want)
		if at <= last {
			t.Errorf("%q comes at %d, after %d: %q", want, at, last, met)
		}
		last = at
	}
	p.Open(d.url + "/vehicles/" + aldermoor.TourSerial)
	p.Key(kb.Tab)
	p.Key(kb.Enter)
	if at := telephone.Ask[string](p, `document.activeElement.id`); at != "main" {
		t.Errorf("the link to the content leads to %q", at)
	}
	p.Key("/")
	if at := telephone.Ask[string](p, `document.activeElement.id`); at != "box" {
		t.Errorf("/ leads to %q", at)
	}
	p.Key("AM0143X" + kb.Enter)
	p.Await("It was scrapped")
}

// walkShims records work with a pack of shims from the page of the vehicle, first
// with a value that is outside its limits, and sees the schedule move.
func (d *deskWorld) walkShims(p *telephone.Telephone) {
	d.t.Helper()
	before := d.due(d.t, "T02")
	p.Open(d.url + "/vehicles/" + aldermoor.TourSerial)
	p.Press("All items and why")
	p.Press("Record T02")
	p.Enter("Who did it", "bench 2")
	p.Enter("T02: end float", "0.30")
	p.Enter("T02: end float before the shims were changed", "0.18")
	p.Enter("T02: end float, thickness of the old pack", "0.51 mm")
	p.Enter("T02: end float, shims that are in now", "two of the thick ones")
	p.Press("Record the work")
	p.Says("sizes with how many of each")
	p.Enter("T02: end float, shims that are in now", "2 x 0.25 mm + 0.13 mm")
	p.Press("Record the work")
	p.Says("Nothing was recorded yet", "Outside limits, confirm:", "0.30 mm")
	if after := d.due(d.t, "T02"); after != before {
		d.t.Errorf("T02 moved before it was confirmed: %s", after)
	}
	p.Enter("T02: end float", "0.10")
	p.Press("Record the work")
	p.Says("The work was recorded", "Shims now 2 shims of 0.25 mm + 0.13 mm, in place of a pack of 0.51 mm", "end float with them 0.10 mm, before 0.18 mm", "Where the items stand now")
	if after := d.due(d.t, "T02"); after == before {
		d.t.Errorf("T02 stands where it stood: %s", after)
	}

	// What is odd and true is confirmed, and whoever reads it reads why.
	p.Open(d.url + "/vehicles/" + aldermoor.TourSerial + "/service?item=T02")
	p.Enter("T02: end float", "0.20")
	p.Press("Record the work")
	p.Enter("T02: end float, why it stands and what is done about it", "measured twice; comes back for shims in June")
	p.Press("Record the work")
	p.Says("The work was recorded", "end float: 0.20 mm", "Confirmed, end float: measured twice; comes back for shims in June")
}

// walkReading records a reading from the page of the vehicle.
func (d *deskWorld) walkReading(p *telephone.Telephone) {
	p.Open(d.url + "/vehicles/" + aldermoor.TourSerial)
	p.Press("Record a reading")
	p.Enter("What the odometer shows", "a lot")
	p.Press("Record the reading")
	p.Says("Please enter what the odometer showed")
	p.Enter("What the odometer shows", "7,250")
	p.Press("Record the reading")
	p.Says("The reading was recorded", "True distance")
	p.Press("All of its history")
	p.Says("7,250 miles", "yes")
}

// walkEnquiry opens an enquiry for whom it is from, is offered what was answered
// to the like, and answers it.
func (d *deskWorld) walkEnquiry(p *telephone.Telephone, scripts bool) {
	d.t.Helper()
	if _, err := d.clients.Enquiries.CreateEnquiry(d.ctx, &enquiryv1.CreateEnquiryRequest{Parent: "vehicles/AM0102E", Enquiry: &enquiryv1.Enquiry{
		Channel: enquiryv1.EnquiryChannel_ENQUIRY_CHANNEL_TELEPHONE, AskerKind: enquiryv1.AskerKind_ASKER_KIND_MECHANIC, Symptom: "weep at the swivel seal",
	}, Answer: &enquiryv1.EnquiryAnswer{Text: "A film is normal, a drop that falls is not."}}); err != nil {
		d.t.Fatal(err)
	}
	p.Open(d.url + "/vehicles/" + aldermoor.TourSerial)
	p.Press("Open an enquiry")
	p.Choose("Who asks", "Margaret Harrowgate, owner")
	p.Enter("Question, in their words", "Oil weeps at the swivel seal, is that normal?")
	if scripts { // while it is written
		p.LeaveAndRead("Asked and answered before")
	} else {
		p.Press("What was answered before?")
	}
	p.Says("Asked and answered before", "AM0102E", "weep at the swivel seal", "The answer")
	p.Enter("What it is about", "weep at the swivel seal")
	p.Press("Record the enquiry")
	p.Says("The enquiry was recorded", "Oil weeps at the swivel seal, is that normal?")
}

func vehicleDay(r *schedulev1.Reading) string {
	x := r.GetReadingDate()
	return vehicle.Date{Year: int(x.GetYear()), Month: time.Month(x.GetMonth()), Day: int(x.GetDay())}.Long()
}

// due is when an item of the tour's vehicle is due.
func (d *deskWorld) due(t *testing.T, item string) string {
	t.Helper()
	x, err := d.clients.Schedules.GetSchedule(d.ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + aldermoor.TourSerial + "/schedule"})
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range x.GetItems() {
		if i.GetItemId() == item {
			return i.GetDueDate().String()
		}
	}
	t.Fatalf("no item %s", item)
	return ""
}
