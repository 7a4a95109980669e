package accesssignin

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"slices"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/signin"
	"halfshaft/services/fault"
	"halfshaft/services/internal/onetime"
)

// SignIn implements the SignInService.
func (s *Service) SignIn(ctx context.Context, r *accessv1.SignInRequest) (*accessv1.SessionGrant, error) {
	s.sweep(ctx)
	network, err := networkOf(r.GetNetwork())
	if err != nil {
		return nil, err
	}
	grant, about, err := s.trySignIn(ctx, r, network)
	if err != nil {
		s.notLetIn(ctx, "SignIn", about, network, err)
		return nil, err
	}
	return grant, nil
}

// trySignIn gives also which account it was about, where there is such a one.
func (s *Service) trySignIn(ctx context.Context, r *accessv1.SignInRequest, network string) (grant *accessv1.SessionGrant, about string, err error) {
	a, err := s.attempt(ctx, strings.TrimPrefix(r.GetAccount(), "accounts/"), network)
	if err != nil {
		return nil, s.known(ctx, r.GetAccount()), err
	}
	if err := again(func() (err error) {
		grant, about, err = s.signIn(ctx, r, a, network)
		return err
	}); err != nil {
		return nil, about, err
	}
	s.noFailure(ctx, a)
	return grant, about, nil
}

// known gives the name of an account if there is such a one, so that the audit
// names it where an attempt is refused before it is looked at.
func (s *Service) known(ctx context.Context, name string) string {
	id, formed := access.AccountID(name)
	if !formed {
		return ""
	}
	h, err := s.Store.Holder(ctx, id)
	if err != nil || h == nil {
		return ""
	}
	return h.Name()
}

// signIn does the same work whatever is wrong, and only then says so.
func (s *Service) signIn(ctx context.Context, r *accessv1.SignInRequest, a attempt, network string) (grant *accessv1.SessionGrant, about string, err error) {
	id, formed := access.AccountID(r.GetAccount())
	if !formed {
		id = "-" // nobody's
	}
	h, err := s.Store.Holder(ctx, id)
	if err != nil {
		return nil, "", err
	}
	if h != nil {
		about = h.Name()
	}
	credentials, revision, err := s.Store.Credentials(ctx, id)
	if err != nil {
		return nil, about, err
	}
	right, err := s.Hasher.Verify(ctx, r.GetPassword(), credentials.GetPasswordHash())
	if err != nil {
		return nil, about, err
	}
	shown, err := s.useCode(credentials, r.GetCode())
	if err != nil {
		return nil, about, err
	}
	if !formed || h == nil || !h.Admitted || !right || !shown {
		return nil, about, signin.Refused()
	}
	credentials.LastSignInTime = timestamppb.New(s.now())
	txn := a.succeeded(s.Store.Begin().PutCredentials(h.ID, credentials, revision))
	grant, err = s.open(txn, h, accessv1.SignInWay_SIGN_IN_WAY_PASSWORD_AND_CODE, network)
	if err != nil {
		return nil, about, err
	}
	_, err = s.Store.Commit(s.witnessed(ctx, s.by("SignIn", h, grant.GetSession().GetName(), network)), txn)
	return grant, about, err
}

// nobodysSecret makes codes for accounts that have none, so that they take the
// same time.
const nobodysSecret = "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"

// useCode checks a code, or a recovery code, and uses it up in the record,
// which the caller writes.
func (s *Service) useCode(c *accessv1.CredentialRecord, typed string) (bool, error) {
	secret := nobodysSecret
	known := len(c.GetCodeSecretSealed()) > 0
	if known {
		var err error
		if secret, err = s.Key.Open(c.GetAccount(), c.GetCodeSecretSealed()); err != nil {
			return false, err
		}
	}
	step, ok, err := onetime.Match(secret, figures(typed), c.GetLastCodeStep(), s.now())
	if err != nil {
		return false, err
	}
	if ok && known {
		c.LastCodeStep = step
		return true, nil
	}
	code, formed := signin.RecoveryCode(typed)
	digest := s.recoveryDigest(c.GetAccount(), code)
	left := slices.DeleteFunc(slices.Clone(c.GetRecoveryDigests()), func(d []byte) bool { return subtle.ConstantTimeCompare(d, digest) == 1 })
	if !formed || len(left) == len(c.GetRecoveryDigests()) {
		return false, nil
	}
	c.RecoveryDigests = left
	return true, nil
}

