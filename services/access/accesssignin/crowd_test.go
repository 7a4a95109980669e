package accesssignin_test

import (
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesssignin"
)

// Anybody may begin to sign in, from as many addresses as they have.
func TestWhoBeginsToSignInDoesNotFillTheStore(t *testing.T) {
	h, _ := withProvider(t, func(c *accesssignin.Config) { c.Ceremonies = 3 })
	begin := func() error {
		_, err := h.BeginPasskeySignIn(t.Context(), &accessv1.BeginPasskeySignInRequest{})
		return err
	}
	for range 3 {
		if err := begin(); err != nil {
			t.Fatal(err)
		}
	}
	if f := wantReason(t, "one too many", begin(), "SIGN_IN_TOO_MANY"); f == nil || f.RetryAfter <= 0 {
		t.Errorf("it is not said when to come back: %v", f)
	}
	_, err := h.BeginOpenIdSignIn(t.Context(), &accessv1.BeginOpenIdSignInRequest{})
	wantReason(t, "by the provider", err, "SIGN_IN_TOO_MANY")
	// Whoever has an invitation or a password is not kept out.
	h.staff("ida", access.Administrator).in()
	// What is over makes room, before the next sweep would come.
	h.Move(6 * time.Minute)
	wantReason(t, "when they are over", begin(), "SIGN_IN_TOO_MANY")
	if err := begin(); err != nil {
		t.Errorf("after that: %v", err)
	}
}
