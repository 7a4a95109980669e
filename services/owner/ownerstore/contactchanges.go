package ownerstore

import (
	"context"
	"maps"
	"slices"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle/vehiclewire"
)

// addContactChange keeps what of a person's mail address and number was replaced,
// for it to be told. It stands in the transaction that replaces it, so that neither
// is without the other.
func (s *Store) addContactChange(txn *kv.Txn, key personKey, old, now owner.Person) error {
	email, phone := old.Replaced(now)
	if email == "" && phone == "" {
		return nil
	}
	id := kv.NewID()
	c := &ownerv1.ContactChange{FormerEmail: email, FormerPhone: phone, ChangeTime: vehiclewire.MomentProto(s.clock())}
	sealed, err := sealMessage(key, c, forChange, old.ID, id)
	if err != nil {
		return err
	}
	txn.Absent(changesPrefix+old.ID+"/"+id).PutBytes(changesPrefix+old.ID+"/"+id, sealed)
	return nil
}

// ContactChanges opens what was replaced and not told yet, at most so many whose
// resource names come after one, in order of these.
func (s *Store) ContactChanges(after string, most int) ([]*ownerv1.ContactChange, error) {
	s.mu.RLock()
	sealed := map[string][]byte{}
	for person, list := range s.state.moved {
		for id, r := range list {
			sealed[ownerwire.ContactChangeName(person, id)] = r.value
		}
	}
	s.mu.RUnlock()
	var out []*ownerv1.ContactChange
	for _, name := range slices.Sorted(maps.Keys(sealed)) {
		if name <= after {
			continue
		}
		if len(out) == most {
			break
		}
		person, id, err := ownerwire.ContactChangeID("name", name)
		if err != nil {
			return nil, err
		}
		key, err := s.key(person)
		if fault.Is(err, fault.NotFound) {
			continue // they were erased, and this goes with them
		}
		if err != nil {
			return nil, err
		}
		c := &ownerv1.ContactChange{}
		if err := openMessage(key, sealed[name], c, forChange, person, id); err != nil {
			return nil, fault.New(fault.Internal, "CONTACT_CHANGE_DAMAGED", "a replaced address of the person %s cannot be opened", person)
		}
		c.Name = name
		out = append(out, c)
	}
	return out, nil
}

// DropContactChange forgets what was replaced, for it was told, and gives the
// revision at which it went; 0 where it is not there.
func (s *Store) DropContactChange(ctx context.Context, person, id string) (int64, error) {
	s.mu.RLock()
	old, there := s.state.moved[person][id]
	s.mu.RUnlock()
	if !there {
		return 0, nil
	}
	key := changesPrefix + person + "/" + id
	done, err := s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, old.modRevision).Delete(key))
	if fault.Is(err, fault.Aborted) {
		return 0, nil // another was quicker
	}
	return done.Revision, err
}