// figures takes the spaces out of a code, which authenticators show and people
// type.
func figures(typed string) string { return strings.ReplaceAll(strings.TrimSpace(typed), " ", "") }

func (s *Service) recoveryDigest(account, code string) []byte {
	return s.Key.Digest("recovery code", account+" "+code)
}

// recoveryCodes makes a set of codes and puts their digests into the record.
func (s *Service) recoveryCodes(c *accessv1.CredentialRecord) ([]string, error) {
	var shown []string
	c.RecoveryDigests = nil
	for range signin.RecoveryCodes {
		code, err := signin.NewRecoveryCode(rand.Reader)
		if err != nil {
			return nil, err
		}
		plain, _ := signin.RecoveryCode(code)
		shown = append(shown, code)
		c.RecoveryDigests = append(c.RecoveryDigests, s.recoveryDigest(c.GetAccount(), plain))
	}
	return shown, nil
}

// BeginPassword implements the SignInService.
func (s *Service) BeginPassword(ctx context.Context, r *accessv1.BeginPasswordRequest) (*accessv1.Ceremony, error) {
	s.sweep(ctx)
	p, err := s.prove(ctx, r.GetAccount(), r.GetProof())
	if err != nil {
		return nil, err
	}
	if err := signin.CheckPassword("password", r.GetPassword(), p.holder.ID, p.holder.FullName, s.Works); err != nil {
		return nil, err
	}
	hash, err := s.Hasher.Hash(ctx, r.GetPassword())
	if err != nil {
		return nil, err
	}
	secret, url, err := onetime.New(s.Works, p.holder.ID)
	if err != nil {
		return nil, err
	}
	begun, err := s.begin(ctx, &accessv1.CeremonyRecord{
		Kind: accessv1.CeremonyKind_CEREMONY_KIND_PASSWORD, Account: p.holder.Name(),
		PasswordHash: hash, CodeSecretSealed: s.Key.Seal(p.holder.Name(), secret),
	}, signin.SetupGood)
	if err != nil {
		return nil, err
	}
	begun.CodeSecret, begun.CodeUrl = secret, url
	return begun, nil
}

// FinishPassword implements the SignInService. A wrong code does not end the
// ceremony: who sets it up knows the secret, so there is nothing to guess.
func (s *Service) FinishPassword(ctx context.Context, r *accessv1.FinishPasswordRequest) (*accessv1.WayAdded, error) {
	network, err := networkOf(r.GetNetwork())
	if err != nil {
		return nil, err
	}
	var out *accessv1.WayAdded
	err = again(func() (err error) {
		out, err = s.finishPassword(ctx, r, network)
		return err
	})
	return out, err
}

