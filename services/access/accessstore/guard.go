package accessstore

import (
	"context"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/emptypb"

	"halfshaft/services/internal/kv"
)

// Condition is what a transaction asks of the store beside the record that it
// writes.
type Condition func(*kv.Txn) *kv.Txn

// under adds conditions to a transaction.
func under(holds []Condition, t *kv.Txn) *kv.Txn {
	for _, c := range holds {
		t = c(t)
	}
	return t
}

// AccountUnchanged holds as long as an account is as it was read.
func AccountUnchanged(a AccountRecord) Condition {
	return func(t *kv.Txn) *kv.Txn { return t.Unchanged(accountKey(a.ID), a.ModRevision) }
}

// OrganisationUnchanged holds as long as an organisation is as it was read.
func OrganisationUnchanged(o OrganisationRecord) Condition {
	return func(t *kv.Txn) *kv.Txn { return t.Unchanged(organisationKey(o.ID), o.ModRevision) }
}

// GuardAdministrators holds a decision about how many administrators there are:
// of two that are made side by side from the same state, one fails. What is
// read from the store after it is not older than the guard.
func (s *Store) GuardAdministrators(ctx context.Context) (Condition, error) {
	return s.guard(ctx, guardPrefix+"administrators")
}

// GuardKeysOf does the same for a decision about the keys of an account.
func (s *Store) GuardKeysOf(ctx context.Context, account string) (Condition, error) {
	return s.guard(ctx, guardPrefix+accountKind+account)
}

func (s *Store) guard(ctx context.Context, key string) (Condition, error) {
	revision, err := s.asOf(ctx, key, &emptypb.Empty{})
	if err != nil {
		return nil, err
	}
	return func(t *kv.Txn) *kv.Txn { return t.Unchanged(key, revision).PutBytes(key, nil) }, nil
}

// asOf waits until what is in memory is no older than a record is now, and gives
// the record's revision; 0 for none.
func (s *Store) asOf(ctx context.Context, key string, m proto.Message) (int64, error) {
	revision, found, err := s.kv.Get(ctx, key, m)
	if err != nil || !found {
		return 0, err
	}
	return revision, s.Wait(ctx, revision)
}
