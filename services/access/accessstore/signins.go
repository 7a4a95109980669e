package accessstore

import (
	"context"
	"crypto/subtle"
	"encoding/hex"
	"fmt"
	"iter"
	"log/slog"
	"strings"
	"sync"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle/vehiclewire"
)

// Keys of signing in:
//
//	/halfshaft/v1/access/credentials/<account>/record   halfshaft.access.v1.CredentialRecord
//	/halfshaft/v1/access/passkey-handles/<hex>          identifier of the account whose passkeys have the handle
//	/halfshaft/v1/access/sessions/<sha-256>             halfshaft.access.v1.SessionRecord, under its secret's digest
//	/halfshaft/v1/access/invitations/<account>          halfshaft.access.v1.InvitationRecord
//	/halfshaft/v1/access/invitation-digests/<sha-256>   identifier of the account invited
//	/halfshaft/v1/access/ceremonies/<sha-256>           halfshaft.access.v1.CeremonyRecord, under its secret's digest
//	/halfshaft/v1/access/attempts/<hmac>                halfshaft.access.v1.AttemptsRecord, of an account or a network
var (
	credentialsPrefix = kv.Prefix(Service) + "credentials/"
	handlesPrefix     = kv.Prefix(Service) + "passkey-handles/"
	sessionsPrefix    = kv.Prefix(Service) + "sessions/"
	invitationsPrefix = kv.Prefix(Service) + "invitations/"
	invitedPrefix     = kv.Prefix(Service) + "invitation-digests/"
	ceremoniesPrefix  = kv.Prefix(Service) + "ceremonies/"
	attemptsPrefix    = kv.Prefix(Service) + "attempts/"
)

func credentialsKey(account string) string { return credentialsPrefix + account + "/record" }

// SignIns keeps what proves who people are, and who is signed in. All of it is
// read from etcd itself when it decides something; in memory is only what lists
// of accounts say of it. It is safe for concurrent use.
type SignIns struct {
	kv       *kv.Store
	logger   *slog.Logger
	follower *projection.Follower

	mu   sync.RWMutex
	said map[string]said
}

// said is what lists say of how an account signs in.
type said struct {
	ways     []accessv1.SignInWay
	last     time.Time
	revision int64
}

// OpenSignIns loads what lists say and follows it until ctx is done or Close is
// called.
func OpenSignIns(ctx context.Context, store *kv.Store, logger *slog.Logger) (*SignIns, error) {
	s := &SignIns{kv: store, logger: logger, said: map[string]said{}}
	var err error
	s.follower, err = projection.Start(ctx, store.Client(), credentialsPrefix, s, logger)
	return s, err
}

// Apply implements projection.Handler.
func (s *SignIns) Apply(events []projection.Event, _ int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, e := range events {
		account, _, _ := strings.Cut(strings.TrimPrefix(e.Key, credentialsPrefix), "/")
		if err := put(s.said, account, e, &accessv1.CredentialRecord{}, func(c *accessv1.CredentialRecord) said {
			return said{WaysOf(c), vehiclewire.Moment(c.GetLastSignInTime()).Truncate(24 * time.Hour), e.ModRevision}
		}); err != nil {
			return fmt.Errorf("the credentials of an account cannot be read: %w", err)
		}
	}
	return nil
}

// Known implements projection.Handler.
func (s *SignIns) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		s.mu.RLock()
		defer s.mu.RUnlock()
		for account, a := range s.said {
			if !yield(credentialsKey(account), a.revision) {
				return
			}
		}
	}
}

// WaysOf gives which ways of signing in a record holds.
func WaysOf(c *accessv1.CredentialRecord) []accessv1.SignInWay {
	var ways []accessv1.SignInWay
	if len(c.GetPasskeys()) > 0 {
		ways = append(ways, accessv1.SignInWay_SIGN_IN_WAY_PASSKEY)
	}
	if c.GetPasswordHash() != "" {
		ways = append(ways, accessv1.SignInWay_SIGN_IN_WAY_PASSWORD_AND_CODE)
	}
	if c.GetOpenidSubject() != "" {
		ways = append(ways, accessv1.SignInWay_SIGN_IN_WAY_OPENID)
	}
	return ways
}

// Ways gives the ways to sign in that an account has, by its identifier.
func (s *SignIns) Ways(account string) []accessv1.SignInWay {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.said[account].ways
}

