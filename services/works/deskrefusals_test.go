package works_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	deskpages "halfshaft/services/desk"
	"halfshaft/services/internal/racetest"
	"halfshaft/testdata/aldermoor"
)

// Each refusal is a line of the audit, which is read to find who tries what they
// may not: opening pages that are theirs leaves nobody such a line. Pages that hang
// on more than the vehicle are opened where others lead to them.
func TestOpeningOnesOwnPagesIsRefusedNowhere(t *testing.T) {
	racetest.Skip(t, "one page is opened after the other")
	data := t.TempDir()
	layDemo(t, data)
	d := openDeskOver(t, data)
	d.dealers("ferncombe")
	d.assigned(aldermoor.TourSerial, "ferncombe", "a service")
	for id, role := range map[string]accessv1.Role{"bert": accessv1.Role_ROLE_SUPPORT, "cora": accessv1.Role_ROLE_ENGINEER, "ida": accessv1.Role_ROLE_ADMINISTRATOR, "ned": accessv1.Role_ROLE_DEALER} {
		b, _ := d.admitted(id, role)
		name := strings.ToLower(strings.TrimPrefix(role.String(), "ROLE_"))
		for _, path := range pagesOf(name) {
			switch a, _ := b.get(path); a.StatusCode {
			case http.StatusOK, http.StatusConflict, http.StatusUnprocessableEntity: // no book is there, or nothing is said to compare
			default:
				t.Errorf("%s opens %s: %d", name, path, a.StatusCode)
			}
		}
	}
	last, _ := d.admitted("lil", accessv1.Role_ROLE_DEALER)
	last.get("/vehicles/AM0147P") // is not with them: the line of this is the last
	for _, line := range d.refusalsUntil("lil") {
		t.Errorf("refused: %s", line)
	}
}

// pagesOf are the pages that somebody may open, as far as the vehicle alone says
// which.
func pagesOf(name string) (paths []string) {
	for _, r := range deskpages.Routes() {
		method, path, _ := strings.Cut(r.Pattern, " ")
		path = strings.NewReplacer("{$}", "", "{serial}", aldermoor.TourSerial, "{person}", "p0001").Replace(path)
		if method == http.MethodGet && r.Who != deskpages.Anybody && opens(r.Who, name) && !strings.Contains(path, "{") && path != "/audit/history" {
			paths = append(paths, path)
		}
	}
	if name != "dealer" {
		for _, said := range []string{"Harrowgate", "swivel seal", "AM0147Q"} {
			paths = append(paths, "/find?q="+url.QueryEscape(said))
		}
	}
	return paths
}

// refusalsUntil gives what was refused before somebody was refused something.
func (d *deskWorld) refusalsUntil(actor string) (before []string) {
	d.t.Helper()
	for {
		list, err := d.clients.Audit.ListAuditLines(d.ctx, &accessv1.ListAuditLinesRequest{PageSize: 500, Outcomes: []accessv1.AuditOutcome{accessv1.AuditOutcome_AUDIT_OUTCOME_REFUSED}})
		if err != nil {
			d.t.Fatal(err)
		}
		before = nil
		for _, l := range list.GetLines() {
			if l.GetActor() == actor {
				return before
			}
			before = append(before, l.GetActor()+" "+l.GetMethod()+" "+l.GetErrorReason())
		}
		if d.t.Context().Err() != nil {
			d.t.Fatalf("of %s there is none; before that %q", actor, before)
		}
	}
}
