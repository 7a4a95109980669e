package accessgate

import (
	"time"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
)

// keyring holds the keys as the access service last told.
type keyring struct {
	snapshot[map[string]access.Key]
}

// apply takes in one answer of the watch, for feed.Follow.
func (k *keyring) apply(a *accessv1.WatchKeysResponse) (revision int64, synced, reset bool, err error) {
	return k.take(a, func() map[string]access.Key { return map[string]access.Key{} }, func(into *map[string]access.Key) error {
		for _, p := range a.GetKeys() {
			key := accesswire.Key(p)
			(*into)[key.ID] = key
		}
		return nil
	})
}

// admit gives the key whose secret this is, while it is good. An identifier that
// is not there costs about what a wrong secret costs: one digest.
func (k *keyring) admit(secret string, now time.Time) (access.Key, error) {
	id, ok := access.SecretID(secret)
	if !ok {
		return access.Key{}, access.UnknownKey()
	}
	k.mu.RLock()
	key := k.now[id] // the zero key admits no secret: no digest is all zeros
	k.mu.RUnlock()
	if err := key.Admit(secret, now); err != nil {
		return access.Key{}, err
	}
	return key, nil
}
