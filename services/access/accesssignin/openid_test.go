package accesssignin_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"sync"
	"testing"
	"time"

	"github.com/go-jose/go-jose/v4"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesssignin"
)

// issuer is a small identity provider: discovery, keys, and tokens for codes,
// with PKCE checked as RFC 7636 section 4.6 has it.
type issuer struct {
	*httptest.Server
	t   *testing.T
	key *ecdsa.PrivateKey

	mu     sync.Mutex
	issued map[string]url.Values // what was asked for, by the code given for it
	forge  func(claims map[string]any)
	signer *ecdsa.PrivateKey // other than key where a test forges
	now    func() time.Time
}

func newIssuer(t *testing.T) *issuer {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	i := &issuer{t: t, key: key, signer: key, issued: map[string]url.Values{}}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /.well-known/openid-configuration", func(w http.ResponseWriter, _ *http.Request) {
		i.answer(w, map[string]any{
			"issuer": i.URL, "authorization_endpoint": i.URL + "/authorize", "token_endpoint": i.URL + "/token", "jwks_uri": i.URL + "/keys",
			"id_token_signing_alg_values_supported": []string{"ES256"}, "response_types_supported": []string{"code"}, "subject_types_supported": []string{"public"},
		})
	})
	mux.HandleFunc("GET /keys", func(w http.ResponseWriter, _ *http.Request) {
		i.answer(w, jose.JSONWebKeySet{Keys: []jose.JSONWebKey{{Key: key.Public(), KeyID: "one", Algorithm: "ES256", Use: "sig"}}})
	})
	mux.HandleFunc("POST /token", i.token)
	i.Server = httptest.NewServer(mux)
	t.Cleanup(i.Close)
	return i
}

func (i *issuer) answer(w http.ResponseWriter, what any) {
	w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(w).Encode(what); err != nil {
		i.t.Error(err)
	}
}

// token gives an identity token for a code, to who can show the verifier.
func (i *issuer) token(w http.ResponseWriter, r *http.Request) {
	i.mu.Lock()
	defer i.mu.Unlock()
	asked, ok := i.issued[r.FormValue("code")]
	delete(i.issued, r.FormValue("code"))
	sum := sha256.Sum256([]byte(r.FormValue("code_verifier")))
	client, secret, basic := r.BasicAuth()
	if !basic {
		client, secret = r.FormValue("client_id"), r.FormValue("client_secret")
	}
	if !ok || asked.Get("code_challenge_method") != "S256" || asked.Get("code_challenge") != base64.RawURLEncoding.EncodeToString(sum[:]) ||
		client != "halfshaft-desk" || secret != "client-secret" || r.FormValue("redirect_uri") != asked.Get("redirect_uri") {
		w.WriteHeader(http.StatusBadRequest)
		i.answer(w, map[string]any{"error": "invalid_grant"})
		return
	}
	claims := map[string]any{
		"iss": i.URL, "sub": "248289761001", "aud": "halfshaft-desk", "nonce": asked.Get("nonce"),
		"iat": i.now().Unix(), "exp": i.now().Add(5 * time.Minute).Unix(), "preferred_username": "ida",
	}
	if i.forge != nil {
		i.forge(claims)
	}
	signer, err := jose.NewSigner(jose.SigningKey{Algorithm: jose.ES256, Key: jose.JSONWebKey{Key: i.signer, KeyID: "one"}}, nil)
	if err != nil {
		i.t.Error(err)
		return
	}
	text, _ := json.Marshal(claims)
	signed, err := signer.Sign(text)
	if err != nil {
		i.t.Error(err)
		return
	}
	raw, _ := signed.CompactSerialize()
	i.answer(w, map[string]any{"access_token": "x", "token_type": "Bearer", "expires_in": 300, "id_token": raw})
}

// authorize is what a person's browser does at the provider: it comes back with
// the state and a code.
func (i *issuer) authorize(address string) (state, code string) {
	i.t.Helper()
	u, err := url.Parse(address)
	if err != nil || u.Path != "/authorize" {
		i.t.Fatalf("sent to %s", address)
	}
	q := u.Query()
	if q.Get("response_type") != "code" || q.Get("client_id") != "halfshaft-desk" || q.Get("nonce") == "" || q.Get("state") == "" ||
		q.Get("redirect_uri") != "https://desk.aldermoor.example/sign-in/openid/callback" {
		i.t.Fatalf("asked for %v", q)
	}
	i.mu.Lock()
	defer i.mu.Unlock()
	code = rand.Text()
	i.issued[code] = q
	return q.Get("state"), code
}

// withProvider is a house whose identity provider is i.
func withProvider(t *testing.T, change ...func(*accesssignin.Config)) (*house, *issuer) {
	i := newIssuer(t)
	h := open(t, append(change, func(c *accesssignin.Config) {
		c.OpenID = accesssignin.OpenID{Issuer: i.URL, Client: "halfshaft-desk", Secret: "client-secret", HTTP: i.Client()}
	})...)
	i.now = h.Now
	return h, i
}

// throughProvider signs in at the provider and comes back.
func throughProvider(h *house, i *issuer) (*accessv1.SessionGrant, error) {
	h.t.Helper()
	begun, err := h.BeginOpenIdSignIn(h.t.Context(), &accessv1.BeginOpenIdSignInRequest{})
	if err != nil {
		h.t.Fatal(err)
	}
	state, code := i.authorize(begun.GetRedirectUrl())
	return h.FinishOpenIdSignIn(h.t.Context(), &accessv1.FinishOpenIdSignInRequest{
		Ceremony: begun.GetCeremony(), State: state, Code: code, Network: "192.0.2.1",
	})
}

