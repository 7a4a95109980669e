package works_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/telephone"
	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

// enters signs somebody in with a password and codes, which needs no script.
func (d *deskWorld) enters(p *telephone.Telephone, id string, role accessv1.Role) {
	d.t.Helper()
	p.Open(d.invited(id, "Somebody Called "+strings.ToUpper(id[:1])+id[1:], role))
	p.Enter("New password", "seven pistons in the shed")
	p.Press("Go on to the codes")
	p.Enter("Code", d.code(telephone.Ask[string](p, `document.querySelector("dd").innerText`)))
	p.Press("Check the code")
	p.Press("I have them")
}

// As somebody at the telephone does it, with scripts and without.
func TestTheTelephoneIsAnsweredAtTheDesk(t *testing.T) {
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
			p.Says("Ask the caller before you open one.", aldermoor.TourSerial)
			p.Enter("Find", "zzgnarl")
			p.Press("Find")
			p.Says("Nothing goes by that")

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

			before := d.due(t, "T02")
			p.Open(d.url + "/vehicles/" + aldermoor.TourSerial + "/service?item=T02")
			p.Enter("Who did it", "bench 2")
			p.Enter("T02: end float", "0.10")
			p.Enter("T02: end float before the shims were changed", "0.18")
			p.Enter("T02: shims that are in now", "two of the thick ones")
			p.Press("Record the work")
			p.Says("sizes with how many of each")
			p.Enter("T02: shims that are in now", "2 x 0.25 mm + 0.13 mm")
			p.Press("Record the work")
			p.Says("The work was recorded", "Shims now 2 shims of 0.25 mm + 0.13 mm", "end float with them 0.10 mm", "Where the items stand now")
			if after := d.due(t, "T02"); after == before {
				t.Errorf("T02 stands where it stood: %s", after)
			}
			for _, page := range []string{"", "/due", "/parts", "/history", "/measured"} {
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