func (s *Service) finishPassword(ctx context.Context, r *accessv1.FinishPasswordRequest, network string) (*accessv1.WayAdded, error) {
	ctx, p, err := s.proveFor(ctx, r.GetAccount(), r.GetProof(), network)
	if err != nil {
		return nil, err
	}
	c, err := s.ceremony(ctx, r.GetCeremony(), accessv1.CeremonyKind_CEREMONY_KIND_PASSWORD)
	if err != nil {
		return nil, err
	}
	if c.GetAccount() != p.holder.Name() {
		return nil, signin.CeremonyOver()
	}
	secret, err := s.Key.Open(c.GetAccount(), c.GetCodeSecretSealed())
	if err != nil {
		return nil, err
	}
	step, ok, err := onetime.Match(secret, figures(r.GetCode()), 0, s.now())
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, fault.InvalidField("code", "", "the six figures that the authenticator shows now, and a clock in it that is right")
	}
	record, revision, err := s.setUp(ctx, p)
	if err != nil {
		return nil, err
	}
	record.PasswordHash, record.PasswordTime = c.GetPasswordHash(), timestamppb.New(s.now())
	record.CodeSecretSealed, record.LastCodeStep = c.GetCodeSecretSealed(), step
	codes, err := s.recoveryCodes(record)
	if err != nil {
		return nil, err
	}
	txn := s.Store.Begin().UseCeremony(c.digest, c.revision)
	out, err := s.added(ctx, txn, p, record, revision, change{accessv1.SignInWay_SIGN_IN_WAY_PASSWORD_AND_CODE, network})
	if err != nil {
		return nil, err
	}
	out.RecoveryCodes = codes
	return out, nil
}

// ChangePassword implements the SignInService.
func (s *Service) ChangePassword(ctx context.Context, r *accessv1.ChangePasswordRequest) (*accessv1.ChangePasswordResponse, error) {
	network, err := networkOf(r.GetNetwork())
	if err != nil {
		return nil, err
	}
	c, err := s.own(ctx, r.GetAccount(), r.GetSession())
	if err != nil {
		return nil, err
	}
	ctx = onBehalf(ctx, c.holder, c.name(), network)
	if err := signin.CheckPassword("password", r.GetPassword(), c.holder.ID, c.holder.FullName, s.Works); err != nil {
		return nil, err
	}
	a, err := s.attempt(ctx, c.holder.ID, network)
	if err != nil {
		return nil, err
	}
	ended := 0
	err = again(func() error {
		record, revision, err := s.Store.Credentials(ctx, c.holder.ID)
		if err != nil {
			return err
		}
		right, err := s.Hasher.Verify(ctx, r.GetCurrent(), record.GetPasswordHash())
		if err != nil {
			return err
		}
		if !right {
			return fault.InvalidField("current", "", "the password as it is now")
		}
		hash, err := s.Hasher.Hash(ctx, r.GetPassword())
		if err != nil {
			return err
		}
		record.PasswordHash, record.PasswordTime = hash, timestamppb.New(s.now())
		txn := a.succeeded(s.Store.Begin().PutCredentials(c.holder.ID, record, revision))
		if ended, err = s.end(ctx, txn, c.holder.ID, signin.SessionID(c.Digest)); err != nil {
			return err
		}
		_, err = s.Store.Commit(ctx, txn)
		return err
	})
	if err != nil {
		return nil, err
	}
	s.noFailure(ctx, a)
	return &accessv1.ChangePasswordResponse{Ended: int32(ended)}, nil
}

// CreateRecoveryCodes implements the SignInService.
func (s *Service) CreateRecoveryCodes(ctx context.Context, r *accessv1.CreateRecoveryCodesRequest) (*accessv1.CreateRecoveryCodesResponse, error) {
	ctx, c, err := s.freshFor(ctx, r.GetAccount(), r.GetSession(), r.GetNetwork())
	if err != nil {
		return nil, err
	}
	out := &accessv1.CreateRecoveryCodesResponse{}
	err = again(func() error {
		record, revision, err := s.Store.Credentials(ctx, c.holder.ID)
		if err != nil {
			return err
		}
		if record.GetPasswordHash() == "" {
			return fault.New(fault.FailedPrecondition, "NO_PASSWORD", "Recovery codes stand in for the codes of an authenticator, and this account has no password with codes.")
		}
		if out.RecoveryCodes, err = s.recoveryCodes(record); err != nil {
			return err
		}
		_, err = s.Store.Commit(ctx, s.Store.Begin().PutCredentials(c.holder.ID, record, revision))
		return err
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}
