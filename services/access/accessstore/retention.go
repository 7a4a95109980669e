package accessstore

import (
	"context"
	"encoding/hex"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/kv"
)

// ExpiredKeys gives the keys whose records are past their time, sorted.
func (s *Store) ExpiredKeys(now time.Time) []Record {
	return s.where(func(k Record) bool { return k.Expired(now) })
}

// ExpiredAccounts gives the accounts of which something is past its time and
// still kept, sorted.
func (s *Store) ExpiredAccounts(ctx context.Context, now time.Time) ([]AccountRecord, error) {
	var out []AccountRecord
	for _, id := range s.Accounts() {
		a, ok := s.Account(id)
		if !ok || !a.Expired(now) {
			continue
		}
		_, found, err := s.kv.Get(ctx, credentialsKey(id), &accessv1.CredentialRecord{})
		if err != nil {
			return nil, err
		}
		if found || a.FullName != "" {
			out = append(out, a)
		}
	}
	return out, nil
}

// ExpiredContacts gives the organisations whose contact is past its time and
// still kept, sorted.
func (s *Store) ExpiredContacts(now time.Time) []OrganisationRecord {
	var out []OrganisationRecord
	for _, id := range s.Organisations() {
		if o, ok := s.Organisation(id); ok && o.Expired(now) && !o.Contact.IsZero() {
			out = append(out, o)
		}
	}
	return out
}

// DropContact takes from a closed organisation how it was reached, if it is
// still as it was read and the fence holds.
func (s *Store) DropContact(ctx context.Context, fence kv.Fence, o OrganisationRecord) error {
	o.Contact = access.Contact{}
	return s.drop(ctx, kv.NewTxn().Fence(fence).Unchanged(organisationKey(o.ID), o.ModRevision).
		Put(organisationKey(o.ID), accesswire.OrganisationProto(o.Organisation)))
}

// DropKey removes a key's record and when it was used, if it is still as it was
// read and the fence holds.
func (s *Store) DropKey(ctx context.Context, fence kv.Fence, k Record) error {
	return s.drop(ctx, kv.NewTxn().Fence(fence).Unchanged(keysPrefix+k.ID, k.ModRevision).
		Delete(keysPrefix+k.ID).Delete(usesPrefix+k.ID))
}

// DropName takes from a closed account the name of who held it and what they
// signed in with, if it is still as it was read and the fence holds.
func (s *Store) DropName(ctx context.Context, fence kv.Fence, a AccountRecord) error {
	var c accessv1.CredentialRecord
	revision, found, err := s.kv.Get(ctx, credentialsKey(a.ID), &c)
	if err != nil {
		return err
	}
	a.FullName = ""
	t := kv.NewTxn().Fence(fence).Unchanged(accountKey(a.ID), a.ModRevision).Put(accountKey(a.ID), accesswire.AccountProto(a.Account))
	if found {
		t.Unchanged(credentialsKey(a.ID), revision).Delete(credentialsKey(a.ID))
		if len(c.GetHandle()) > 0 {
			t.Delete(handlesPrefix + hex.EncodeToString(c.GetHandle()))
		}
	}
	return s.drop(ctx, t)
}

func (s *Store) drop(ctx context.Context, t *kv.Txn) error {
	done, err := s.kv.Commit(ctx, t)
	if err != nil {
		return err
	}
	return s.Wait(ctx, done.Revision)
}
