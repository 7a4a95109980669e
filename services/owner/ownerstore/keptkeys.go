package ownerstore

import (
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/wholefile"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
)

// keptKeys are the keys of everybody who was there when a master key took the
// place of another, sealed under the new one in a file beside it. With it a
// snapshot from before, whose keys are wrapped by a master key that was
// destroyed, still opens for everybody but those who were erased.
//
// A person has several keys where a restored store gave an identifier anew.
type keptKeys struct {
	Replaces []string            `json:"replaces"` // identifiers of the master keys that are no more
	People   map[string][][]byte `json:"people"`
	Erasures [][]byte            `json:"erasures"` // halfshaft.owner.v1.Erasure
}

const (
	keptBefore = "people-keys-"
	keptAfter  = ".sealed"
)

func (s *Store) keptPath(masterID string) string {
	return filepath.Join(filepath.Dir(s.path), keptBefore+masterID+keptAfter)
}

// loadKept reads the file that belongs to a master key; found is false where
// there is none: nothing was replaced by it yet.
func (s *Store) loadKept(m *MasterKey) (k keptKeys, found bool, err error) {
	sealed, err := os.ReadFile(s.keptPath(m.ID()))
	if errors.Is(err, os.ErrNotExist) {
		return keptKeys{}, false, nil
	}
	if err != nil {
		return keptKeys{}, false, fmt.Errorf("read the people's keys: %w", err)
	}
	plain, err := open(m.wrap, sealed, bound(forKept, m.ID()))
	if err != nil {
		return keptKeys{}, false, fmt.Errorf("open the people's keys in %s: %w", s.keptPath(m.ID()), err)
	}
	if err := json.Unmarshal(plain, &k); err != nil {
		return keptKeys{}, false, fmt.Errorf("read the people's keys: %w", err)
	}
	return k, true, nil
}

// saveKept writes the file that belongs to a master key.
func (s *Store) saveKept(m *MasterKey, k keptKeys) error {
	plain, err := json.Marshal(k)
	if err != nil {
		return fmt.Errorf("encode the people's keys: %w", err)
	}
	if err := wholefile.Replace(s.keptPath(m.ID()), seal(m.wrap, plain, bound(forKept, m.ID()))); err != nil {
		return fmt.Errorf("keep the people's keys: %w", err)
	}
	return nil
}

// gather gives what is kept under next of a store that is under old: the keys
// that old kept and those in the store, without anybody who was erased.
func (s *Store) gather(old, next *MasterKey) (keptKeys, error) {
	k, _, err := s.loadKept(old)
	if err != nil {
		return k, err
	}
	s.mu.RLock()
	defer s.mu.RUnlock()
	if k.People == nil {
		k.People = map[string][][]byte{}
	}
	for person, wrapped := range s.state.wrapped {
		by := old
		if wrapper(wrapped.value) == next.ID() {
			by = next // a replacement that goes on after an interruption
		}
		key, err := by.personKey(person, wrapped.value)
		if err != nil {
			return k, fmt.Errorf("the key of %s: %w", person, err)
		}
		k.add(person, key.secret)
	}
	k.Replaces = append(k.Replaces, old.ID())
	k.Erasures = nil
	for _, person := range sorted(s.state.erasures) {
		raw, err := deterministic.Marshal(ownerwire.ErasureProto(s.state.erasures[person].Erasure))
		if err != nil {
			return k, err
		}
		k.Erasures = append(k.Erasures, raw)
		delete(k.People, person)
	}
	return k, nil
}

// add keeps a key once.
func (k keptKeys) add(person string, secret []byte) {
	if !slices.ContainsFunc(k.People[person], func(old []byte) bool { return string(old) == string(secret) }) {
		k.People[person] = append(k.People[person], secret)
	}
}

// erasures reads who was erased.
func (k keptKeys) erasures() ([]owner.Erasure, error) {
	var out []owner.Erasure
	for _, raw := range k.Erasures {
		var p ownerv1.Erasure
		if err := proto.Unmarshal(raw, &p); err != nil {
			return nil, fmt.Errorf("read a kept erasure: %w", err)
		}
		out = append(out, ownerwire.Erasure(&p))
	}
	return out, nil
}

// dropKept removes the files of all master keys but one.
func (s *Store) dropKept(but string) error {
	files, err := os.ReadDir(filepath.Dir(s.path))
	if err != nil {
		return fmt.Errorf("look for people's keys: %w", err)
	}
	for _, f := range files {
		id, ok := strings.CutPrefix(f.Name(), keptBefore)
		id, ok2 := strings.CutSuffix(id, keptAfter)
		if _, err := hex.DecodeString(id); !ok || !ok2 || err != nil || id == but {
			continue
		}
		if err := destroy(filepath.Join(filepath.Dir(s.path), f.Name())); err != nil {
			return fmt.Errorf("destroy the people's keys of %s: %w", id, err)
		}
	}
	return nil
}
