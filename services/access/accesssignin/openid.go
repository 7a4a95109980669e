package accesssignin

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"fmt"
	"sync"
	"time"

	"github.com/coreos/go-oidc/v3/oidc"
	"golang.org/x/oauth2"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/signin"
	"halfshaft/services/fault"
)

// OpenIDPath is where the identity provider sends browsers back to.
const OpenIDPath = "/sign-in/openid/callback"

// provider is the works' identity provider, found when it is first needed: it
// may start later than we do.
type provider struct {
	mu    sync.Mutex
	found *oidc.Provider
}

// openidPatience bounds a question to the identity provider.
const openidPatience = 10 * time.Second

func (s *Service) hasOpenID() bool { return s.OpenID.Issuer != "" && s.URL != "" }

// ask gives the context of a question to the identity provider.
func (s *Service) ask(ctx context.Context) (context.Context, context.CancelFunc) {
	if s.OpenID.HTTP != nil {
		ctx = oidc.ClientContext(ctx, s.OpenID.HTTP)
	}
	return context.WithTimeout(ctx, openidPatience)
}

// discover finds the provider's endpoints and keys.
func (s *Service) discover(ctx context.Context) (*oidc.Provider, *oauth2.Config, error) {
	if !s.hasOpenID() {
		return nil, nil, fault.New(fault.FailedPrecondition, "NO_OPENID", "This works has no identity provider: see --openid-issuer.")
	}
	s.provider.mu.Lock()
	defer s.provider.mu.Unlock()
	if s.provider.found == nil {
		// It keeps the client of the context for later questions, not its end.
		found, err := oidc.NewProvider(ctx, s.OpenID.Issuer)
		if err != nil {
			return nil, nil, s.unreachable(err)
		}
		s.provider.found = found
	}
	return s.provider.found, &oauth2.Config{
		ClientID: s.OpenID.Client, ClientSecret: s.OpenID.Secret, Endpoint: s.provider.found.Endpoint(),
		RedirectURL: s.URL + OpenIDPath, Scopes: []string{oidc.ScopeOpenID, "profile"},
	}, nil
}

func (s *Service) unreachable(err error) error {
	s.Logger.Warn("the identity provider does not answer as it should", "error", err)
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "OPENID_UNREACHABLE", RetryAfter: openidPatience, Cause: err,
		Message: "The works' identity provider does not answer. Try again, or sign in another way.",
	}
}

// BeginOpenIdSignIn implements the SignInService.
func (s *Service) BeginOpenIdSignIn(ctx context.Context, _ *accessv1.BeginOpenIdSignInRequest) (*accessv1.Ceremony, error) {
	s.sweep(ctx)
	asking, cancel := s.ask(ctx)
	defer cancel()
	_, config, err := s.discover(asking)
	if err != nil {
		return nil, err
	}
	c := &accessv1.CeremonyRecord{
		Kind: accessv1.CeremonyKind_CEREMONY_KIND_OPENID_SIGN_IN, State: rand.Text(), Nonce: rand.Text(), Verifier: oauth2.GenerateVerifier(),
	}
	begun, err := s.strangersBegin(ctx, c)
	if err != nil {
		return nil, err
	}
	begun.RedirectUrl = config.AuthCodeURL(c.State, oidc.Nonce(c.Nonce), oauth2.S256ChallengeOption(c.Verifier))
	return begun, nil
}

// FinishOpenIdSignIn implements the SignInService.
func (s *Service) FinishOpenIdSignIn(ctx context.Context, r *accessv1.FinishOpenIdSignInRequest) (*accessv1.SessionGrant, error) {
	network, err := networkOf(r.GetNetwork())
	if err != nil {
		return nil, err
	}
	grant, about, err := s.finishOpenID(ctx, r, network)
	if err != nil {
		s.notLetIn(ctx, "FinishOpenIdSignIn", about, network, err)
		return nil, err
	}
	return grant, nil
}

