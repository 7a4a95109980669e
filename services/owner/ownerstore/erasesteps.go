package ownerstore

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/wholefile"
)

// resume carries a replacement of the master key that was decided to its end:
// steps 3 to 7 of erase.go. Without one it does nothing, unless step 7 was
// interrupted. It is called under rotation and with the files locked.
func (s *Store) resume(ctx context.Context) error {
	if err := s.catchUp(ctx); err != nil {
		return err
	}
	s.mu.RLock()
	mark := s.state.change
	s.mu.RUnlock()
	if mark == nil {
		return s.settle()
	}
	if err := s.reached("decided"); err != nil {
		return err
	}
	old, next := s.ring.get(mark.From), s.ring.get(mark.To)
	if old == nil || next == nil {
		return &fault.Error{
			Kind: fault.Unavailable, Reason: "MASTER_KEY_BEING_REPLACED", RetryAfter: retryAfter,
			Message: "The master key is being replaced by another process, which alone has the new one: wait for it to end, or start it again.",
		}
	}
	if _, done, err := s.loadKept(next); err != nil {
		return err
	} else if !done {
		kept, err := s.gather(old, next)
		if err != nil {
			return err
		}
		if err := s.saveKept(next, kept); err != nil {
			return err
		}
	}
	if err := s.reached("keys kept"); err != nil {
		return err
	}
	if err := s.wrapAnew(ctx, old, next, mark); err != nil {
		return err
	}
	if err := s.sweep(ctx); err != nil {
		return err
	}
	if err := s.reached("swept"); err != nil {
		return err
	}
	txn := kv.NewTxn().Unchanged(masterChangeMark, mark.modRevision).Delete(masterChangeMark).PutBytes(masterRecord, []byte(next.ID()))
	if err := s.commit(ctx, txn); err != nil {
		return err
	}
	if err := s.reached("new key named"); err != nil {
		return err
	}
	return s.promote(next)
}

// settle ends step 7 where that was interrupted: the store names the new master
// key already, and its file is not in place.
func (s *Store) settle() error {
	s.mu.RLock()
	named := string(s.state.master.value)
	s.mu.RUnlock()
	current, next, _ := s.files()
	switch {
	case next != nil && next.ID() == named:
		return s.promote(next)
	case current != nil && current.ID() == named:
		return s.dropKept(named)
	}
	return nil
}

// wrapsPerTxn is how many keys a transaction wraps anew.
const wrapsPerTxn = 100

// wrapAnew is step 4. Keys that are wrapped by next already are passed over.
func (s *Store) wrapAnew(ctx context.Context, old, next *MasterKey, mark *change) error {
	for {
		txn := kv.NewTxn().Unchanged(masterChangeMark, mark.modRevision)
		s.mu.RLock()
		for person, wrapped := range s.state.wrapped {
			if wrapper(wrapped.value) == next.ID() {
				continue
			}
			key, err := old.personKey(person, wrapped.value)
			if err != nil {
				s.mu.RUnlock()
				return fmt.Errorf("the key of %s: %w", person, err)
			}
			txn.Unchanged(keysPrefix+person, wrapped.modRevision).PutBytes(keysPrefix+person, next.wrapKey(person, key.secret))
			if txn.Len() == wrapsPerTxn {
				break
			}
		}
		s.mu.RUnlock()
		if txn.Len() == 0 {
			return nil
		}
		if err := s.commit(ctx, txn); err != nil {
			return fmt.Errorf("wrap the people's keys anew: %w", err)
		}
		if err := s.reached("some wrapped"); err != nil {
			return err
		}
	}
}

// sweep is step 5, for everybody who was erased: what is left of them without a
// key that opens it.
func (s *Store) sweep(ctx context.Context) error {
	s.mu.RLock()
	erased := sorted(s.state.erasures)
	s.mu.RUnlock()
	for _, person := range erased {
		s.mu.RLock()
		left := len(s.state.consents[person]) + len(s.state.documents[person]) + len(s.state.moved[person])
		s.mu.RUnlock()
		if left > 0 {
			var at int64
			for _, prefix := range []string{consentsPrefix, documentsPrefix, changesPrefix} {
				done, err := s.kv.Client().Delete(ctx, prefix+person+"/", clientv3.WithPrefix())
				if err != nil {
					return &fault.Error{Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", Message: "the store gave no answer", Cause: err, RetryAfter: retryAfter}
				}
				at = done.Header.Revision
			}
			if err := s.follower.Wait(ctx, at); err != nil {
				return err
			}
		}
		if err := s.dropDocuments(person); err != nil {
			return err
		}
	}
	return nil
}

// promote is step 7. The new master key is on the disk, and the store names it,
// before anything of the old one goes.
func (s *Store) promote(next *MasterKey) error {
	if err := wipe(s.path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("destroy the old master key: %w", err)
	}
	if err := s.reached("old key overwritten"); err != nil {
		return err
	}
	if err := os.Rename(s.nextPath(), s.path); err != nil {
		return fmt.Errorf("put the new master key in place: %w", err)
	}
	if err := wholefile.SyncDir(filepath.Dir(s.path)); err != nil {
		return fmt.Errorf("put the new master key in place: %w", err)
	}
	s.ring.hold(next)
	if err := s.reached("new key in place"); err != nil {
		return err
	}
	if err := s.dropKept(next.ID()); err != nil {
		return err
	}
	for _, e := range s.Erasures() {
		if e.New == next.ID() {
			s.logger.Warn("a person was erased and the master key replaced: destroy every copy of the old one, and keep a copy of the new one and of the file of the people's keys beside it",
				"person", e.Person, "destroyed", e.Destroyed, "new", e.New)
		}
	}
	return nil
}
