package locale

import "sync"

// What a memo holds at most. Readers have few languages and habits; whoever makes
// up tags gets them worked out again.
const (
	mostRemembered    = 256
	longestRemembered = 64 // bytes of a tag
)

// memo remembers what a function of a tag alone gave. When it is full it forgets
// everything. It is safe for concurrent use.
type memo[V any] struct {
	of func(tag string) V

	mu   sync.RWMutex
	have map[string]V
}

func newMemo[V any](of func(tag string) V) *memo[V] {
	return &memo[V]{of: of, have: map[string]V{}}
}

func (m *memo[V]) get(k string) V {
	m.mu.RLock()
	v, ok := m.have[k]
	m.mu.RUnlock()
	if ok {
		return v
	}
	v = m.of(k)
	if len(k) > longestRemembered {
		return v
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if len(m.have) >= mostRemembered {
		clear(m.have)
	}
	m.have[k] = v
	return v
}
