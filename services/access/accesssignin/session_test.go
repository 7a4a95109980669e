package accesssignin_test

import (
	"context"
	"strings"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
)

func TestASessionEndsOfItself(t *testing.T) {
	h := open(t)
	admin, support := h.staff("ida", access.Administrator), h.staff("bert", access.Support)
	h.Move(29 * time.Minute)
	wantReason(t, "an administrator's within half an hour", h.check(admin.session), "")
	h.Move(29 * time.Minute)
	wantReason(t, "half an hour after the use, not the sign-in", h.check(admin.session), "")
	h.Move(30 * time.Minute)
	wantReason(t, "an administrator's, idle", h.check(admin.session), "SESSION_OVER")
	wantReason(t, "support's, still good", h.check(support.session), "")
	for range 10 {
		h.Move(time.Hour)
		wantReason(t, "in use", h.check(support.session), "")
	}
	h.Move(time.Hour)
	wantReason(t, "after twelve hours though in use", h.check(support.session), "SESSION_OVER")
	if strings.Contains(h.everything(), "/access/sessions/") {
		t.Error("sessions that are over are kept")
	}
}

func TestASessionEndsAtSigningOut(t *testing.T) {
	h := open(t)
	p, other := h.staff("ida", access.Support), h.staff("bert", access.Support)
	end := func(account string) {
		if _, err := h.SignOut(t.Context(), &accessv1.SignOutRequest{Secret: p.session.GetSecret(), Account: account}); err != nil {
			t.Fatal(err)
		}
	}
	end(other.account)
	wantReason(t, "signed out in somebody else's name", h.check(p.session), "")
	end(p.account)
	wantReason(t, "signed out", h.check(p.session), "SESSION_OVER")
	end(p.account) // once more does no more
}

func TestASecretThatIsNoSessionsOpensNothing(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	id := strings.TrimPrefix(p.session.GetSession().GetName(), "sessions/")
	for name, secret := range map[string]string{
		"none": "", "its public name": id, "its name with the mark": "hss_" + id, "an invented one": "hss_" + strings.Repeat("0", 52),
	} {
		wantReason(t, name, h.check(&accessv1.SessionGrant{Secret: secret}), "SESSION_OVER")
	}
	if strings.Contains(h.everything(), p.session.GetSecret()[4:]) {
		t.Error("the secret stands in the store")
	}
}

func TestClosingAnAccountEndsItsSessionsForGood(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	h.close("ida", true)
	gone := func() bool { return !strings.Contains(h.everything(), "/access/sessions/") }
	within(t, gone)
	h.close("ida", false)
	wantReason(t, "opened again", h.check(p.session), "SESSION_OVER")
	p.in()
}

// within waits for what another goroutine does.
func within(t *testing.T, done func() bool) {
	t.Helper()
	limit, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	for !done() {
		if limit.Err() != nil {
			t.Fatal("it was not done in time")
		}
	}
}

func TestAnotherRoleCountsAtOnce(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	h.Move(time.Hour)
	a, revision := h.record("ida")
	a.Role = access.Administrator
	if _, err := h.doors.ReplaceAccount(t.Context(), a, revision, nil, "", nil); err != nil {
		t.Fatal(err)
	}
	wantReason(t, "an hour idle, as an administrator", h.check(p.session), "SESSION_OVER")
}

