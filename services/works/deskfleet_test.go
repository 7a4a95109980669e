package works_test

import (
	"net/http"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/internal/telephone"
	"halfshaft/testdata/aldermoor"
)

// Without scripts, on a narrow page.
func TestADoubtfulReadingIsSettledFromTheQueue(t *testing.T) {
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	doubt, err := d.clients.Schedules.RecordReading(d.ctx, &schedulev1.RecordReadingRequest{Parent: "vehicles/" + aldermoor.TourSerial, Reading: &schedulev1.Reading{
		Value: &vehiclev1.Distance{EnteredValue: "12", EnteredUnit: "mi"}, Source: schedulev1.ReadingSource_READING_SOURCE_OWNER,
	}})
	if err != nil {
		t.Fatal(err)
	}
	state := func() (in schedulev1.ReadingState) {
		r := got(d.clients.Schedules.ListReadings(d.ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/" + aldermoor.TourSerial, PageSize: 500}))(t)
		for _, x := range r.GetReadings() {
			if x.GetName() == doubt.GetName() {
				in = x.GetState()
			}
		}
		return in
	}
	p := telephone.New(t, 320, "dark")
	p.Scripts(false)
	d.enters(p, "bert", accessv1.Role_ROLE_SUPPORT)
	for _, path := range []string{"/fleet", "/fleet/due", "/fleet/campaigns", "/fleet/claims", "/works/bulletins"} {
		p.Open(d.url + path)
	}
	p.Open(d.url + "/fleet/readings")
	p.Says("Doubtful readings", aldermoor.TourSerial+", read ", "12 mi")
	b, _ := d.admitted("cora", accessv1.Role_ROLE_SUPPORT)
	a, page := b.send("/fleet/readings", map[string][]string{"name": {doubt.GetName()}, "etag": {doubt.GetEtag()}, "settlement.verdict": {"rejected"}})
	if a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "settlement.reason-wrong") || state() != schedulev1.ReadingState_READING_STATE_DOUBTFUL {
		t.Errorf("without a reason: got %d, %v", a.StatusCode, state())
	}
	a, page = b.send("/fleet/readings", map[string][]string{"name": {doubt.GetName()}, "etag": {doubt.GetEtag()}, "settlement.verdict": {"rejected"}, "settlement.reason": {"a trip counter was read"}})
	if a.StatusCode != http.StatusOK || !strings.Contains(page, "The reading is settled") || state() != schedulev1.ReadingState_READING_STATE_REJECTED {
		t.Errorf("got %d, %v: %s", a.StatusCode, state(), page)
	}
}

func TestThePagesOfAFleetWithNothingInItSaySo(t *testing.T) {
	d := openDesk(t)
	b, _ := d.admitted("bert", accessv1.Role_ROLE_SUPPORT)
	for path, want := range map[string]string{
		"/fleet": "nothing", "/fleet/due": "Nothing is due within the next 12 weeks.", "/fleet/readings": "No reading is in doubt.",
		"/fleet/notices": "No notice is parked.", "/fleet/campaigns": "No campaign is issued.", "/fleet/claims": "No claim waits for a decision.",
		"/fleet/enquiries": "Nobody is to be called back", "/works": "Bulletins and campaigns", "/works/releases": "No release is on record.",
		"/works/parts?q=swivel": "No part answers to that.", "/works/bulletins": "No bulletin is on record.",
	} {
		if a, page := b.get(path); a.StatusCode != http.StatusOK || !strings.Contains(page, want) {
			t.Errorf("%s: got %d, without %q: %s", path, a.StatusCode, want, page)
		}
	}
}
