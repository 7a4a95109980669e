package ownerstore

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/gofrs/flock"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
)

// lockFiles keeps other processes of this machine from the master key's files,
// so that none takes a new key that is not in use yet for one that never was.
func (s *Store) lockFiles(ctx context.Context) (unlock func(), err error) {
	lock := flock.New(s.path+".lock", flock.SetPermissions(0o600))
	if ok, err := lock.TryLockContext(ctx, 10*time.Millisecond); err != nil || !ok {
		return nil, fmt.Errorf("lock the master key: %w", errors.Join(err, ctx.Err()))
	}
	return func() { _ = lock.Unlock() }, nil // the kernel drops it at the latest with the process
}

// unlock finds the master key that the store names among the files, or makes
// the first. It goes on where a replacement was interrupted: see Erase. A store
// that names a master key from before the one in the file was restored from a
// snapshot, and is brought up to it: see adopt.
func (s *Store) unlock(ctx context.Context) error {
	release, err := s.lockFiles(ctx)
	if err != nil {
		return err
	}
	defer release()
	s.mu.RLock()
	stored, mark := string(s.state.master.value), s.state.change
	s.mu.RUnlock()
	current, next, broken := s.files()
	if current == nil && next == nil && !errors.Is(broken, ErrNoMasterKey) {
		return broken
	}
	if stored == "" {
		return s.firstStart(ctx, current)
	}
	s.ring.hold(current, next)
	switch {
	case current != nil && current.ID() == stored && mark == nil:
		if next != nil { // it was made, and nothing was decided
			s.ring.hold(current)
			return destroy(s.nextPath())
		}
		return s.dropKept(current.ID())
	case current != nil && current.ID() == stored && mark.From == stored:
		return s.resume(ctx)
	case next != nil && next.ID() == stored && mark == nil:
		return s.promote(next)
	case current != nil:
		return s.adopt(ctx, current, stored)
	case errors.Is(broken, ErrNoMasterKey):
		return fault.New(fault.FailedPrecondition, "MASTER_KEY_MISSING",
			"The store holds people, and the master key file that opens them is not where it should be. Put it back from where its copy is kept.")
	}
	return broken
}

// firstStart makes the master key, unless there is a file or another process
// was quicker.
func (s *Store) firstStart(ctx context.Context, m *MasterKey) error {
	var err error
	if m == nil {
		if m, err = CreateMasterKey(s.path); err != nil {
			return err
		}
	}
	s.ring.hold(m)
	err = s.commit(ctx, kv.NewTxn().Absent(masterRecord).PutBytes(masterRecord, []byte(m.ID())))
	if fault.Is(err, fault.AlreadyExists) {
		if err := s.catchUp(ctx); err != nil {
			return err
		}
		s.mu.RLock()
		defer s.mu.RUnlock()
		if string(s.state.master.value) != m.ID() {
			return differs()
		}
		return nil
	}
	return err
}

func differs() error {
	return fault.New(fault.FailedPrecondition, "MASTER_KEY_DIFFERS",
		"The master key file holds another key than the one that sealed the people in this store.")
}

// adopt brings a store that was restored from before a replacement of the
// master key up to the present one: everybody's key is wrapped by it, taken
// from the kept keys, and whoever was erased since is erased again. It may be
// interrupted and called again.
func (s *Store) adopt(ctx context.Context, m *MasterKey, stored string) error {
	s.mu.RLock()
	for _, e := range s.state.erasures {
		if e.Destroyed == m.ID() {
			s.mu.RUnlock()
			return replaced()
		}
	}
	mark := s.state.change
	s.mu.RUnlock()
	kept, found, err := s.loadKept(m)
	if err != nil {
		return err
	}
	if !found || !slices.Contains(kept.Replaces, stored) {
		return differs()
	}
	s.logger.Warn("the store was restored from before the master key was replaced; it is brought up to the present one", "from", stored, "to", m.ID())
	erasures, err := kept.erasures()
	if err != nil {
		return err
	}
	for _, e := range erasures {
		if err := s.eraseAgain(ctx, e); err != nil {
			return err
		}
	}
	if err := s.reached("erased again"); err != nil {
		return err
	}
	if err := s.wrapKept(ctx, m, kept); err != nil {
		return err
	}
	if err := s.sweep(ctx); err != nil {
		return err
	}
	txn := kv.NewTxn().PutBytes(masterRecord, []byte(m.ID()))
	if mark != nil {
		txn.Unchanged(masterChangeMark, mark.modRevision).Delete(masterChangeMark)
	}
	if err := s.commit(ctx, txn); err != nil {
		return err
	}
	s.ring.hold(m)
	return errors.Join(destroy(s.nextPath()), s.dropKept(m.ID()))
}

