package accessrpc

import (
	"context"
	"crypto/rand"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
)

// CreateKey implements the AccessService.
func (s *Service) CreateKey(ctx context.Context, r *accessv1.CreateKeyRequest) (*accessv1.CreateKeyResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if done, found, err := s.store.Answered(ctx, r.GetRequestId(), r); err != nil {
		return nil, err
	} else if found {
		return s.created(done)
	}
	if t := r.GetKey().GetExpireTime(); t != nil && !t.IsValid() {
		return nil, fault.InvalidField("key.expire_time", t.String(), "a time in the years 1 to 9999")
	}
	key, faults := access.Proposed(accesswire.Key(r.GetKey()), s.now())
	if err := fault.InvalidFields(fault.FieldsUnder("key", faults)); err != nil {
		return nil, err
	}
	id, secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		return nil, err
	}
	// What the service gives is not taken from the caller.
	key.ID, key.Digest, key.Created, key.Revoked = id, access.DigestOf(secret), s.now(), time.Time{}
	done, err := s.store.Create(ctx, key, r.GetRequestId(), r)
	if err != nil {
		return nil, err
	}
	if done.Replayed {
		return s.created(done) // the same request overtook this one
	}
	if err := s.group.Wait(ctx, accessstore.Service, done.Revision); err != nil {
		return nil, err
	}
	return &accessv1.CreateKeyResponse{Key: withEtag(accesswire.KeyProto(key), done.Revision), Secret: secret}, nil
}

// created repeats the answer of a key made before, without its secret, which
// nobody kept.
func (s *Service) created(done kv.Result) (*accessv1.CreateKeyResponse, error) {
	key, err := answered(done)
	if err != nil {
		return nil, err
	}
	return &accessv1.CreateKeyResponse{Key: key}, nil
}

// ListKeys implements the AccessService.
func (s *Service) ListKeys(_ context.Context, r *accessv1.ListKeysRequest) (*accessv1.ListKeysResponse, error) {
	size, err := page.Size(r.GetPageSize(), 50, 500)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	ids := s.store.IDs()
	from, found := slices.BinarySearch(ids, after)
	if found {
		from++
	}
	out := &accessv1.ListKeysResponse{}
	for _, id := range ids[from:min(from+size, len(ids))] {
		if k, ok := s.store.Get(id); ok {
			out.Keys = append(out.Keys, withEtag(accesswire.KeyProto(k.Key), k.ModRevision))
		}
	}
	if from+size < len(ids) {
		out.NextPageToken = page.Token(r, ids[from+size-1])
	}
	return out, nil
}

// RevokeKey implements the AccessService. A key that was revoked before stays
// as it is.
func (s *Service) RevokeKey(ctx context.Context, r *accessv1.RevokeKeyRequest) (*accessv1.Key, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	id, err := accesswire.KeyID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	if done, found, err := s.store.Answered(ctx, r.GetRequestId(), r); err != nil {
		return nil, err
	} else if found {
		return answered(done)
	}
	k, ok := s.store.Get(id)
	if !ok {
		return nil, fault.New(fault.NotFound, "KEY_NOT_FOUND", "There is no key %s here.", id)
	}
	if r.GetEtag() != "" {
		if rev, err := kv.ParseEtag(r.GetEtag()); err != nil {
			return nil, err
		} else if rev != k.ModRevision {
			return nil, fault.New(fault.Aborted, "ETAG_MISMATCH", "The key changed since it was read; read it again.")
		}
	}
	if !k.Revoked.IsZero() {
		return withEtag(accesswire.KeyProto(k.Key), k.ModRevision), nil
	}
	k.Revoked = s.now()
	done, err := s.store.Replace(ctx, k.Key, k.ModRevision, r.GetRequestId(), r)
	if err != nil {
		return nil, err
	}
	if done.Replayed {
		return answered(done)
	}
	if err := s.group.Wait(ctx, accessstore.Service, done.Revision); err != nil {
		return nil, err
	}
	return withEtag(accesswire.KeyProto(k.Key), done.Revision), nil
}

// WhoAmI implements the AccessService.
func (s *Service) WhoAmI(ctx context.Context, _ *accessv1.WhoAmIRequest) (*accessv1.WhoAmIResponse, error) {
	c := access.CallerFrom(ctx)
	return &accessv1.WhoAmIResponse{Role: accesswire.RoleProto(c.Role), Bearer: c.Bearer, Person: c.Person}, nil
}

// answered reads the key that a request was answered with before.
func answered(done kv.Result) (*accessv1.Key, error) {
	var key accessv1.Key
	if err := proto.Unmarshal(done.Answer, &key); err != nil {
		return nil, err
	}
	return withEtag(&key, done.Revision), nil
}

func withEtag(k *accessv1.Key, revision int64) *accessv1.Key {
	k.Etag = kv.Etag(revision)
	return k
}
