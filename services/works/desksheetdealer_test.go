package works_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/internal/racetest"
	"halfshaft/testdata/aldermoor"
)

var hiddenField = regexp.MustCompile(`<input type="hidden" name="([^"]+)" value="([^"]*)"`)

// hidden are the hidden fields of a page, as its form sends them.
func hidden(page string) url.Values {
	form := url.Values{}
	for _, m := range hiddenField.FindAllStringSubmatch(page, -1) {
		form.Set(m[1], m[2])
	}
	return form
}

// A dealer makes a sheet for a vehicle that is with them, and brings it back with
// a component, which they could not record by themselves. A sheet of another's
// vehicle is not there for them, whatever they ask of it.
func TestADealerMakesAndReturnsTheSheetOfTheirVehicleAndOfNoOther(t *testing.T) {
	racetest.Skip(t, "one page after the other")
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	d.dealers("ferncombe")
	d.dealers("saltmarket")
	d.assigned(aldermoor.TourSerial, "ferncombe", "service")
	d.assigned(aldermoor.OthersSerial, "saltmarket", "service")
	b, _ := d.admitted("ned", accessv1.Role_ROLE_DEALER)
	at := "/vehicles/" + aldermoor.TourSerial + "/sheets"

	a, page := b.get(at)
	if a.StatusCode != http.StatusOK || !strings.Contains(page, "No sheet is out.") {
		t.Fatalf("got %d: %s", a.StatusCode, page)
	}
	a, page = b.send(at, url.Values{"item": {"T01"}, "visit_date": {aldermoor.Today.String()}})
	if a.StatusCode != http.StatusOK || a.Request.URL.Path != at+"/1" || !strings.Contains(page, "The sheet is made.") {
		t.Fatalf("got %d at %s: %s", a.StatusCode, a.Request.URL, page)
	}
	if a, paper := b.get(at + "/1/paper/Letter"); a.Header.Get("Content-Type") != "application/pdf" || !strings.HasPrefix(paper, "%PDF") {
		t.Errorf("the paper: %d, %s", a.StatusCode, a.Header.Get("Content-Type"))
	}
	if a, page := b.get(at + "/1/paper/A5"); a.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("on A5: %d: %s", a.StatusCode, page)
	}
	_, page = b.get(at + "/1/return")
	form := hidden(page)
	for name, text := range map[string]string{
		"done.1": "yes", "reading": "7260", "service_date": aldermoor.Today.String(), "done_by": "Ned Larkrise", "change.1.kind": "OVERHAUL", "change.1.position": "transfer case", "do": "look",
	} {
		form.Set(name, text)
	}
	a, page = b.send(at+"/1/return", form)
	if a.StatusCode != http.StatusOK || !strings.Contains(page, "Nothing is on record yet") || !strings.Contains(page, "Overhauled: transfer case") {
		t.Fatalf("got %d: %s", a.StatusCode, page)
	}
	form = hidden(page)
	form.Set("do", "record")
	a, page = b.send(at+"/1/return", form)
	if a.StatusCode != http.StatusOK || !strings.Contains(page, "What came back is on record, all of it.") {
		t.Fatalf("got %d: %s", a.StatusCode, page)
	}
	m := got(d.clients.JobSheets.GetJobSheet(d.ctx, &jobsheetv1.GetJobSheetRequest{Name: "vehicles/" + aldermoor.TourSerial + "/jobSheets/1"}))(t)
	if m.GetJobReturn().GetTakenInBy() != "ned" || len(m.GetJobReturn().GetRecords()) != 2 {
		t.Errorf("taken in by %q, with %v", m.GetJobReturn().GetTakenInBy(), m.GetJobReturn().GetRecords())
	}
	// The same form once more, as a browser sends it on a double click.
	if a, page := b.send(at+"/1/return", form); a.StatusCode != http.StatusOK || !strings.Contains(page, "on record") {
		t.Errorf("sent twice: %d: %s", a.StatusCode, page)
	}
	if n := len(got(d.clients.JobSheets.GetJobSheet(d.ctx, &jobsheetv1.GetJobSheetRequest{Name: m.GetName()}))(t).GetJobReturn().GetRecords()); n != 2 {
		t.Errorf("sent twice, it became %d records", n)
	}

	// Another's.
	theirs := "/vehicles/" + aldermoor.OthersSerial + "/sheets"
	made := got(d.clients.JobSheets.CreateJobSheet(d.ctx, &jobsheetv1.CreateJobSheetRequest{Parent: "vehicles/" + aldermoor.OthersSerial, ItemIds: []string{"T01"}}))(t)
	for _, page := range []string{"", "/1", "/1/paper/A4", "/1/return"} {
		a, there := b.get(theirs + page)
		if a.StatusCode != http.StatusNotFound || strings.Contains(there, "T01") {
			t.Errorf("%s of another's: %d: %s", page, a.StatusCode, there)
		}
	}
	for _, page := range []string{"", "/1/return", "/1/cancel"} {
		a, there := b.send(theirs+page, url.Values{"sure": {"yes"}, "etag": {made.GetEtag()}, "item": {"T01"}, "do": {"record"}, "done.1": {"yes"}})
		if a.StatusCode != http.StatusNotFound || strings.Contains(there, "T01") {
			t.Errorf("sent to %s of another's: %d: %s", page, a.StatusCode, there)
		}
	}
	if now := got(d.clients.JobSheets.GetJobSheet(d.ctx, &jobsheetv1.GetJobSheetRequest{Name: made.GetName()}))(t); now.GetEtag() != made.GetEtag() {
		t.Errorf("another's sheet changed: %v", now)
	}
	if a, _ := b.get("/fleet/sheets"); a.StatusCode != http.StatusNotFound {
		t.Errorf("the list of all sheets: %d", a.StatusCode)
	}
}
