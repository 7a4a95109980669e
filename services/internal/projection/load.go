package projection

import (
	"errors"
	"maps"
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
	known := maps.Collect(f.handler.Known())
	events := make([]Event, 0, batch)
	var listed int64
	rev, err := kv.ScanAt(f.ctx, f.client, f.prefix, func(at int64) { listed = at }, func(e kv.Entry) error {
		old, ok := known[e.Key]
		delete(known, e.Key)
		if ok && old == e.ModRevision {
			return nil
		}
		events = append(events, Event{Key: e.Key, Value: e.Value, ModRevision: e.ModRevision, CreateRevision: e.CreateRevision})
		if len(events) < batch {
			return nil
		}
		full := events
		events = make([]Event, 0, batch)
		return f.apply(full, listed)
	})
	if err != nil {
		return 0, err
	}
	// What the handler knows and the list had not is gone.
	for _, key := range slices.Sorted(maps.Keys(known)) {
		events = append(events, Event{Key: key, Deleted: true, ModRevision: rev})
	}
	if err := f.apply(events, rev); err != nil {
		return 0, err
	}
	f.mark.Advance(rev)
	return rev, nil
}