// LastSignIn gives when its holder last signed in, to the day; zero for never.
func (s *SignIns) LastSignIn(account string) time.Time {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.said[account].last
}

// Wait implements projection.Waiter.
func (s *SignIns) Wait(ctx context.Context, revision int64) error {
	return s.follower.Wait(ctx, revision)
}

// Close ends the following.
func (s *SignIns) Close() {
	if s.follower != nil {
		s.follower.Close()
	}
}

// Holder is an account as it stands when somebody comes to its door.
type Holder struct {
	access.Account
	ModRevision int64
	Admitted    bool // the account is open, and so is its organisation
}

// Holder reads an account from etcd itself; nil when there is none.
func (s *SignIns) Holder(ctx context.Context, account string) (*Holder, error) {
	var a accessv1.Account
	revision, found, err := s.kv.Get(ctx, accountKey(account), &a)
	if err != nil || !found {
		return nil, err
	}
	h := &Holder{Account: accesswire.Account(&a), ModRevision: revision}
	h.Admitted = h.Open()
	if id, ok := access.OrganisationID(h.Organisation); ok {
		var o accessv1.Organisation
		_, found, err := s.kv.Get(ctx, organisationKey(id), &o)
		if err != nil {
			return nil, err
		}
		h.Admitted = h.Admitted && found && accesswire.Organisation(&o).Open()
	}
	return h, nil
}

// Credentials reads what proves that somebody is an account. Without any it
// gives an empty record and the revision 0.
func (s *SignIns) Credentials(ctx context.Context, account string) (*accessv1.CredentialRecord, int64, error) {
	c := &accessv1.CredentialRecord{Account: access.Account{ID: account}.Name()}
	revision, _, err := s.kv.Get(ctx, credentialsKey(account), c)
	return c, revision, err
}

// OfHandle gives the account whose passkeys have a handle; "" when there is
// none.
func (s *SignIns) OfHandle(ctx context.Context, handle []byte) (account string, err error) {
	return s.pointer(ctx, handlesPrefix+hex.EncodeToString(handle))
}

func (s *SignIns) pointer(ctx context.Context, key string) (string, error) {
	found, err := s.kv.Client().Get(ctx, key)
	if err != nil || len(found.Kvs) == 0 {
		return "", err
	}
	return string(found.Kvs[0].Value), nil
}

// Invitation reads the invitation with a digest; the revision is 0 when there
// is none.
func (s *SignIns) Invitation(ctx context.Context, digest string) (*accessv1.InvitationRecord, int64, error) {
	account, err := s.pointer(ctx, invitedPrefix+digest)
	if err != nil || account == "" {
		return nil, 0, err
	}
	i, revision, err := s.InvitationOf(ctx, account)
	if err != nil || subtle.ConstantTimeCompare([]byte(hex.EncodeToString(i.GetSecretSha256())), []byte(digest)) != 1 {
		return nil, 0, err
	}
	return i, revision, nil
}

// InvitationOf reads the invitation of an account; the revision is 0 when there
// is none.
func (s *SignIns) InvitationOf(ctx context.Context, account string) (*accessv1.InvitationRecord, int64, error) {
	var i accessv1.InvitationRecord
	revision, _, err := s.kv.Get(ctx, invitationsPrefix+account, &i)
	return &i, revision, err
}

// Ceremony reads the ceremony with a digest; the revision is 0 when there is
// none.
func (s *SignIns) Ceremony(ctx context.Context, digest string) (*accessv1.CeremonyRecord, int64, error) {
	var c accessv1.CeremonyRecord
	revision, _, err := s.kv.Get(ctx, ceremoniesPrefix+digest, &c)
	return &c, revision, err
}

// Ceremonies counts those that were begun and neither finished nor swept.
func (s *SignIns) Ceremonies(ctx context.Context) (int64, error) {
	found, err := s.kv.Client().Get(ctx, ceremoniesPrefix, clientv3.WithPrefix(), clientv3.WithCountOnly())
	if err != nil {
		return 0, err
	}
	return found.Count, nil
}

// Attempts reads the failures of an account or network.
func (s *SignIns) Attempts(ctx context.Context, of []byte) (*accessv1.AttemptsRecord, int64, error) {
	var a accessv1.AttemptsRecord
	revision, _, err := s.kv.Get(ctx, attemptsPrefix+hex.EncodeToString(of), &a)
	return &a, revision, err
}