func TestTheWorksOwnSignInLetsInWhomItNames(t *testing.T) {
	h, i := withProvider(t)
	h.account("ida", access.Engineer)
	grant, err := throughProvider(h, i)
	if err != nil {
		t.Fatal(err)
	}
	found, err := h.CheckSession(t.Context(), &accessv1.CheckSessionRequest{Secret: grant.GetSecret()})
	if err != nil || found.GetAccount().GetName() != "accounts/ida" || found.GetAccount().GetRole() != accessv1.Role_ROLE_ENGINEER ||
		found.GetSession().GetWay() != accessv1.SignInWay_SIGN_IN_WAY_OPENID {
		t.Errorf("got %v, %v", found, err)
	}
	if _, err := throughProvider(h, i); err != nil {
		t.Errorf("a second time: %v", err)
	}
}

func TestWhatTheIdentityProviderMayNotSay(t *testing.T) {
	stranger, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		forge  func(map[string]any)
		signer *ecdsa.PrivateKey
	}{
		"another nonce":                 {forge: func(c map[string]any) { c["nonce"] = "another" }},
		"no nonce":                      {forge: func(c map[string]any) { delete(c, "nonce") }},
		"another audience":              {forge: func(c map[string]any) { c["aud"] = "somebody-else" }},
		"another issuer":                {forge: func(c map[string]any) { c["iss"] = "https://id.ferncombe.example" }},
		"a token that has ended":        {forge: func(c map[string]any) { c["exp"] = today.Add(-time.Second).Unix() }},
		"an unknown account":            {forge: func(c map[string]any) { c["preferred_username"] = "nobody" }},
		"a closed account":              {forge: func(c map[string]any) { c["preferred_username"] = "bert" }},
		"no name":                       {forge: func(c map[string]any) { delete(c, "preferred_username") }},
		"a name that is none":           {forge: func(c map[string]any) { c["preferred_username"] = "../ida" }},
		"a list of names":               {forge: func(c map[string]any) { c["preferred_username"] = []string{"ida"} }},
		"a token of a stranger's key":   {signer: stranger},
		"another who has the name now":  {forge: func(c map[string]any) { c["sub"], c["preferred_username"] = "another", "cora" }},
		"another issuer's same subject": {forge: func(c map[string]any) { c["iss"] = "https://id.ferncombe.example"; c["preferred_username"] = "cora" }},
	} {
		t.Run(name, func(t *testing.T) {
			h, i := withProvider(t)
			h.account("ida", access.Support)
			h.account("bert", access.Support)
			h.close("bert", true)
			h.account("cora", access.Support)
			i.forge = func(c map[string]any) { c["preferred_username"] = "cora" }
			if _, err := throughProvider(h, i); err != nil {
				t.Fatal(err) // cora is tied to the subject
			}
			i.forge, i.signer = c.forge, i.key
			if c.signer != nil {
				i.signer = c.signer
			}
			_, err := throughProvider(h, i)
			wantReason(t, name, err, "SIGN_IN_REFUSED")
			if _, err := h.GetSignInWays(t.Context(), &accessv1.GetSignInWaysRequest{Account: "accounts/nobody"}); err == nil {
				t.Error("an account came of it")
			}
		})
	}
}

func TestComingBackFromTheProviderCountsOnceAndForTheBrowserThatWent(t *testing.T) {
	h, i := withProvider(t)
	h.account("ida", access.Support)
	begin := func() *accessv1.Ceremony {
		begun, err := h.BeginOpenIdSignIn(t.Context(), &accessv1.BeginOpenIdSignInRequest{})
		if err != nil {
			t.Fatal(err)
		}
		return begun
	}
	finish := func(ceremony, state, code string) error {
		_, err := h.FinishOpenIdSignIn(t.Context(), &accessv1.FinishOpenIdSignInRequest{Ceremony: ceremony, State: state, Code: code})
		return err
	}
	// Somebody makes a browser come back with what they began themselves.
	theirs, mine := begin(), begin()
	state, code := i.authorize(theirs.GetRedirectUrl())
	wantReason(t, "with another browser's state", finish(mine.GetCeremony(), state, code), "CEREMONY_OVER")
	wantReason(t, "without a ceremony", finish("", state, code), "CEREMONY_OVER")
	// A code that was given for another challenge.
	mine = begin()
	state, _ = i.authorize(mine.GetRedirectUrl())
	wantReason(t, "with another browser's code", finish(mine.GetCeremony(), state, code), "SIGN_IN_REFUSED")
	mine = begin()
	state, code = i.authorize(mine.GetRedirectUrl())
	wantReason(t, "right", finish(mine.GetCeremony(), state, code), "")
	wantReason(t, "once more", finish(mine.GetCeremony(), state, code), "CEREMONY_OVER")
	mine = begin()
	state, code = i.authorize(mine.GetRedirectUrl())
	h.Move(5 * time.Minute)
	wantReason(t, "too late", finish(mine.GetCeremony(), state, code), "CEREMONY_OVER")
}

func TestAProviderThatDoesNotAnswerIsSaidSo(t *testing.T) {
	h, i := withProvider(t)
	i.Close()
	_, err := h.BeginOpenIdSignIn(t.Context(), &accessv1.BeginOpenIdSignInRequest{})
	wantReason(t, "a provider that is down", err, "OPENID_UNREACHABLE")
	none := open(t)
	_, err = none.BeginOpenIdSignIn(t.Context(), &accessv1.BeginOpenIdSignInRequest{})
	wantReason(t, "no provider", err, "NO_OPENID")
	offer, err := none.GetSignInOffer(t.Context(), &accessv1.GetSignInOfferRequest{})
	if err != nil || offer.GetOpenid() || !offer.GetPasskeys() {
		t.Errorf("got %v, %v", offer, err)
	}
}