// finishOpenID gives also which account it was about, where the provider names
// one that is there.
func (s *Service) finishOpenID(ctx context.Context, r *accessv1.FinishOpenIdSignInRequest, network string) (grant *accessv1.SessionGrant, about string, err error) {
	a, err := s.attempt(ctx, "", network)
	if err != nil {
		return nil, "", err
	}
	c, err := s.useUp(ctx, r.GetCeremony(), accessv1.CeremonyKind_CEREMONY_KIND_OPENID_SIGN_IN)
	if err != nil {
		return nil, "", err
	}
	if subtle.ConstantTimeCompare([]byte(c.GetState()), []byte(r.GetState())) != 1 {
		return nil, "", signin.CeremonyOver()
	}
	token, err := s.identity(ctx, c, r.GetCode())
	if err != nil {
		return nil, "", err
	}
	if err := again(func() (err error) {
		grant, about, err = s.openidSignIn(ctx, token, network)
		return err
	}); err != nil {
		return nil, about, err
	}
	s.noFailure(ctx, a)
	return grant, about, nil
}

// identity fetches who somebody is and checks it: signature, issuer, audience,
// end and nonce.
func (s *Service) identity(ctx context.Context, c *ceremony, code string) (*oidc.IDToken, error) {
	ctx, cancel := s.ask(ctx)
	defer cancel()
	found, config, err := s.discover(ctx)
	if err != nil {
		return nil, err
	}
	tokens, err := config.Exchange(ctx, code, oauth2.VerifierOption(c.GetVerifier()))
	if err != nil {
		return nil, s.notBelieved("the code was not taken")
	}
	raw, ok := tokens.Extra("id_token").(string)
	if !ok {
		return nil, s.notBelieved("there was no identity token")
	}
	token, err := found.VerifierContext(ctx, &oidc.Config{ClientID: s.OpenID.Client, Now: s.now}).Verify(ctx, raw)
	if err != nil {
		return nil, s.notBelieved("the identity token is not good")
	}
	if subtle.ConstantTimeCompare([]byte(token.Nonce), []byte(c.GetNonce())) != 1 {
		return nil, s.notBelieved("the identity token is not for this sign-in")
	}
	return token, nil
}

func (s *Service) notBelieved(why string) error {
	s.Logger.Warn("an identity provider's answer was refused", "reason", why)
	return signin.Refused()
}

// openidSignIn lets in whom the provider names, where there is such an account.
// The first time, the account is tied to the provider's own identifier of them,
// which is never given to somebody else, as names are. That is so only for an
// account without any other way in: at many providers people choose their names
// themselves, and whoever took an administrator's must not take the account; nor
// must one who was shut out come back by the way that was removed.
func (s *Service) openidSignIn(ctx context.Context, token *oidc.IDToken, network string) (grant *accessv1.SessionGrant, about string, err error) {
	var claims map[string]any
	if err := token.Claims(&claims); err != nil {
		return nil, "", s.notBelieved("the claims cannot be read")
	}
	id, _ := claims[s.OpenID.Claim].(string)
	if !access.ValidAccountID(id) {
		return nil, "", s.notBelieved(fmt.Sprintf("the claim %s names no account", s.OpenID.Claim))
	}
	h, err := s.Store.Holder(ctx, id)
	if err != nil {
		return nil, "", err
	}
	if h == nil {
		return nil, "", signin.Refused()
	}
	about = h.Name()
	if !h.Admitted {
		return nil, about, signin.Refused()
	}
	record, revision, err := s.Store.Credentials(ctx, h.ID)
	if err != nil {
		return nil, about, err
	}
	if record.GetOpenidSubject() != "" && (record.GetOpenidSubject() != token.Subject || record.GetOpenidIssuer() != token.Issuer) {
		return nil, about, s.notBelieved("the name belongs to somebody else by now")
	}
	if record.GetOpenidSubject() == "" && len(accessstore.WaysOf(record)) > 0 {
		return nil, about, s.notBelieved("the account has other ways in, and is tied to nobody at the provider")
	}
	record.OpenidIssuer, record.OpenidSubject = token.Issuer, token.Subject
	record.LastSignInTime = timestamppb.New(s.now())
	txn := s.Store.Begin().PutCredentials(h.ID, record, revision)
	if grant, err = s.open(txn, h, accessv1.SignInWay_SIGN_IN_WAY_OPENID, network); err != nil {
		return nil, about, err
	}
	_, err = s.Store.Commit(s.witnessed(ctx, s.by("FinishOpenIdSignIn", h, grant.GetSession().GetName(), network)), txn)
	return grant, about, err
}
