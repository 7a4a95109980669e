package accesssignin

import (
	"context"
	"crypto/rand"
	"slices"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/signin"
	"halfshaft/services/fault"
)

// proved is somebody who may set up how an account signs in: by an invitation,
// or by a session.
type proved struct {
	holder     *accessstore.Holder
	invitation *invitation
	session    *current
}

// credential is how the audit names what they showed.
func (p *proved) credential() string {
	if p.session == nil {
		return byInvitation
	}
	return p.session.name()
}

// proveFor finds out by what right an account's ways are to be set up, for the
// audit too.
func (s *Service) proveFor(ctx context.Context, account string, p *accessv1.Proof, network string) (context.Context, *proved, error) {
	by, err := s.prove(ctx, account, p)
	if err != nil {
		return nil, nil, err
	}
	return onBehalf(ctx, by.holder, by.credential(), network), by, nil
}

// prove finds out by what right an account's ways are to be set up.
func (s *Service) prove(ctx context.Context, account string, p *accessv1.Proof) (*proved, error) {
	if secret := p.GetInvitation(); secret != "" {
		i, err := s.invitation(ctx, secret)
		if err != nil {
			return nil, err
		}
		if i.GetAccount() != account {
			return nil, signin.InvitationOver()
		}
		return &proved{i.holder, i, nil}, nil
	}
	c, err := s.fresh(ctx, account, p.GetSession())
	if err != nil {
		return nil, err
	}
	return &proved{c.holder, nil, c}, nil
}

// fresh finds a session that began a short while ago.
func (s *Service) fresh(ctx context.Context, account, secret string) (*current, error) {
	c, err := s.own(ctx, account, secret)
	if err != nil {
		return nil, err
	}
	if !times(c.SessionRecord).Fresh(s.now()) {
		return nil, fault.New(fault.FailedPrecondition, "SIGN_IN_AGAIN", "You signed in a while ago. Sign in again to change how you sign in.")
	}
	return c, nil
}

// freshFor finds such a session, for the audit too.
func (s *Service) freshFor(ctx context.Context, account, secret, from string) (context.Context, *current, error) {
	network, err := networkOf(from)
	if err != nil {
		return nil, nil, err
	}
	c, err := s.fresh(ctx, account, secret)
	if err != nil {
		return nil, nil, err
	}
	return onBehalf(ctx, c.holder, c.name(), network), c, nil
}

// setUp gives the record that a new way goes into: what is there, or with an
// invitation an empty one that keeps the handle, so that a passkey of the same
// authenticator takes the place of its former.
func (s *Service) setUp(ctx context.Context, p *proved) (*accessv1.CredentialRecord, int64, error) {
	record, revision, err := s.Store.Credentials(ctx, p.holder.ID)
	if err != nil {
		return nil, 0, err
	}
	if p.invitation != nil {
		record = &accessv1.CredentialRecord{Account: p.holder.Name(), Handle: record.GetHandle(), LastSignInTime: record.GetLastSignInTime()}
	}
	if len(record.GetHandle()) == 0 {
		record.Handle = make([]byte, 64)
		rand.Read(record.Handle)
	}
	return record, revision, nil
}

// change is what is added, and from where.
type change struct {
	way     accessv1.SignInWay
	network string
}

// added writes a record with a new way. By an invitation, which is used up, all
// earlier sessions end and one begins; by a session, all others end with a new
// password and stay with a new passkey.
func (s *Service) added(ctx context.Context, t *accessstore.SignInTxn, p *proved, record *accessv1.CredentialRecord, revision int64, c change) (*accessv1.WayAdded, error) {
	out := &accessv1.WayAdded{}
	t.PutHandle(record.GetHandle(), p.holder.ID)
	switch {
	case p.invitation != nil:
		record.LastSignInTime = timestamppb.New(s.now())
		t.UseInvitation(p.holder.ID, p.invitation.InvitationRecord, p.invitation.revision)
		if _, err := s.end(ctx, t, p.holder.ID, ""); err != nil {
			return nil, err
		}
		grant, err := s.open(t, p.holder, c.way, c.network)
		if err != nil {
			return nil, err
		}
		out.Grant = grant
		ctx = onBehalf(ctx, p.holder, grant.GetSession().GetName(), c.network)
	case c.way == accessv1.SignInWay_SIGN_IN_WAY_PASSWORD_AND_CODE:
		if _, err := s.end(ctx, t, p.holder.ID, signin.SessionID(p.session.Digest)); err != nil {
			return nil, err
		}
	}
	if _, err := s.Store.Commit(ctx, t.PutCredentials(p.holder.ID, record, revision)); err != nil {
		return nil, err
	}
	out.Ways = ways(record)
	return out, nil
}

// ways says what a record holds.
func ways(c *accessv1.CredentialRecord) *accessv1.SignInWays {
	out := &accessv1.SignInWays{
		Password: c.GetPasswordHash() != "", PasswordTime: c.GetPasswordTime(),
		RecoveryCodes: int32(len(c.GetRecoveryDigests())), Openid: c.GetOpenidSubject() != "",
	}
	for _, p := range c.GetPasskeys() {
		out.Passkeys = append(out.Passkeys, p.GetPasskey())
	}
	return out
}

