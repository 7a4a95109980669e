package ownerstore

import (
	"errors"
	"sync"

	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// keyring holds the master keys of this process by identifier: one, and two
// while it is replaced.
type keyring struct {
	mu   sync.RWMutex
	keys map[string]*MasterKey
}

func (r *keyring) get(id string) *MasterKey {
	r.mu.RLock()
	defer r.mu.RUnlock()
	return r.keys[id]
}

// hold makes these the keys of the ring.
func (r *keyring) hold(keys ...*MasterKey) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.keys = map[string]*MasterKey{}
	for _, k := range keys {
		if k != nil {
			r.keys[k.ID()] = k
		}
	}
}

// files reads the master key and the one that takes its place; nil for one that
// is not there or cannot be read, with the reason for the first.
func (s *Store) files() (current, next *MasterKey, err error) {
	current, err = LoadMasterKey(s.path)
	next, nextErr := LoadMasterKey(s.nextPath())
	if nextErr != nil && !errors.Is(nextErr, ErrNoMasterKey) {
		err = errors.Join(err, nextErr)
	}
	return current, next, err
}

func (s *Store) nextPath() string { return s.path + ".next" }

// masterKey gives the master key of an identifier. One that is not held may
// have been put into the file since: another process of a split replaced it,
// and somebody copied it here.
func (s *Store) masterKey(id string) (*MasterKey, error) {
	if m := s.ring.get(id); m != nil {
		return m, nil
	}
	current, next, _ := s.files()
	for _, m := range []*MasterKey{current, next} {
		if m != nil && m.ID() == id {
			s.ring.hold(current, next)
			return m, nil
		}
	}
	return nil, replaced()
}

func replaced() *fault.Error {
	return fault.New(fault.FailedPrecondition, "MASTER_KEY_REPLACED",
		"The master key was replaced when somebody was erased, and the file here still holds the old one: put the new file in its place, and destroy the old one and its copies.")
}

// current gives the master key that new keys are wrapped by, and the revision
// of its record, which such a write must be based on. Call it under rotation.
func (s *Store) current() (*MasterKey, int64, error) {
	s.mu.RLock()
	record, change := s.state.master, s.state.change
	s.mu.RUnlock()
	if change != nil {
		return nil, 0, &fault.Error{
			Kind: fault.Unavailable, Reason: "MASTER_KEY_BEING_REPLACED", RetryAfter: retryAfter,
			Message: "The master key is being replaced; nobody new is taken in meanwhile.",
		}
	}
	m, err := s.masterKey(string(record.value))
	return m, record.modRevision, err
}

// newKey draws the key of a new person and adds what keeps it to a transaction.
// Call it under rotation.
func (s *Store) newKey(txn *kv.Txn, person string) (personKey, error) {
	master, revision, err := s.current()
	if err != nil {
		return personKey{}, err
	}
	key, wrapped, err := master.newPersonKey(person)
	if err != nil {
		return personKey{}, err
	}
	txn.Unchanged(masterRecord, revision).Absent(keysPrefix + person).Absent(erasuresPrefix + person)
	txn.PutBytes(keysPrefix+person, wrapped)
	return key, nil
}

// key gives the key of a person; NotFound when there is none, or no more.
func (s *Store) key(person string) (personKey, error) {
	key, _, err := s.keyAt(person)
	return key, err
}

// keyAt gives the key of a person and the revision of its record, which what is
// written about the person must be based on: erasing them deletes it.
func (s *Store) keyAt(person string) (personKey, int64, error) {
	s.mu.RLock()
	wrapped, ok := s.state.wrapped[person]
	s.mu.RUnlock()
	if !ok {
		return personKey{}, 0, access.NoPerson(person)
	}
	master, err := s.masterKey(wrapper(wrapped.value))
	if err != nil {
		return personKey{}, 0, err
	}
	key, err := master.personKey(person, wrapped.value)
	return key, wrapped.modRevision, err
}
