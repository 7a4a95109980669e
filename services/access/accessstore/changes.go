package accessstore

import (
	"context"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/kv"
)

// Each of these writes one record and the answer to its request id in one
// transaction. With a request id that was answered before, the result is a
// replay and nothing is written.

// CreateOrganisation writes a new organisation.
func (s *Store) CreateOrganisation(ctx context.Context, o access.Organisation, requestID string, payload proto.Message) (kv.Result, error) {
	return s.create(ctx, organisationKey(o.ID), accesswire.OrganisationProto(o), requestID, payload)
}

// ReplaceOrganisation writes a changed organisation over the one read at
// modRevision.
func (s *Store) ReplaceOrganisation(ctx context.Context, o access.Organisation, modRevision int64, requestID string, payload proto.Message) (kv.Result, error) {
	return s.replace(ctx, organisationKey(o.ID), modRevision, accesswire.OrganisationProto(o), requestID, payload)
}

// CreateAccount writes a new account.
func (s *Store) CreateAccount(ctx context.Context, a access.Account, requestID string, payload proto.Message, holds ...Condition) (kv.Result, error) {
	return s.create(ctx, accountKey(a.ID), accesswire.AccountProto(a), requestID, payload, holds...)
}

// ReplaceAccount writes a changed account over the one read at modRevision,
// and with it those of its keys that change too.
func (s *Store) ReplaceAccount(ctx context.Context, a access.Account, modRevision int64, its []Record, requestID string, payload proto.Message, holds ...Condition) (kv.Result, error) {
	t := kv.NewTxn().Unchanged(accountKey(a.ID), modRevision).Put(accountKey(a.ID), accesswire.AccountProto(a)).
		Once(Service, requestID, payload, accesswire.AccountProto(a))
	for _, k := range its {
		t = t.Unchanged(keysPrefix+k.ID, k.ModRevision).Put(keysPrefix+k.ID, accesswire.KeyWithDigest(k.Key))
	}
	return s.kv.Commit(ctx, under(holds, t))
}

// CreateAssignment writes a new assignment, if its organisation still is as it
// was read.
func (s *Store) CreateAssignment(ctx context.Context, a access.Assignment, requestID string, payload proto.Message, holds ...Condition) (kv.Result, error) {
	return s.create(ctx, assignmentKey(a.Vehicle, a.ID), accesswire.AssignmentProto(a), requestID, payload, holds...)
}

// ReplaceAssignment writes a changed assignment over the one read at
// modRevision.
func (s *Store) ReplaceAssignment(ctx context.Context, a access.Assignment, modRevision int64, requestID string, payload proto.Message) (kv.Result, error) {
	return s.replace(ctx, assignmentKey(a.Vehicle, a.ID), modRevision, accesswire.AssignmentProto(a), requestID, payload)
}

func (s *Store) create(ctx context.Context, key string, m proto.Message, requestID string, payload proto.Message, holds ...Condition) (kv.Result, error) {
	return s.kv.Commit(ctx, under(holds, kv.NewTxn().Absent(key).Put(key, m).Once(Service, requestID, payload, m)))
}

func (s *Store) replace(ctx context.Context, key string, modRevision int64, m proto.Message, requestID string, payload proto.Message) (kv.Result, error) {
	return s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, modRevision).Put(key, m).Once(Service, requestID, payload, m))
}
