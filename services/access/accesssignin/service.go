// Package accesssignin serves the pages at which people who have an account
// sign in: invitations, passkeys, passwords with codes, the works' identity
// provider, and the sessions that come of them.
//
// Everything that decides is read from etcd for each request, so that any
// number of processes may serve side by side, and a restart forgets neither a
// session nor a failed attempt.
package accesssignin

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"
	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/signin"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/onetime"
	"halfshaft/services/internal/password"
)

// Config is what the service needs.
type Config struct {
	Store    *accessstore.SignIns
	Key      *onetime.Key
	Hasher   *password.Hasher
	Works    string   // name of the works: passkeys and authenticators show it
	URL      string   // where the pages are reached: "https://desk.aldermoor.example"; empty: no passkeys and no identity provider
	Recorder Recorder // nil: no audit is kept
	// Ceremonies is how many may be under way at once; 0 is 20,000.
	Ceremonies int64
	OpenID     OpenID // the works' identity provider; without an issuer there is none
	Clock      func() time.Time
	Logger     *slog.Logger
}

// OpenID is the works' identity provider (OpenID Connect).
type OpenID struct {
	Issuer string
	Client string // our client id there
	Secret string
	Claim  string // whose value is an account's identifier; empty is "preferred_username"
	HTTP   *http.Client
}

// Service implements the SignInService.
type Service struct {
	accessv1.UnimplementedSignInServiceServer
	Config
	passkeys *webauthn.WebAuthn // nil without an address
	provider provider

	swept  atomic.Int64 // Unix second of the last sweep
	stop   context.CancelFunc
	ending sync.WaitGroup
}

// New makes the service.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Works == "" {
		c.Works = "halfshaft"
	}
	if c.OpenID.Claim == "" {
		c.OpenID.Claim = "preferred_username"
	}
	if c.Ceremonies == 0 {
		c.Ceremonies = mostCeremonies
	}
	s := &Service{Config: c}
	if c.URL != "" {
		if err := s.reachedAt(c.URL); err != nil {
			return nil, err
		}
	}
	ctx, s.stop = context.WithCancel(ctx)
	s.ending.Go(func() { s.endClosed(ctx) })
	return s, nil
}

// reachedAt prepares what is bound to the address of the pages.
func (s *Service) reachedAt(address string) error {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" || u.Scheme != "https" && u.Scheme != "http" || strings.Trim(u.Path, "/") != "" {
		return fault.InvalidField("desk-url", address, "an address without a path, as in https://desk.aldermoor.example")
	}
	s.URL = u.Scheme + "://" + u.Host
	s.passkeys, err = webauthn.New(&webauthn.Config{
		RPID: u.Hostname(), RPDisplayName: s.Works, RPOrigins: []string{s.URL},
		AttestationPreference: protocol.PreferNoAttestation,
		AuthenticatorSelection: protocol.AuthenticatorSelection{
			ResidentKey: protocol.ResidentKeyRequirementRequired, UserVerification: protocol.VerificationRequired,
		},
	})
	if err != nil {
		return fmt.Errorf("prepare passkeys for %s: %w", s.URL, err)
	}
	return nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	accessv1.RegisterSignInServiceServer(r, s)
}

// Ready implements the readiness of every service: this one follows nobody.
func (s *Service) Ready(context.Context) error { return nil }

// Close ends what goes on beside the requests.
func (s *Service) Close() error {
	s.stop()
	s.ending.Wait()
	return nil
}

// now is the present to the microsecond, in UTC, as it is stored.
func (s *Service) now() time.Time { return s.Clock().UTC().Truncate(time.Microsecond) }

// aside gives a context for what is written on the way and is not the effect
// of a call: attempts, first steps, the use of a session. The audit's line goes
// with the effect.
func aside(ctx context.Context) context.Context { return kv.WithWitness(ctx, nil) }

// tries is how often something is decided anew when what it rested on changed
// meanwhile.
const tries = 4

// again decides once more when a transaction finds that something changed since
// it was read. f reads everything anew.
func again(f func() error) error {
	var err error
	for range tries {
		if err = f(); !fault.Is(err, fault.Aborted) {
			return err
		}
	}
	return err
}

// holder gives an account that is there.
func (s *Service) holder(ctx context.Context, field, name string) (*accessstore.Holder, error) {
	id, err := accesswire.AccountID(field, name)
	if err != nil {
		return nil, err
	}
	h, err := s.Store.Holder(ctx, id)
	if err == nil && h == nil {
		err = access.NoAccount(id)
	}
	return h, err
}

// sweepEvery is how often what is over is forgotten.
const sweepEvery = 10 * time.Minute

// sweepInNeed is how often it is, at the most, where there is no room for more.
const sweepInNeed = 10 * time.Second

// sweep forgets what is over, now and then.
func (s *Service) sweep(ctx context.Context) { s.sweepAfter(ctx, sweepEvery) }

// sweepAfter forgets what is over, unless it was so short a while ago.
func (s *Service) sweepAfter(ctx context.Context, every time.Duration) {
	now, last := s.now(), s.swept.Load()
	if now.Unix()-last < int64(every/time.Second) || !s.swept.CompareAndSwap(last, now.Unix()) {
		return
	}
	if _, err := s.Store.Sweep(aside(ctx), accessstore.Swept{
		Now: now, SessionsFrom: now.Add(-signin.Longest), AttemptsFrom: now.Add(-signin.ForgetAfter),
	}); err != nil {
		s.Logger.Warn("what is over of signing in could not be forgotten", "error", err)
	}
}

// retryPause is how long a loop waits for a store that does not answer.
const retryPause = time.Second

// endClosed ends the sessions and the invitation of accounts that are closed,
// so that opening them again later does not bring those back.
func (s *Service) endClosed(ctx context.Context) {
	closed := func(account string) {
		if _, err := s.endAll(ctx, account, ""); err != nil && ctx.Err() == nil {
			s.Logger.Warn("the sessions of a closed account could not be ended", "error", err)
		}
		if i, revision, err := s.Store.InvitationOf(ctx, account); err == nil && revision != 0 {
			s.Store.Commit(ctx, s.Store.Begin().UseInvitation(account, i, revision)) //nolint:errcheck // somebody else was first
		}
	}
	for ctx.Err() == nil {
		err := s.Store.FollowClosings(ctx, closed)
		if ctx.Err() != nil {
			return
		}
		s.Logger.Warn("closed accounts are not followed", "error", err)
		select {
		case <-ctx.Done():
		case <-time.After(retryPause):
		}
	}
}
