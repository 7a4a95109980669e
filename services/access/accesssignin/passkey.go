package accesssignin

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/signin"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// keyholder is an account as the WebAuthn library wants it.
type keyholder struct {
	handle      []byte
	name, shown string
	credentials []webauthn.Credential
}

func (k *keyholder) WebAuthnID() []byte                         { return k.handle }
func (k *keyholder) WebAuthnName() string                       { return k.name }
func (k *keyholder) WebAuthnDisplayName() string                { return k.shown }
func (k *keyholder) WebAuthnCredentials() []webauthn.Credential { return k.credentials }

// keyholderOf reads the passkeys of an account.
func keyholderOf(h *accessstore.Holder, c *accessv1.CredentialRecord) (*keyholder, error) {
	k := &keyholder{handle: c.GetHandle(), name: h.ID, shown: h.FullName}
	for _, p := range c.GetPasskeys() {
		var credential webauthn.Credential
		if err := json.Unmarshal(p.GetCredentialJson(), &credential); err != nil {
			return nil, fault.New(fault.Internal, "RECORD_DAMAGED", "a passkey's record cannot be read")
		}
		k.credentials = append(k.credentials, credential)
	}
	return k, nil
}

// noPasskeys refuses where the pages have no address that passkeys could be
// bound to.
func (s *Service) noPasskeys() error {
	if s.passkeys != nil {
		return nil
	}
	return fault.New(fault.FailedPrecondition, "NO_PASSKEYS", "Passkeys are bound to the address of the pages, and none is given: see --desk-url.")
}

// mostPasskeys bounds what one account keeps; each takes about a kilobyte.
const mostPasskeys = 20

// BeginPasskey implements the SignInService.
func (s *Service) BeginPasskey(ctx context.Context, r *accessv1.BeginPasskeyRequest) (*accessv1.Ceremony, error) {
	s.sweep(ctx)
	if err := s.noPasskeys(); err != nil {
		return nil, err
	}
	p, err := s.prove(ctx, r.GetAccount(), r.GetProof())
	if err != nil {
		return nil, err
	}
	record, _, err := s.setUp(ctx, p)
	if err != nil {
		return nil, err
	}
	if len(record.GetPasskeys()) >= mostPasskeys {
		return nil, fault.New(fault.FailedPrecondition, "TOO_MANY_PASSKEYS", "An account has at most %d passkeys. Remove one first.", mostPasskeys)
	}
	k, err := keyholderOf(p.holder, record)
	if err != nil {
		return nil, err
	}
	options, state, err := s.passkeys.BeginRegistration(k, webauthn.WithExclusions(webauthn.Credentials(k.credentials).CredentialDescriptors()))
	if err != nil {
		return nil, err
	}
	return s.beginPasskey(ctx, options, state, &accessv1.CeremonyRecord{
		Kind: accessv1.CeremonyKind_CEREMONY_KIND_PASSKEY, Account: p.holder.Name(), Handle: record.GetHandle(),
	})
}

func (s *Service) beginPasskey(ctx context.Context, options any, state *webauthn.SessionData, c *accessv1.CeremonyRecord) (*accessv1.Ceremony, error) {
	// The ceremony ends by our clock, which the library does not know.
	state.Expires = time.Time{}
	kept, errState := json.Marshal(state)
	shown, errShown := json.Marshal(options)
	if err := errors.Join(errState, errShown); err != nil {
		return nil, err
	}
	c.PasskeyJson = kept
	begin := s.strangersBegin
	if c.GetAccount() != "" { // they have proved who they are
		begin = func(ctx context.Context, c *accessv1.CeremonyRecord) (*accessv1.Ceremony, error) {
			return s.begin(ctx, c, signin.CeremonyGood)
		}
	}
	begun, err := begin(ctx, c)
	if err != nil {
		return nil, err
	}
	begun.OptionsJson = string(shown)
	return begun, nil
}

// mostResponse bounds what a browser says of a passkey: attestation is not
// asked for, so that it comes to a few kilobytes.
const mostResponse = 32 << 10

