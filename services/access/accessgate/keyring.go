package accessgate

import (
	"sync"
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
)

// keyring holds the keys as the access service last told.
type keyring struct {
	mu   sync.RWMutex
	keys map[string]access.Key

	// A snapshot under way; the old keys stay good until it is whole.
	fresh bool // the next answer begins a snapshot
	next  map[string]access.Key
}

// restart says that the next answer is the first of a stream.
func (k *keyring) restart() { k.fresh = true }

// apply takes in one answer of the watch, for feed.Follow.
func (k *keyring) apply(a *accessv1.WatchKeysResponse) (revision int64, synced, reset bool, err error) {
	reset, k.fresh = k.fresh, false
	if reset {
		k.next = map[string]access.Key{}
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	into := k.next
	if into == nil {
		into = k.keys
	}
	for _, p := range a.GetKeys() {
		key := accesswire.Key(p)
		into[key.ID] = key
	}
	if a.GetSynced() && k.next != nil {
		k.keys, k.next = k.next, nil
	}
	return a.GetRevision(), a.GetSynced(), reset, nil
}

// admit gives the key whose secret this is, while it is good. An identifier that
// is not there costs about what a wrong secret costs: one digest.
func (k *keyring) admit(secret string, now time.Time) (access.Key, error) {
	id, ok := access.SecretID(secret)
	if !ok {
		return access.Key{}, access.UnknownKey()
	}
	k.mu.RLock()
	key := k.keys[id] // the zero key admits no secret: no digest is all zeros
	k.mu.RUnlock()
	if err := key.Admit(secret, now); err != nil {
		return access.Key{}, err
	}
	return key, nil
}
