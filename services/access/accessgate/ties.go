package accessgate

import (
	"slices"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/vehicle"
)

// ties holds who has which vehicle, as the owner service last told. A vehicle
// has a handful of ties in its life, so each question reads them all.
type ties struct{ snapshot[tiesOf] }

type tiesOf map[vehicle.Serial][]access.Tie

// apply takes in one answer of the watch, for feed.Follow.
func (t *ties) apply(a *ownerv1.WatchTiesResponse) (revision int64, synced, reset bool, err error) {
	return t.take(a, func() tiesOf { return tiesOf{} }, func(into *tiesOf) error {
		for _, p := range a.GetTies() {
			if err := into.put(p); err != nil {
				return err
			}
		}
		return nil
	})
}

// put replaces one tie; one that gives no rights need not be known.
func (known tiesOf) put(p *ownerv1.Tie) error {
	t, err := accesswire.Tie(p)
	if err != nil {
		return err
	}
	// A new list each time, since readers may hold the old one.
	list := slices.DeleteFunc(slices.Clone(known[t.Vehicle]), func(old access.Tie) bool { return old.ID == t.ID })
	if t.Gives {
		list = append(list, t)
	}
	known[t.Vehicle] = list
	return nil
}

// of gives which vehicles are a person's on a day.
func (t *ties) of(person string, on vehicle.Date) (has func(vehicle.Serial) bool) {
	return func(serial vehicle.Serial) bool {
		t.mu.RLock()
		list := t.now[serial]
		t.mu.RUnlock()
		return slices.ContainsFunc(list, func(x access.Tie) bool { return x.Holds(person, on) })
	}
}
