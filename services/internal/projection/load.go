package projection

import (
	"errors"
	"slices"

	"halfshaft/services/internal/kv"
)

// batch is how many events of a load go to the handler at once.
const batch = 256

// load lists the prefix and tells the handler what differs from what it
// knows; at first it knows nothing. It gives the revision of the list.
func (f *Follower) load() (int64, error) {
	for {
		rev, err := f.list()
		if errors.Is(err, kv.ErrCompacted) && f.ctx.Err() == nil {
			continue // a compaction overtook the list itself
		}
		return rev, err
	}
}

func (f *Follower) list() (int64, error) {
	f.lists++
	events := make([]Event, 0, batch)
	var listed int64
	flush := func() error {
		if len(events) == 0 {
			return nil
		}
		err := f.apply(events, listed)
		events = make([]Event, 0, batch)
		return err
	}
	rev, err := kv.ScanAt(f.ctx, f.client, f.prefix, func(at int64) { listed = at }, func(e kv.Entry) error {
		old, ok := f.known[e.Key]
		f.known[e.Key] = seen{e.ModRevision, f.lists}
		if ok && old.modRevision == e.ModRevision {
			return nil
		}
		events = append(events, Event{Key: e.Key, Value: e.Value, ModRevision: e.ModRevision, CreateRevision: e.CreateRevision})
		if len(events) == batch {
			return flush()
		}
		return nil
	})
	if err != nil {
		// What was read counts as known, so the handler must have it.
		if failed := flush(); failed != nil {
			return 0, failed
		}
		return 0, err
	}
	events = append(events, f.gone(rev)...)
	if err := f.apply(events, rev); err != nil {
		return 0, err
	}
	f.mark.Advance(rev)
	return rev, nil
}

// gone finds what the handler knows and the list had not, in order of keys.
func (f *Follower) gone(rev int64) []Event {
	var keys []string
	for key, s := range f.known {
		if s.list != f.lists {
			keys = append(keys, key)
		}
	}
	slices.Sort(keys)
	events := make([]Event, len(keys))
	for i, key := range keys {
		delete(f.known, key)
		events[i] = Event{Key: key, Deleted: true, ModRevision: rev}
	}
	return events
}