// FinishPasskey implements the SignInService.
func (s *Service) FinishPasskey(ctx context.Context, r *accessv1.FinishPasskeyRequest) (*accessv1.WayAdded, error) {
	if err := s.noPasskeys(); err != nil {
		return nil, err
	}
	title := strings.TrimSpace(r.GetTitle())
	if title == "" {
		title = "passkey"
	}
	if fault.Longer(title, 60) || strings.ContainsFunc(title, func(r rune) bool { return r < ' ' || r == 0x7f || r == '\uFFFD' }) {
		return nil, fault.InvalidField("title", r.GetTitle(), "what to call it, in 1 to 60 printable characters")
	}
	network, err := networkOf(r.GetNetwork())
	if err != nil {
		return nil, err
	}
	ctx, p, err := s.proveFor(ctx, r.GetAccount(), r.GetProof(), network)
	if err != nil {
		return nil, err
	}
	c, err := s.useUp(ctx, r.GetCeremony(), accessv1.CeremonyKind_CEREMONY_KIND_PASSKEY)
	if err != nil {
		return nil, err
	}
	if c.GetAccount() != p.holder.Name() {
		return nil, signin.CeremonyOver()
	}
	credential, err := s.made(c, p, r.GetResponseJson())
	if err != nil {
		return nil, err
	}
	raw, err := json.Marshal(credential)
	if err != nil {
		return nil, err
	}
	passkey := &accessv1.PasskeyRecord{CredentialJson: raw, Passkey: &accessv1.Passkey{
		Id: "passkey-" + kv.NewID(), Title: title, CreateTime: timestamppb.New(s.now()),
	}}
	var out *accessv1.WayAdded
	err = again(func() (err error) {
		record, revision, err := s.setUp(ctx, p)
		if err != nil {
			return err
		}
		record.Handle = c.GetHandle()
		record.Passkeys = append(record.Passkeys, passkey)
		out, err = s.added(ctx, s.Store.Begin(), p, record, revision, change{accessv1.SignInWay_SIGN_IN_WAY_PASSKEY, network})
		return err
	})
	return out, err
}

// made checks what a browser made.
func (s *Service) made(c *ceremony, p *proved, response string) (*webauthn.Credential, error) {
	refused := func(err error) error {
		s.Logger.Info("a new passkey was refused", "reason", reason(err))
		return fault.New(fault.Invalid, "PASSKEY_REFUSED", "This passkey could not be kept. Begin again, perhaps with another.")
	}
	var state webauthn.SessionData
	if err := json.Unmarshal(c.GetPasskeyJson(), &state); err != nil {
		return nil, err
	}
	if len(response) > mostResponse {
		return nil, refused(errors.New("too long"))
	}
	parsed, err := protocol.ParseCredentialCreationResponseBytes([]byte(response))
	if err != nil {
		return nil, refused(err)
	}
	k := &keyholder{handle: c.GetHandle(), name: p.holder.ID, shown: p.holder.FullName}
	credential, err := s.passkeys.CreateCredential(k, state, parsed)
	if err != nil {
		return nil, refused(err)
	}
	return credential, nil
}

// reason gives why the library refused something, which holds no secret.
func reason(err error) string {
	var e *protocol.Error
	if errors.As(err, &e) {
		return e.Type
	}
	return "not readable"
}

// BeginPasskeySignIn implements the SignInService.
func (s *Service) BeginPasskeySignIn(ctx context.Context, _ *accessv1.BeginPasskeySignInRequest) (*accessv1.Ceremony, error) {
	s.sweep(ctx)
	if err := s.noPasskeys(); err != nil {
		return nil, err
	}
	options, state, err := s.passkeys.BeginDiscoverableLogin(webauthn.WithUserVerification(protocol.VerificationRequired))
	if err != nil {
		return nil, err
	}
	return s.beginPasskey(ctx, options, state, &accessv1.CeremonyRecord{Kind: accessv1.CeremonyKind_CEREMONY_KIND_PASSKEY_SIGN_IN})
}

// FinishPasskeySignIn implements the SignInService.
func (s *Service) FinishPasskeySignIn(ctx context.Context, r *accessv1.FinishPasskeySignInRequest) (*accessv1.SessionGrant, error) {
	network, err := networkOf(r.GetNetwork())
	if err != nil {
		return nil, err
	}
	grant, about, err := s.finishPasskeySignIn(ctx, r, network)
	if err != nil {
		s.notLetIn(ctx, "FinishPasskeySignIn", about, network, err)
		return nil, err
	}
	return grant, nil
}

// finishPasskeySignIn gives also which account it was about, where the passkey
// names one that is there.
func (s *Service) finishPasskeySignIn(ctx context.Context, r *accessv1.FinishPasskeySignInRequest, network string) (grant *accessv1.SessionGrant, about string, err error) {
	if err := s.noPasskeys(); err != nil {
		return nil, "", err
	}
	a, err := s.attempt(ctx, "", network)
	if err != nil {
		return nil, "", err
	}
	c, err := s.useUp(ctx, r.GetCeremony(), accessv1.CeremonyKind_CEREMONY_KIND_PASSKEY_SIGN_IN)
	if err != nil {
		return nil, "", err
	}
	if err := again(func() (err error) {
		grant, about, err = s.passkeySignIn(ctx, c, r.GetResponseJson(), network)
		return err
	}); err != nil {
		return nil, about, err
	}
	s.noFailure(ctx, a)
	return grant, about, nil
}

