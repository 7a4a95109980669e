package works_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
)

// A session that was carried off is over after a while. It must not be good for
// making another way in that is not.
func TestWhoLetsSomebodyInSignedInShortlyBefore(t *testing.T) {
	d := openDesk(t)
	b, _ := d.admitted("ida", accessv1.Role_ROLE_ADMINISTRATOR)
	d.invited("dora", "Dora Penhallow", accessv1.Role_ROLE_SUPPORT)
	made, err := d.clients.Access.CreateKey(d.ctx, &accessv1.CreateKeyRequest{Key: &accessv1.Key{Title: "bench", Role: accessv1.Role_ROLE_ENGINEER, Bearer: "bench 2"}})
	if err != nil {
		t.Fatal(err)
	}
	etag := func() string {
		t.Helper()
		a, err := d.clients.Access.GetAccount(d.ctx, &accessv1.GetAccountRequest{Name: "accounts/dora"})
		if err != nil {
			t.Fatal(err)
		}
		return a.GetEtag()
	}
	forms := []struct {
		path string
		sent func() url.Values
		next string
	}{
		{"/accounts/ida/invite", func() url.Values { return url.Values{} }, "/accounts/ida"},
		{"/accounts/dora", func() url.Values {
			return url.Values{"account.full_name": {"Dora Penhallow"}, "account.role": {"administrator"}, "etag": {etag()}}
		}, "/accounts/dora"},
		{"/keys", func() url.Values {
			return url.Values{"key.title": {"mine"}, "key.role": {"administrator"}, "key.bearer": {"ida"}}
		}, "/keys"},
		{"/" + made.GetKey().GetName() + "/rotate", func() url.Values { return url.Values{"etag": {made.GetKey().GetEtag()}} }, "/keys"},
	}
	d.Move(16 * time.Minute)
	for _, f := range forms {
		a, page := b.send(f.path, f.sent())
		if a.StatusCode != http.StatusForbidden || !strings.Contains(page, "Sign in again first") || !strings.Contains(page, url.QueryEscape(f.next)) ||
			strings.Contains(page, "hsk_") || strings.Contains(page, "hsi_") {
			t.Errorf("%s: got %d: %s", f.path, a.StatusCode, page)
		}
	}
	// What shuts somebody out waits for nothing; letting them in again does.
	a, page := b.send("/accounts/dora/close", url.Values{"etag": {etag()}, "closed": {"yes"}})
	if a.StatusCode != http.StatusOK || !strings.Contains(page, "It is closed.") {
		t.Errorf("closing: got %d: %s", a.StatusCode, page)
	}
	if a, page = b.send("/accounts/dora/close", url.Values{"etag": {etag()}}); a.StatusCode != http.StatusForbidden {
		t.Errorf("opening again: got %d: %s", a.StatusCode, page)
	}
	if got, err := d.clients.Access.GetAccount(d.ctx, &accessv1.GetAccountRequest{Name: "accounts/dora"}); err != nil ||
		got.GetRole() != accessv1.Role_ROLE_SUPPORT || got.GetCloseTime() == nil {
		t.Errorf("the account is %v, %v", got, err)
	}
}
