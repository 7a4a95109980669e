package accesssignin_test

import (
	"testing"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
)

// At many providers people choose the name that they are known by themselves:
// that of an administrator here, who has never been there, is not theirs.
func TestWhoTakesANameAtTheProviderDoesNotTakeTheAccount(t *testing.T) {
	h, i := withProvider(t)
	ida := h.staff("ida", access.Administrator)
	_, err := throughProvider(h, i)
	wantReason(t, "by the name of an account with a password", err, "SIGN_IN_REFUSED")
	// An account that the provider opened stays open by it, with a password beside.
	i.forge = func(c map[string]any) { c["sub"], c["preferred_username"] = "cora's", "cora" }
	h.account("cora", access.Support)
	grant, err := throughProvider(h, i)
	if err != nil {
		t.Fatal(err)
	}
	cora := &person{h: h, account: "accounts/cora", word: goodWord}
	cora.setUp(bySession(grant.GetSecret()))
	if grant, err = throughProvider(h, i); err != nil {
		t.Fatal(err)
	}
	// A way that is removed is removed, for whoever holds it at the provider.
	if _, err := h.RemoveSignInWay(t.Context(), &accessv1.RemoveSignInWayRequest{Account: cora.account, Session: grant.GetSecret(), Way: "openid"}); err != nil {
		t.Fatal(err)
	}
	_, err = throughProvider(h, i)
	wantReason(t, "by a way that was removed", err, "SIGN_IN_REFUSED")
	for _, p := range []*person{ida, cora} {
		p.in()
	}
}