func TestSessionsAreListedAndEndedByName(t *testing.T) {
	h := open(t)
	p, other := h.staff("ida", access.Support), h.staff("bert", access.Support)
	second := p.in()
	list := func(parent string, size int32, token string) *accessv1.ListSessionsResponse {
		t.Helper()
		out, err := h.ListSessions(t.Context(), &accessv1.ListSessionsRequest{Parent: parent, PageSize: size, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	if got := list(p.account, 0, "").GetSessions(); len(got) != 2 {
		t.Errorf("got %v", got)
	}
	seen := map[string]bool{}
	for token, pages := "", 0; pages < 4; pages++ {
		out := list("accounts/-", 1, token)
		for _, s := range out.GetSessions() {
			seen[s.GetName()] = true
		}
		if token = out.GetNextPageToken(); token == "" {
			break
		}
	}
	if len(seen) != 3 {
		t.Errorf("in pages of one: %v", seen)
	}
	end := func(name, account string) error {
		_, err := h.EndSession(t.Context(), &accessv1.EndSessionRequest{Name: name, Account: account})
		return err
	}
	wantReason(t, "as somebody else's", end(second.GetSession().GetName(), other.account), "SESSION_NOT_FOUND")
	wantReason(t, "by the beginning of its name", end(second.GetSession().GetName()[:12], p.account), "INVALID_FIELD")
	wantReason(t, "one of all", end("sessions/", p.account), "INVALID_FIELD")
	wantReason(t, "right", end(second.GetSession().GetName(), p.account), "")
	wantReason(t, "once more", end(second.GetSession().GetName(), p.account), "SESSION_NOT_FOUND")
	wantReason(t, "the one ended", h.check(second), "SESSION_OVER")
	third := p.in()
	ended, err := h.EndSessions(t.Context(), &accessv1.EndSessionsRequest{Account: p.account, Except: third.GetSession().GetName()})
	if err != nil || ended.GetEnded() != 1 || h.check(third) != nil || h.check(p.session) == nil || h.check(other.session) != nil {
		t.Errorf("got %v, %v", ended, err)
	}
}

func TestHowOneSignsInIsChangedOnlyShortlyAfterSigningIn(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	h.Move(15 * time.Minute)
	_, err := h.BeginPasskey(t.Context(), &accessv1.BeginPasskeyRequest{Account: p.account, Proof: bySession(p.session.GetSecret())})
	wantReason(t, "a passkey", err, "SIGN_IN_AGAIN")
	_, err = h.CreateRecoveryCodes(t.Context(), &accessv1.CreateRecoveryCodesRequest{Account: p.account, Session: p.session.GetSecret()})
	wantReason(t, "recovery codes", err, "SIGN_IN_AGAIN")
	_, err = h.RemoveSignInWay(t.Context(), &accessv1.RemoveSignInWayRequest{Account: p.account, Session: p.session.GetSecret(), Way: "password"})
	wantReason(t, "removing", err, "SIGN_IN_AGAIN")
	fresh := p.in()
	_, err = h.RemoveSignInWay(t.Context(), &accessv1.RemoveSignInWayRequest{Account: p.account, Session: fresh.GetSecret(), Way: "password"})
	wantReason(t, "the last way", err, "LAST_WAY")
	_, err = h.RemoveSignInWay(t.Context(), &accessv1.RemoveSignInWayRequest{Account: p.account, Session: fresh.GetSecret(), Way: "passkey-x"})
	wantReason(t, "a way that is not there", err, "WAY_NOT_FOUND")
	if _, err := h.BeginPasskey(t.Context(), &accessv1.BeginPasskeyRequest{Account: p.account, Proof: bySession(fresh.GetSecret())}); err != nil {
		t.Errorf("a passkey, fresh: %v", err)
	}
	// A new password with a new authenticator ends every other session.
	other := p.in()
	p.setUp(bySession(other.GetSecret()))
	wantReason(t, "the other", h.check(fresh), "SESSION_OVER")
	wantReason(t, "the own", h.check(other), "")
}

func TestWhatIsOverIsForgotten(t *testing.T) {
	h := open(t)
	p := h.staff("ida", access.Support)
	h.invite(h.account("bert", access.Support))
	for range 3 {
		if _, err := h.BeginPasskeySignIn(t.Context(), &accessv1.BeginPasskeySignInRequest{}); err != nil {
			t.Fatal(err)
		}
	}
	_, err := h.SignIn(t.Context(), &accessv1.SignInRequest{Account: "accounts/x", Password: "x", Code: "x", Network: "192.0.2.9"})
	wantReason(t, "a guess", err, "SIGN_IN_REFUSED")
	h.Move(80 * time.Hour)
	p.in()
	everything := h.everything()
	for _, kind := range []string{"ceremonies/", "invitations/", "invitation-digests/"} {
		if strings.Contains(everything, "/access/"+kind) {
			t.Errorf("%s are kept", kind)
		}
	}
	if n := strings.Count(everything, "/access/sessions/"); n != 1 {
		t.Errorf("%d sessions are kept", n)
	}
}
