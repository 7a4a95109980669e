package accesssignin

import (
	"context"
	"crypto/rand"
	"encoding/hex"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/signin"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// InvitationPath is where the pages accept an invitation, before its secret.
const InvitationPath = "/invitation/"

// InviteAccount implements the SignInService.
func (s *Service) InviteAccount(ctx context.Context, r *accessv1.InviteAccountRequest) (*accessv1.InviteAccountResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	var out *accessv1.InviteAccountResponse
	err := again(func() (err error) {
		out, err = s.invite(ctx, r)
		return err
	})
	return out, err
}

func (s *Service) invite(ctx context.Context, r *accessv1.InviteAccountRequest) (*accessv1.InviteAccountResponse, error) {
	if done, found, err := s.Store.Answered(ctx, r.GetRequestId(), r); err != nil {
		return nil, err
	} else if found {
		return invited(done)
	}
	h, err := s.holder(ctx, "account", r.GetAccount())
	if err != nil {
		return nil, err
	}
	if !h.Admitted {
		return nil, fault.New(fault.FailedPrecondition, "ACCOUNT_CLOSED", "The account %s or its organisation is closed. Open it first.", h.ID)
	}
	former, revision, err := s.Store.InvitationOf(ctx, h.ID)
	if err != nil {
		return nil, err
	}
	secret, err := signin.NewSecret(signin.InvitationMark, rand.Reader)
	if err != nil {
		return nil, err
	}
	digest, _ := signin.Digest(signin.InvitationMark, secret)
	sum, err := hex.DecodeString(digest)
	if err != nil {
		return nil, err
	}
	expires := timestamppb.New(s.now().Add(signin.InvitationGood))
	answer := &accessv1.InviteAccountResponse{ExpireTime: expires}
	done, err := s.Store.Commit(ctx, s.Store.Begin().While(h).
		PutInvitation(h.ID, &accessv1.InvitationRecord{Account: h.Name(), SecretSha256: sum, ExpireTime: expires}, former, revision).
		Once(r.GetRequestId(), r, answer))
	if err != nil {
		return nil, err
	}
	if done.Replayed {
		return invited(done) // the same request overtook this one
	}
	answer.Secret = secret
	if s.URL != "" {
		answer.Url = s.URL + InvitationPath + secret
	}
	return answer, nil
}

// invited repeats the answer of an invitation made before, without its secret,
// which nobody kept.
func invited(done kv.Result) (*accessv1.InviteAccountResponse, error) {
	var answer accessv1.InviteAccountResponse
	err := proto.Unmarshal(done.Answer, &answer)
	return &answer, err
}

// invitation is one that is good, with what is needed to use it up.
type invitation struct {
	*accessv1.InvitationRecord
	revision int64
	holder   *accessstore.Holder
}

// invitation finds the invitation of a secret.
func (s *Service) invitation(ctx context.Context, secret string) (*invitation, error) {
	digest, ok := signin.Digest(signin.InvitationMark, secret)
	if !ok {
		return nil, signin.InvitationOver()
	}
	i, revision, err := s.Store.Invitation(ctx, digest)
	if err != nil {
		return nil, err
	}
	if revision == 0 || !s.now().Before(i.GetExpireTime().AsTime()) {
		return nil, signin.InvitationOver()
	}
	id, ok := access.AccountID(i.GetAccount())
	if !ok {
		return nil, signin.InvitationOver()
	}
	h, err := s.Store.Holder(ctx, id)
	if err != nil {
		return nil, err
	}
	if h == nil || !h.Admitted {
		return nil, signin.InvitationOver()
	}
	return &invitation{i, revision, h}, nil
}

// CheckInvitation implements the SignInService.
func (s *Service) CheckInvitation(ctx context.Context, r *accessv1.CheckInvitationRequest) (*accessv1.CheckInvitationResponse, error) {
	i, err := s.invitation(ctx, r.GetSecret())
	if err != nil {
		return nil, err
	}
	return &accessv1.CheckInvitationResponse{Account: s.account(i.holder), ExpireTime: i.GetExpireTime()}, nil
}

// account writes an account with how it signs in.
func (s *Service) account(h *accessstore.Holder) *accessv1.Account {
	a := accesswire.AccountProto(h.Account)
	a.Ways = s.Store.Ways(h.ID)
	a.Etag = kv.Etag(h.ModRevision)
	return a
}

// GetSignInOffer implements the SignInService.
func (s *Service) GetSignInOffer(context.Context, *accessv1.GetSignInOfferRequest) (*accessv1.SignInOffer, error) {
	return &accessv1.SignInOffer{Passkeys: s.passkeys != nil, Openid: s.hasOpenID()}, nil
}
