package works_test

import (
	"net/http"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/testdata/aldermoor"
)

// By what is written on the page, without scripts and with.
func TestADoubtfulReadingIsSettledFromTheQueue(t *testing.T) {
	racetest.Skip(t, "one person does one thing after the other")
	withAndWithoutScripts(t, func(t *testing.T, scripts bool) {
		d, p := deskOverDemo(t, t.TempDir(), newFickleServer(t), scripts, "bert", accessv1.Role_ROLE_SUPPORT)
		const serial = aldermoor.TourSerial
		doubt, err := d.clients.Schedules.RecordReading(d.ctx, &schedulev1.RecordReadingRequest{Parent: "vehicles/" + serial, Reading: &schedulev1.Reading{
			Value: &vehiclev1.Distance{EnteredValue: "12", EnteredUnit: "mi"}, Source: schedulev1.ReadingSource_READING_SOURCE_OWNER,
		}})
		if err != nil {
			t.Fatal(err)
		}
		state := func() (in schedulev1.ReadingState) {
			r := got(d.clients.Schedules.ListReadings(d.ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/" + serial, PageSize: 500}))(t)
			for _, x := range r.GetReadings() {
				if x.GetName() == doubt.GetName() {
					in = x.GetState()
				}
			}
			return in
		}
		p.Press("Fleet")
		p.Press("Doubtful readings")
		p.Says(serial+", read 18 May 2026", "12 miles", "These readings count for nothing")
		p.Set("Decision for "+serial, "corrected")
		p.Enter("What "+serial+" really showed", "twelve")
		p.Enter("Why, for "+serial, "a trip counter was read")
		p.Press("Settle the reading of " + serial)
		p.Says("what the odometer showed, as in 41230 or 66350 km")
		if state() != schedulev1.ReadingState_READING_STATE_DOUBTFUL {
			t.Fatalf("settled as %v by a value that is none", state())
		}
		p.Set("Decision for "+serial, "rejected")
		p.Enter("What "+serial+" really showed", "")
		p.Press("Settle the reading of " + serial)
		p.Says("The reading is settled")
		if state() != schedulev1.ReadingState_READING_STATE_REJECTED {
			t.Errorf("got %v", state())
		}
	})
}

func TestThePagesOfAFleetWithNothingInItSaySo(t *testing.T) {
	d := openDesk(t)
	b, _ := d.admitted("bert", accessv1.Role_ROLE_SUPPORT)
	for path, want := range map[string]string{
		"/fleet": "none", "/fleet/due": "Nothing is due within the next 12 weeks.", "/fleet/readings": "No reading is in doubt.",
		"/fleet/notices": "No notice is parked.", "/fleet/campaigns": "No campaign is issued.", "/fleet/claims": "No claim waits for a decision.",
		"/fleet/enquiries": "Nobody is to be called back", "/works": "Bulletins and campaigns", "/works/releases": "No release is on record.",
		"/works/parts?q=swivel": "No part answers to that.", "/works/bulletins": "No bulletin is on record.",
		"/fleet/silent": "Of every vehicle something was heard", "/works/programmes": "No programme is on record.", "/works/supersessions": "None is on record.",
		"/works/terms": "No term is on record.", "/works/notes": "No note is on record.",
	} {
		if a, page := b.get(path); a.StatusCode != http.StatusOK || !strings.Contains(page, want) {
			t.Errorf("%s: got %d, without %q: %s", path, a.StatusCode, want, page)
		}
	}
}