// eraseAgain takes somebody who was erased since the snapshot out of it.
func (s *Store) eraseAgain(ctx context.Context, e owner.Erasure) error {
	s.mu.RLock()
	_, recorded := s.state.erasures[e.Person]
	_, keyed := s.state.wrapped[e.Person]
	_, there := s.state.people[e.Person]
	s.mu.RUnlock()
	if recorded && !keyed && !there {
		return nil
	}
	if keyed || there {
		s.logger.Warn("a person in the restored store was erased since, and is erased again", "person", e.Person)
	}
	ended := s.tiesToEnd(e)
	for len(ended) > 0 {
		n := min(len(ended), mostEnded)
		txn := kv.NewTxn()
		s.endTies(txn, ended[:n])
		if err := s.commit(ctx, txn); err != nil {
			return err
		}
		ended = ended[n:]
	}
	return s.commit(ctx, kv.NewTxn().
		Delete(peoplePrefix+e.Person).Delete(keysPrefix+e.Person).Put(erasuresPrefix+e.Person, ownerwire.ErasureProto(e)))
}

// wrapKept wraps the key of everybody in the store by the present master key,
// some at a time. Somebody who is not among the kept keys was erased, by
// whatever was lost of the record of it.
func (s *Store) wrapKept(ctx context.Context, m *MasterKey, kept keptKeys) error {
	for people := s.everybody(); len(people) > 0; {
		n := min(len(people), wrapsPerTxn)
		txn := kv.NewTxn()
		for _, person := range people[:n] {
			secrets := kept.People[person]
			if len(secrets) > 0 {
				s.wrapKeptKey(txn, m, person, secrets)
				continue
			}
			if err := s.eraseUnkept(ctx, m, person); err != nil {
				return err
			}
		}
		people = people[n:]
		if txn.Len() == 0 {
			continue
		}
		if err := s.commit(ctx, txn); err != nil {
			return fmt.Errorf("wrap the people's keys anew: %w", err)
		}
		if err := s.reached("some wrapped"); err != nil {
			return err
		}
	}
	return nil
}

// wrapKeptKey adds a person's key to the transaction, wrapped by the present
// master key, unless it is already.
func (s *Store) wrapKeptKey(txn *kv.Txn, m *MasterKey, person string, secrets [][]byte) {
	s.mu.RLock()
	wrapped, sealed := s.state.wrapped[person], s.state.people[person]
	s.mu.RUnlock()
	if wrapper(wrapped.value) == m.ID() {
		return
	}
	secret := fitting(secrets, person, sealed.value)
	if secret == nil {
		s.logger.Error("the record of a person in the restored store opens with none of their keys", "person", person)
		secret = secrets[len(secrets)-1]
	}
	txn.Unchanged(keysPrefix+person, wrapped.modRevision).PutBytes(keysPrefix+person, m.wrapKey(person, secret))
}

// eraseUnkept erases somebody in a restored store whose key was not kept.
func (s *Store) eraseUnkept(ctx context.Context, m *MasterKey, person string) error {
	s.mu.RLock()
	by := wrapper(s.state.wrapped[person].value)
	s.mu.RUnlock()
	if by == m.ID() {
		return nil // came after the last replacement
	}
	return s.eraseAgain(ctx, owner.Erasure{
		Person: person, At: s.clock().UTC(), Ground: "no key of theirs was kept when the master key was replaced", Destroyed: by, New: m.ID(),
	})
}

// everybody gives who has a record or a key.
func (s *Store) everybody() []string {
	s.mu.RLock()
	defer s.mu.RUnlock()
	all := append(sorted(s.state.people), sorted(s.state.wrapped)...)
	slices.Sort(all)
	return slices.Compact(all)
}

// fitting gives the key that opens a person's record; nil for none.
func fitting(secrets [][]byte, person string, sealed []byte) []byte {
	for _, secret := range secrets {
		if key, err := newPersonKey(secret); err == nil {
			if _, err := openPerson(key, sealed, person); err == nil {
				return secret
			}
		}
	}
	return nil
}
