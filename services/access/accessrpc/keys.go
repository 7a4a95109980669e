package accessrpc

import (
	"context"
	"crypto/rand"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle/vehiclewire"
)

// CreateKey implements the AccessService.
func (s *Service) CreateKey(ctx context.Context, r *accessv1.CreateKeyRequest) (*accessv1.CreateKeyResponse, error) {
	answer := &accessv1.Key{}
	if revision, found, err := s.before(ctx, r, answer); err != nil || found {
		return &accessv1.CreateKeyResponse{Key: withEtag(answer, revision)}, err
	}
	if t := r.GetKey().GetExpireTime(); t != nil && !t.IsValid() {
		return nil, fault.InvalidField("key.expire_time", t.String(), "a time in the years 1 to 9999")
	}
	key, holds, faults, err := s.holder(ctx, accesswire.Key(r.GetKey()))
	if err != nil {
		return nil, err
	}
	key, wrong := access.Proposed(key, s.now())
	if err := fault.InvalidFields(fault.FieldsUnder("key", append(wrong, faults...))); err != nil {
		return nil, err
	}
	id, secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		return nil, err
	}
	// What the service gives is not taken from the caller.
	key.ID, key.Digest, key.Created, key.Revoked, key.Rotates = id, access.DigestOf(secret), s.now(), time.Time{}, ""
	done, err := s.store.Create(audit.Making(ctx, accesswire.KeyName(key.ID)), key, r.GetRequestId(), r, holds...)
	return s.handOver(ctx, key, secret, done, err)
}

// handOver answers with a new key and its secret, when every gate of this
// process knows it.
func (s *Service) handOver(ctx context.Context, key access.Key, secret string, done kv.Result, err error) (*accessv1.CreateKeyResponse, error) {
	answer := accesswire.KeyProto(key)
	if err := s.settled(ctx, done, err, answer); err != nil {
		return nil, err
	}
	if done.Replayed {
		secret = "" // the same request overtook this one, and nobody kept its secret
	}
	return &accessv1.CreateKeyResponse{Key: withEtag(answer, done.Revision), Secret: secret}, nil
}

// holder completes a key with what it has from its account, says what of it
// disagrees with that, or names what is not there or closed, and gives what
// must still hold when the key is written.
func (s *Service) holder(ctx context.Context, key access.Key) (access.Key, []accessstore.Condition, []fault.Field, error) {
	var faults []fault.Field
	var holds []accessstore.Condition
	if id, ok := access.AccountID(key.Account); ok {
		guard, err := s.store.GuardKeysOf(ctx, id) // before the account is read
		if err != nil {
			return key, nil, nil, err
		}
		account, there := s.store.Account(id)
		if !there || !account.Open() {
			if !key.Role.Valid() {
				key.Role = access.Support // one fault is enough: the role is the account's, and never taken from here
			}
			return key, nil, []fault.Field{{Name: "account", Got: key.Account, Want: "an account that there is and that is open"}}, nil
		}
		if key.Role.Valid() && key.Role != account.Role {
			faults = append(faults, fault.Field{Name: "role", Got: key.Role.String(), Want: "nothing, or that of the account, " + account.Role.String()})
		}
		if key.Organisation != "" && key.Organisation != account.Organisation {
			faults = append(faults, fault.Field{Name: "organisation", Got: key.Organisation, Want: "nothing, or that of the account"})
		}
		key = key.OfAccount(account.Account)
		holds = append(holds, guard, accessstore.AccountUnchanged(account))
	}
	if id, ok := access.OrganisationID(key.Organisation); ok && key.Role == access.Dealer {
		organisation, wrong := s.openOrganisation("organisation", id)
		if wrong != nil {
			return key, nil, append(faults, *wrong), nil
		}
		holds = append(holds, accessstore.OrganisationUnchanged(organisation))
	}
	return key, holds, faults, nil
}

