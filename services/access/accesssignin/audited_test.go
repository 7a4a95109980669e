package accesssignin_test

import (
	"encoding/base64"
	"encoding/json"
	"slices"
	"sync"
	"testing"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesssignin"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/audit"
	"halfshaft/services/internal/kv"
)

// notebook is a recorder that remembers.
type notebook struct {
	mu    sync.Mutex
	noted []audit.Line
}

func (n *notebook) Witness(l audit.Line) *kv.Witness {
	return kv.NewWitness("/halfshaft/v1/audit/pending/"+kv.NewID(), []byte(l.Text()))
}

func (n *notebook) Note(l audit.Line) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.noted = append(n.noted, l)
}

// refused wants one line of a refusal about an account, from 192.0.2.9.
func (n *notebook) refused(t *testing.T, what, method, account string) {
	t.Helper()
	n.mu.Lock()
	defer n.mu.Unlock()
	lines := n.noted
	n.noted = nil
	var about []string
	if account != "" {
		about = []string{account}
	}
	if len(lines) != 1 || lines[0].Method != "/halfshaft.access.v1.SignInService/"+method || lines[0].Outcome != audit.Refused ||
		!slices.Equal(lines[0].Objects, about) || lines[0].Network != "192.0.2.9" {
		t.Errorf("%s: noted %+v, want one refusal about %q", what, lines, account)
	}
}

