package works_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/testdata/aldermoor"
)

// dealers makes an organisation.
func (d *deskWorld) dealers(id string) {
	d.t.Helper()
	if _, err := d.clients.Access.CreateOrganisation(d.ctx, &accessv1.CreateOrganisationRequest{
		Organisation: &accessv1.Organisation{Name: "organisations/" + id, Title: "Garage of " + id},
	}); err != nil {
		d.t.Fatal(err)
	}
}

// assigned assigns a vehicle and gives the assignment's name.
func (d *deskWorld) assigned(serial, organisation, purpose string) string {
	d.t.Helper()
	made, err := d.clients.Access.CreateAssignment(d.ctx, &accessv1.CreateAssignmentRequest{Parent: "vehicles/" + serial, Assignment: &accessv1.Assignment{
		Organisation: "organisations/" + organisation, Ground: accessv1.AssignmentGround_ASSIGNMENT_GROUND_BOOKING, Purpose: purpose,
	}})
	if err != nil {
		d.t.Fatal(err)
	}
	return made.GetName()
}

func TestADealersPeopleSeeTheirVehiclesAndNothingElse(t *testing.T) {
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	d.dealers("ferncombe")
	d.dealers("saltmarket")
	mine := d.assigned(aldermoor.TourSerial, "ferncombe", "noise in the transfer case")
	theirs := d.assigned(aldermoor.OthersSerial, "saltmarket", "a new hood")
	b, _ := d.admitted("ned", accessv1.Role_ROLE_DEALER)

	a, home := b.get("/")
	for _, want := range []string{aldermoor.TourSerial, "noise in the transfer case", "it is booked in with you", "17 June 2026", `href="/` + mine + `"`} {
		if !strings.Contains(home, want) {
			t.Errorf("the dealer's home, %d, is without %q:\n%s", a.StatusCode, want, home)
		}
	}
	for _, not := range []string{aldermoor.OthersSerial, "a new hood", "/accounts\"", "/audit", "/keys"} {
		if strings.Contains(home, not) {
			t.Errorf("the dealer's home has %q", not)
		}
	}

	// Another's, one that was never there and a wild name are the same nothing.
	missing, _ := b.get("/vehicles/" + aldermoor.TourSerial + "/assignments/none")
	if missing.StatusCode != http.StatusNotFound {
		t.Errorf("a missing one: %d", missing.StatusCode)
	}
	for _, method := range []string{http.MethodGet, http.MethodPost} {
		var page string
		if method == http.MethodGet {
			a, page = b.get("/" + theirs)
		} else {
			a, page = b.send("/"+theirs, url.Values{"reason": {"x"}})
		}
		if a.StatusCode != http.StatusNotFound || strings.Contains(page, "a new hood") || strings.Contains(page, "saltmarket") {
			t.Errorf("%s of another's: %d: %s", method, a.StatusCode, page)
		}
	}
	if got, err := d.clients.Access.GetAssignment(d.ctx, &accessv1.GetAssignmentRequest{Name: theirs}); err != nil || !got.GetOpen() {
		t.Errorf("another's assignment is %v, %v", got, err)
	}

	// Looking asks and completes nothing; what was typed stays after an error.
	if a, page := b.get("/" + mine); a.StatusCode != http.StatusOK || !strings.Contains(page, "The work is complete") || strings.Contains(page, "no longer.</p>\n</main>") {
		t.Errorf("got %d: %s", a.StatusCode, page)
	}
	long := strings.Repeat("back with its owner ", 40)
	if a, page := b.send("/"+mine, url.Values{"reason": {long}}); a.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, strings.TrimSpace(long)) || !strings.Contains(page, "complete-reason-wrong") {
		t.Errorf("too long: got %d: %s", a.StatusCode, page)
	}
	a, page := b.send("/"+mine, url.Values{"reason": {"back with its owner"}})
	if a.StatusCode != http.StatusOK || !strings.Contains(page, "The work is complete") || !strings.Contains(page, "No vehicle is assigned to you") || strings.Contains(page, aldermoor.TourSerial) {
		t.Errorf("got %d: %s", a.StatusCode, page)
	}
	if a, _ := b.get("/" + mine); a.StatusCode != http.StatusNotFound {
		t.Errorf("afterwards it is still there: %d", a.StatusCode)
	}
	got, err := d.clients.Access.GetAssignment(d.ctx, &accessv1.GetAssignmentRequest{Name: mine})
	if err != nil || !got.GetEnd().GetComplete() || got.GetEnd().GetReason() != "back with its owner" || got.GetEnd().GetRecordedBy() != "ned" {
		t.Errorf("the record says %v, %v", got.GetEnd(), err)
	}
}
