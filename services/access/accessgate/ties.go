package accessgate

import (
	"slices"
	"sync"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/vehicle"
)

// ties holds who has which vehicle, as the owner service last told. A vehicle
// has a handful of ties in its life, so each question reads them all.
type ties struct {
	mu    sync.RWMutex
	known map[vehicle.Serial][]access.Tie

	fresh bool
	next  map[vehicle.Serial][]access.Tie
}

// restart says that the next answer is the first of a stream.
func (t *ties) restart() { t.fresh = true }

// apply takes in one answer of the watch, for feed.Follow.
func (t *ties) apply(a *ownerv1.WatchTiesResponse) (revision int64, synced, reset bool, err error) {
	reset, t.fresh = t.fresh, false
	if reset {
		t.next = map[vehicle.Serial][]access.Tie{}
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	into := t.next
	if into == nil {
		into = t.known
	}
	for _, p := range a.GetTies() {
		if err := put(into, p); err != nil {
			return 0, false, reset, err
		}
	}
	if a.GetSynced() && t.next != nil {
		t.known, t.next = t.next, nil
	}
	return a.GetRevision(), a.GetSynced(), reset, nil
}

// put replaces one tie; one that gives no rights need not be known.
func put(into map[vehicle.Serial][]access.Tie, p *ownerv1.Tie) error {
	t, err := accesswire.Tie(p)
	if err != nil {
		return err
	}
	// A new list each time, since readers may hold the old one.
	list := slices.DeleteFunc(slices.Clone(into[t.Vehicle]), func(old access.Tie) bool { return old.ID == t.ID })
	if t.Gives {
		list = append(list, t)
	}
	into[t.Vehicle] = list
	return nil
}

// of gives which vehicles are a person's on a day.
func (t *ties) of(person string, on vehicle.Date) (has func(vehicle.Serial) bool) {
	return func(serial vehicle.Serial) bool {
		t.mu.RLock()
		list := t.known[serial]
		t.mu.RUnlock()
		return slices.ContainsFunc(list, func(x access.Tie) bool { return x.Holds(person, on) })
	}
}