func TestARefusedPasskeyIsAboutTheAccountThatItNames(t *testing.T) {
	notes := &notebook{}
	h := open(t, func(c *accesssignin.Config) { c.Recorder = notes })
	h.staff("ida", access.Support)
	kept, err := accessstore.OpenSignIns(t.Context(), h.kv, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer kept.Close()
	record, _, err := kept.Credentials(t.Context(), "ida")
	if err != nil || len(record.GetHandle()) == 0 {
		t.Fatalf("%v, %v", record, err)
	}
	for what, c := range map[string]struct {
		handle  []byte
		account string
	}{"somebody's": {record.GetHandle(), "accounts/ida"}, "nobody's": {make([]byte, 64), ""}} {
		begun, err := h.BeginPasskeySignIn(t.Context(), &accessv1.BeginPasskeySignInRequest{})
		if err != nil {
			t.Fatal(err)
		}
		_, err = h.FinishPasskeySignIn(t.Context(), &accessv1.FinishPasskeySignInRequest{
			Ceremony: begun.GetCeremony(), ResponseJson: forgedPasskey(t, c.handle), Network: "192.0.2.9",
		})
		wantReason(t, what, err, "SIGN_IN_REFUSED")
		notes.refused(t, what, "FinishPasskeySignIn", c.account)
	}
}

// forgedPasskey is what a browser would say, without the key to sign it with.
func forgedPasskey(t *testing.T, handle []byte) string {
	t.Helper()
	b64 := base64.RawURLEncoding.EncodeToString
	said, err := json.Marshal(map[string]any{
		"id": b64([]byte("forged")), "rawId": b64([]byte("forged")), "type": "public-key",
		"response": map[string]any{
			"clientDataJSON":    b64([]byte(`{"type":"webauthn.get","challenge":"AAAA","origin":"https://desk.aldermoor.example"}`)),
			"authenticatorData": b64(append(make([]byte, 32), 5, 0, 0, 0, 1)), "signature": b64([]byte("none")), "userHandle": b64(handle),
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	return string(said)
}

func TestARefusedOpenIDSignInIsAboutTheAccountThatTheProviderNames(t *testing.T) {
	notes := &notebook{}
	h, i := withProvider(t, func(c *accesssignin.Config) { c.Recorder = notes })
	h.account("ida", access.Support)
	h.close("ida", true)
	for what, c := range map[string]struct{ claimed, account string }{"a closed account": {"ida", "accounts/ida"}, "no account": {"dora", ""}} {
		i.forge = func(claims map[string]any) { claims["preferred_username"] = c.claimed }
		begun, err := h.BeginOpenIdSignIn(t.Context(), &accessv1.BeginOpenIdSignInRequest{})
		if err != nil {
			t.Fatal(err)
		}
		state, code := i.authorize(begun.GetRedirectUrl())
		_, err = h.FinishOpenIdSignIn(t.Context(), &accessv1.FinishOpenIdSignInRequest{Ceremony: begun.GetCeremony(), State: state, Code: code, Network: "192.0.2.9"})
		wantReason(t, what, err, "SIGN_IN_REFUSED")
		notes.refused(t, what, "FinishOpenIdSignIn", c.account)
	}
}

func TestARefusalBeforeAnAttemptIsLookedAtIsAboutTheAccountToo(t *testing.T) {
	notes := &notebook{}
	h := open(t, func(c *accesssignin.Config) { c.Recorder = notes })
	p := h.staff("ida", access.Support)
	h.Move(time.Minute)
	var err error
	for range 12 {
		if _, err = h.SignIn(t.Context(), &accessv1.SignInRequest{Account: p.account, Password: "wrong", Code: "000000", Network: "192.0.2.9"}); err == nil {
			t.Fatal("let in")
		}
	}
	wantReason(t, "the twelfth", err, "SIGN_IN_TOO_OFTEN")
	notes.mu.Lock()
	notes.noted = notes.noted[len(notes.noted)-1:]
	notes.mu.Unlock()
	notes.refused(t, "too often", "SignIn", "accounts/ida")
}

// Whoever calls with a service's key cannot end somebody's sessions, or say
// that it was they who did.
func TestPagesEndSessionsOnlyForWhoShowsOne(t *testing.T) {
	h := open(t)
	p, other := h.staff("ida", access.Support), h.staff("bert", access.Support)
	pages := access.NewContext(t.Context(), access.Caller{Role: access.Service, Bearer: "desk"})
	name := p.session.GetSession().GetName()
	for _, secret := range []string{"", "none", other.session.GetSecret()} {
		_, err := h.EndSession(pages, &accessv1.EndSessionRequest{Name: name, Account: p.account, Session: secret})
		wantReason(t, "one", err, "SESSION_OVER")
		_, err = h.EndSessions(pages, &accessv1.EndSessionsRequest{Account: p.account, Session: secret})
		wantReason(t, "all", err, "SESSION_OVER")
	}
	if err := h.check(p.session); err != nil {
		t.Error(err)
	}
	admin := access.NewContext(t.Context(), access.Caller{Role: access.Administrator, Bearer: "cora"})
	if _, err := h.EndSessions(admin, &accessv1.EndSessionsRequest{Account: p.account}); err != nil {
		t.Error(err)
	}
	wantReason(t, "after its end", h.check(p.session), "SESSION_OVER")
}

func TestWhatIsNoNetworkIsRefusedBeforeAnythingIsDone(t *testing.T) {
	notes := &notebook{}
	h := open(t, func(c *accesssignin.Config) { c.Recorder = notes })
	p := h.staff("ida", access.Support)
	h.Move(time.Minute)
	const bad = `192.0.2.1","actor":"bert`
	session := p.session.GetSecret()
	before := h.everything()
	for what, call := range map[string]func() error{
		"SignIn": func() error {
			_, err := h.SignIn(t.Context(), &accessv1.SignInRequest{Account: p.account, Password: p.word, Code: p.code(), Network: bad})
			return err
		},
		"FinishPasskeySignIn": func() error {
			_, err := h.FinishPasskeySignIn(t.Context(), &accessv1.FinishPasskeySignInRequest{Network: bad})
			return err
		},
		"FinishOpenIdSignIn": func() error {
			_, err := h.FinishOpenIdSignIn(t.Context(), &accessv1.FinishOpenIdSignInRequest{Network: bad})
			return err
		},
		"SignOut": func() error {
			_, err := h.SignOut(t.Context(), &accessv1.SignOutRequest{Account: p.account, Secret: session, Network: bad})
			return err
		},
		"FinishPasskey": func() error {
			_, err := h.FinishPasskey(t.Context(), &accessv1.FinishPasskeyRequest{Account: p.account, Network: bad})
			return err
		},
		"FinishPassword": func() error {
			_, err := h.FinishPassword(t.Context(), &accessv1.FinishPasswordRequest{Account: p.account, Network: bad})
			return err
		},
		"ChangePassword": func() error {
			_, err := h.ChangePassword(t.Context(), &accessv1.ChangePasswordRequest{Account: p.account, Session: session, Current: p.word, Password: "nine valves on a tray", Network: bad})
			return err
		},
		"CreateRecoveryCodes": func() error {
			_, err := h.CreateRecoveryCodes(t.Context(), &accessv1.CreateRecoveryCodesRequest{Account: p.account, Session: session, Network: bad})
			return err
		},
		"RemoveSignInWay": func() error {
			_, err := h.RemoveSignInWay(t.Context(), &accessv1.RemoveSignInWayRequest{Account: p.account, Session: session, Way: "password", Network: bad})
			return err
		},
		"EndSession": func() error {
			_, err := h.EndSession(t.Context(), &accessv1.EndSessionRequest{Name: p.session.GetSession().GetName(), Account: p.account, Network: bad})
			return err
		},
		"EndSessions": func() error {
			_, err := h.EndSessions(t.Context(), &accessv1.EndSessionsRequest{Account: p.account, Network: bad})
			return err
		},
	} {
		f := wantReason(t, what, call(), "INVALID_FIELD")
		if f == nil || len(f.Fields) != 1 || f.Fields[0].Name != "network" || f.Fields[0].Want == "" {
			t.Errorf("%s: got %v", what, f)
		}
	}
	if h.everything() != before || len(notes.noted) > 0 {
		t.Errorf("something was done, or noted: %+v", notes.noted)
	}
}
