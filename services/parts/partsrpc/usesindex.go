package partsrpc

import (
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// uses keeps the index of what stood where. It hears of vehicles as the feed
// brings them, and works out their lives when the next question comes: a write
// to the build service waits for the feed, and is not to wait for that. The
// zero value is ready.
type uses struct {
	mu       sync.RWMutex // of index; held alone while it is brought up to date
	index    *parts.UseIndex
	failed   map[vehicle.Serial]*known
	refusals map[vehicle.Serial]error

	heard    sync.Mutex // of what follows
	pending  map[vehicle.Serial]*known
	anew     bool // pending is the whole fleet
	releases build.ReleaseSet
}

// hear is told of vehicles: of news, or where that is nil of all, which are
// then the whole fleet. Releases of a name are never changed while a stream
// lasts; they may be with a new one, which begins with the whole fleet.
func (u *uses) hear(all, news map[vehicle.Serial]*known, releases build.ReleaseSet) {
	u.heard.Lock()
	defer u.heard.Unlock()
	u.releases = releases
	switch {
	case news == nil:
		u.pending, u.anew = maps.Clone(all), true
	case u.pending == nil:
		u.pending = maps.Clone(news)
	default:
		maps.Copy(u.pending, news)
	}
}

// read brings the index up to date and hands it to the reader. The error is
// that of a vehicle whose life cannot be told: a list without it would lack
// what nobody knows.
func (u *uses) read(reader func(*parts.UseIndex) error) error {
	u.catchUp()
	u.mu.RLock()
	defer u.mu.RUnlock()
	if len(u.refusals) > 0 {
		return u.refusals[slices.Min(slices.Collect(maps.Keys(u.refusals)))]
	}
	return reader(u.index)
}

// warm brings the index up to date before anybody asks.
func (u *uses) warm(logger *slog.Logger) {
	if err := u.read(func(*parts.UseIndex) error { return nil }); err != nil {
		logger.Error("where parts are used cannot be told", "error", err)
	}
}

// catchUp takes in what was heard of since the last time. A vehicle whose
// release was not known is tried again with each.
func (u *uses) catchUp() {
	u.heard.Lock()
	isIdle := len(u.pending) == 0 && !u.anew
	u.heard.Unlock()
	if isIdle && u.isWhole() {
		return
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	u.heard.Lock()
	pending, anew, releases := u.pending, u.anew, u.releases
	u.pending, u.anew = nil, false
	u.heard.Unlock()
	if anew || u.index == nil {
		u.index, u.failed, u.refusals = parts.NewUseIndex(), nil, nil
	}
	failed := u.failed
	u.failed, u.refusals = map[vehicle.Serial]*known{}, map[vehicle.Serial]error{}
	if pending == nil {
		pending = map[vehicle.Serial]*known{}
	}
	for serial, k := range failed {
		if pending[serial] == nil {
			pending[serial] = k
		}
	}
	for _, serial := range slices.Sorted(maps.Keys(pending)) { // in order, so that lists grow at their ends
		if err := put(u.index, pending[serial], releases); err != nil {
			u.failed[serial], u.refusals[serial] = pending[serial], fmt.Errorf("the life of %s: %w", serial, err)
		}
	}
	u.index.Seal()
}

// isWhole says whether the index is there and lacks no vehicle.
func (u *uses) isWhole() bool {
	u.mu.RLock()
	defer u.mu.RUnlock()
	return u.index != nil && len(u.failed) == 0
}

func put(x *parts.UseIndex, k *known, releases build.ReleaseSet) error {
	record, changes, err := k.state.Read()
	if err != nil {
		return err
	}
	return x.Put(&record, relevant(changes), releases)
}
