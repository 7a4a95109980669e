package works_test

import (
	"net/http"
	"strings"
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

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