// RotateKey implements the AccessService.
func (s *Service) RotateKey(ctx context.Context, r *accessv1.RotateKeyRequest) (*accessv1.CreateKeyResponse, error) {
	answer := &accessv1.Key{}
	if revision, found, err := s.before(ctx, r, answer); err != nil || found {
		return &accessv1.CreateKeyResponse{Key: withEtag(answer, revision)}, err
	}
	id, err := accesswire.KeyID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	overlap := access.UsualOverlap
	if d := r.GetOverlap(); d != nil {
		if overlap = d.AsDuration(); !d.IsValid() {
			return nil, fault.InvalidField("overlap", d.String(), "a duration")
		}
	}
	k, ok := s.store.Get(id)
	if !ok {
		return nil, access.NoKey(id)
	}
	if err := current("key", r.GetEtag(), k.ModRevision); err != nil {
		return nil, err
	}
	held, holds, faults, err := s.holder(ctx, k.Key)
	if err != nil {
		return nil, err
	}
	if len(faults) > 0 {
		return nil, fault.New(fault.FailedPrecondition, "HOLDER_CLOSED", "Whoever holds this key is not let in any more: their account or organisation is closed.")
	}
	older, newer, err := access.Rotated(held, s.store.Near(k.Key), overlap, s.now())
	if err != nil {
		return nil, err
	}
	var secret string
	if newer.ID, secret, err = access.NewSecret(rand.Reader); err != nil {
		return nil, err
	}
	newer.Digest = access.DigestOf(secret)
	done, err := s.store.Rotate(audit.Making(ctx, accesswire.KeyName(newer.ID)), older, k.ModRevision, newer, r.GetRequestId(), r, holds...)
	return s.handOver(ctx, newer, secret, done, err)
}

// ListKeys implements the AccessService.
func (s *Service) ListKeys(_ context.Context, r *accessv1.ListKeysRequest) (*accessv1.ListKeysResponse, error) {
	ids, token, err := pageOf(r, s.store.IDs())
	if err != nil {
		return nil, err
	}
	out := &accessv1.ListKeysResponse{NextPageToken: token}
	for _, id := range ids {
		if k, ok := s.store.Get(id); ok {
			out.Keys = append(out.Keys, s.used(withEtag(accesswire.KeyProto(k.Key), k.ModRevision), id))
		}
	}
	return out, nil
}

// RevokeKey implements the AccessService. A key that was revoked before stays
// as it is.
func (s *Service) RevokeKey(ctx context.Context, r *accessv1.RevokeKeyRequest) (*accessv1.Key, error) {
	answer := &accessv1.Key{}
	if revision, found, err := s.before(ctx, r, answer); err != nil || found {
		return withEtag(answer, revision), err
	}
	id, err := accesswire.KeyID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	k, ok := s.store.Get(id)
	if !ok {
		return nil, access.NoKey(id)
	}
	if err := current("key", r.GetEtag(), k.ModRevision); err != nil {
		return nil, err
	}
	if !k.Revoked.IsZero() {
		return withEtag(accesswire.KeyProto(k.Key), k.ModRevision), nil
	}
	k.Revoked = s.now()
	answer = accesswire.KeyProto(k.Key)
	done, err := s.store.Replace(ctx, k.Key, k.ModRevision, r.GetRequestId(), r)
	if err := s.settled(ctx, done, err, answer); err != nil {
		return nil, err
	}
	return withEtag(answer, done.Revision), nil
}

// WhoAmI implements the AccessService.
func (s *Service) WhoAmI(ctx context.Context, _ *accessv1.WhoAmIRequest) (*accessv1.WhoAmIResponse, error) {
	c := access.CallerFrom(ctx)
	who := &accessv1.WhoAmIResponse{
		Role: accesswire.RoleProto(c.Role), Bearer: c.Bearer, Person: c.Person,
		Organisation: c.Organisation, Account: c.Account, Credential: c.Credential,
	}
	if id, err := accesswire.KeyID("", c.Credential); err == nil {
		k, _ := s.store.Get(id)
		who.Scopes = k.Scopes
	}
	return who, nil
}

// used adds when a key was last used, which is none of its record: an answer
// to a change leaves it out, so that a repeated one is the same.
func (s *Service) used(k *accessv1.Key, id string) *accessv1.Key {
	k.LastUseTime = vehiclewire.MomentProto(s.store.LastUse(id))
	return k
}

func withEtag(k *accessv1.Key, revision int64) *accessv1.Key {
	k.Etag = kv.Etag(revision)
	return k
}

// current refuses an etag that is not the record's. None is none to refuse.
func current(kind, etag string, modRevision int64) error {
	if etag == "" {
		return nil
	}
	return quoted(kind, etag, modRevision)
}

// quoted is current for changes that must quote the etag.
func quoted(kind, etag string, modRevision int64) error {
	revision, err := kv.ParseEtag(etag)
	if err == nil && revision != modRevision {
		err = fault.New(fault.Aborted, "ETAG_MISMATCH", "The %s changed since it was read; read it again.", kind)
	}
	return err
}