func (s *Service) passkeySignIn(ctx context.Context, c *ceremony, response, network string) (*accessv1.SessionGrant, string, error) {
	shown, err := s.shownPasskey(ctx, c, response)
	if err != nil {
		return nil, shown.about(), err
	}
	h := shown.holder
	if err := s.used(shown.record, shown.credential); err != nil {
		return nil, shown.about(), err
	}
	txn := s.Store.Begin().PutCredentials(h.ID, shown.record, shown.revision)
	grant, err := s.open(txn, h, accessv1.SignInWay_SIGN_IN_WAY_PASSKEY, network)
	if err != nil {
		return nil, shown.about(), err
	}
	_, err = s.Store.Commit(s.witnessed(ctx, s.by("FinishPasskeySignIn", h, grant.GetSession().GetName(), network)), txn)
	return grant, shown.about(), err
}

// shown is a passkey that somebody showed. Of one that is refused, only whose it
// says it is may be there.
type shown struct {
	holder     *accessstore.Holder
	record     *accessv1.CredentialRecord
	revision   int64
	credential *webauthn.Credential
}

func (p shown) about() string {
	if p.holder == nil {
		return ""
	}
	return p.holder.Name()
}

// shownPasskey checks what a browser says of a passkey.
func (s *Service) shownPasskey(ctx context.Context, c *ceremony, response string) (p shown, err error) {
	var state webauthn.SessionData
	if err := json.Unmarshal(c.GetPasskeyJson(), &state); err != nil {
		return p, err
	}
	if len(response) > mostResponse {
		return p, signin.Refused()
	}
	parsed, err := protocol.ParseCredentialRequestResponseBytes([]byte(response))
	if err != nil {
		return p, s.turnedAway(err)
	}
	var broken error // the store's, not the passkey's
	_, p.credential, err = s.passkeys.ValidatePasskeyLogin(func(_, handle []byte) (webauthn.User, error) {
		if p.holder, p.record, p.revision, broken = s.ofHandle(ctx, handle); broken != nil {
			return nil, broken
		}
		if p.holder == nil {
			return nil, errors.New("nobody has this handle")
		}
		return keyholderOf(p.holder, p.record)
	}, state, parsed)
	switch {
	case broken != nil:
		return p, broken
	case err != nil:
		return p, s.turnedAway(err)
	case p.credential.Authenticator.CloneWarning:
		// A counter that went back: there are two of this authenticator.
		return p, s.turnedAway(&protocol.Error{Type: "the counter went back"})
	case !p.holder.Admitted:
		return p, s.turnedAway(&protocol.Error{Type: "the account is closed"})
	}
	return p, nil
}

// ofHandle finds the account that a passkey says it is for.
func (s *Service) ofHandle(ctx context.Context, handle []byte) (*accessstore.Holder, *accessv1.CredentialRecord, int64, error) {
	account, err := s.Store.OfHandle(ctx, handle)
	if err != nil || account == "" {
		return nil, nil, 0, err
	}
	h, err := s.Store.Holder(ctx, account)
	if err != nil || h == nil {
		return nil, nil, 0, err
	}
	record, revision, err := s.Store.Credentials(ctx, account)
	return h, record, revision, err
}

// used keeps the new counter of a passkey, and when it was used.
func (s *Service) used(record *accessv1.CredentialRecord, credential *webauthn.Credential) error {
	for _, p := range record.GetPasskeys() {
		var kept webauthn.Credential
		if err := json.Unmarshal(p.GetCredentialJson(), &kept); err != nil {
			return err
		}
		if string(kept.ID) != string(credential.ID) {
			continue
		}
		raw, err := json.Marshal(credential)
		if err != nil {
			return err
		}
		p.CredentialJson = raw
		p.Passkey.LastUseTime = timestamppb.New(s.now().Truncate(24 * time.Hour))
		record.LastSignInTime = timestamppb.New(s.now())
		return nil
	}
	return fmt.Errorf("a passkey that was checked is not in its record")
}

// turnedAway logs why a passkey was refused, and tells nobody.
func (s *Service) turnedAway(err error) error {
	s.Logger.Info("a passkey was refused", "reason", reason(err))
	return signin.Refused()
}