// GetSignInWays implements the SignInService.
func (s *Service) GetSignInWays(ctx context.Context, r *accessv1.GetSignInWaysRequest) (*accessv1.SignInWays, error) {
	h, err := s.holder(ctx, "account", r.GetAccount())
	if err != nil {
		return nil, err
	}
	record, _, err := s.Store.Credentials(ctx, h.ID)
	if err != nil {
		return nil, err
	}
	return ways(record), nil
}

// RemoveSignInWay implements the SignInService.
func (s *Service) RemoveSignInWay(ctx context.Context, r *accessv1.RemoveSignInWayRequest) (*accessv1.SignInWays, error) {
	ctx, c, err := s.freshFor(ctx, r.GetAccount(), r.GetSession(), r.GetNetwork())
	if err != nil {
		return nil, err
	}
	var left *accessv1.SignInWays
	err = again(func() error {
		record, revision, err := s.Store.Credentials(ctx, c.holder.ID)
		if err != nil {
			return err
		}
		if !remove(record, r.GetWay()) {
			return fault.New(fault.NotFound, "WAY_NOT_FOUND", "This account has no such way of signing in.")
		}
		if len(accessstore.WaysOf(record)) == 0 {
			return fault.New(fault.FailedPrecondition, "LAST_WAY", "That is the only way into this account. Set up another first.")
		}
		txn := s.Store.Begin().PutCredentials(c.holder.ID, record, revision)
		// Somebody else's browser may have come in by it.
		if _, err := s.end(ctx, txn, c.holder.ID, signin.SessionID(c.Digest)); err != nil {
			return err
		}
		_, err = s.Store.Commit(ctx, txn)
		left = ways(record)
		return err
	})
	return left, err
}

// remove takes a way out of a record, and says whether it was there.
func remove(c *accessv1.CredentialRecord, way string) bool {
	before := ways(c)
	switch way {
	case "password":
		c.PasswordHash, c.PasswordTime, c.CodeSecretSealed, c.LastCodeStep, c.RecoveryDigests = "", nil, nil, 0, nil
		return before.GetPassword()
	case "openid":
		c.OpenidIssuer, c.OpenidSubject = "", ""
		return before.GetOpenid()
	}
	c.Passkeys = slices.DeleteFunc(c.Passkeys, func(p *accessv1.PasskeyRecord) bool { return p.GetPasskey().GetId() == way })
	return len(c.Passkeys) < len(before.GetPasskeys())
}

// ceremony is one that was begun and is not over.
type ceremony struct {
	*accessv1.CeremonyRecord
	digest   string
	revision int64
}

// mostCeremonies is how many may be begun at once, some 15 MB of them. Anybody
// may begin to sign in, from as many addresses as they have; the pages slow each
// down, and all together must not fill the store.
const mostCeremonies = 20_000

// strangersBegin keeps the first step of a sign-in, which anybody may ask for.
func (s *Service) strangersBegin(ctx context.Context, c *accessv1.CeremonyRecord) (*accessv1.Ceremony, error) {
	n, err := s.Store.Ceremonies(ctx)
	if err != nil {
		return nil, err
	}
	if n >= s.Ceremonies {
		s.sweepAfter(ctx, sweepInNeed)
		return nil, &fault.Error{
			Kind: fault.Exhausted, Reason: "SIGN_IN_TOO_MANY", RetryAfter: sweepInNeed,
			Message: "Very many are signing in. Wait a while and try again, or sign in with password and code.",
		}
	}
	return s.begin(ctx, c, signin.CeremonyGood)
}

// begin keeps the first step of a ceremony, and names it.
func (s *Service) begin(ctx context.Context, c *accessv1.CeremonyRecord, good time.Duration) (*accessv1.Ceremony, error) {
	secret, err := signin.NewSecret(signin.CeremonyMark, rand.Reader)
	if err != nil {
		return nil, err
	}
	digest, _ := signin.Digest(signin.CeremonyMark, secret)
	c.ExpireTime = timestamppb.New(s.now().Add(good))
	if _, err := s.Store.Commit(aside(ctx), s.Store.Begin().PutCeremony(digest, c)); err != nil {
		return nil, err
	}
	return &accessv1.Ceremony{Ceremony: secret, ExpireTime: c.ExpireTime}, nil
}

// ceremony finds one for its second step.
func (s *Service) ceremony(ctx context.Context, secret string, kind accessv1.CeremonyKind) (*ceremony, error) {
	digest, ok := signin.Digest(signin.CeremonyMark, secret)
	if !ok {
		return nil, signin.CeremonyOver()
	}
	c, revision, err := s.Store.Ceremony(ctx, digest)
	if err != nil {
		return nil, err
	}
	if revision == 0 || c.GetKind() != kind || !s.now().Before(c.GetExpireTime().AsTime()) {
		return nil, signin.CeremonyOver()
	}
	return &ceremony{c, digest, revision}, nil
}

// useUp finds a ceremony and ends it, whatever comes of its second step.
func (s *Service) useUp(ctx context.Context, secret string, kind accessv1.CeremonyKind) (*ceremony, error) {
	c, err := s.ceremony(ctx, secret, kind)
	if err != nil {
		return nil, err
	}
	_, err = s.Store.Commit(aside(ctx), s.Store.Begin().UseCeremony(c.digest, c.revision))
	if fault.Is(err, fault.Aborted) {
		return nil, signin.CeremonyOver()
	}
	return c, err
}
