package accessgate

import (
	"slices"
	"strings"
	"sync"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ties holds who has which vehicle, as the owner service last told. A vehicle
// has a handful of ties in its life, so each question reads them all.
type ties struct {
	mu sync.RWMutex
	of map[vehicle.Serial][]tie

	fresh bool
	next  map[vehicle.Serial][]tie
}

type tie struct {
	id, person string
	start, end vehicle.Date // end no longer counts; zero while it lasts
}

// restart says that the next answer is the first of a stream.
func (t *ties) restart() { t.fresh = true }

// apply takes in one answer of the watch, for feed.Follow.
func (t *ties) apply(a *ownerv1.WatchTiesResponse) (revision int64, synced, reset bool, err error) {
	reset, t.fresh = t.fresh, false
	if reset {
		t.next = map[vehicle.Serial][]tie{}
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	into := t.next
	if into == nil {
		into = t.of
	}
	for _, p := range a.GetTies() {
		if err := put(into, p); err != nil {
			return 0, false, reset, err
		}
	}
	if a.GetSynced() && t.next != nil {
		t.of, t.next = t.next, nil
	}
	return a.GetRevision(), a.GetSynced(), reset, nil
}

// put replaces one tie. An owner's tie gives rights, and so do an executor's, who
// acts in the owner's place, and a caretaker's: whoever keeps the vehicle reads
// its odometer. Paying for it gives none. What only an owner or executor may do
// is for the method to ask.
func put(into map[vehicle.Serial][]tie, p *ownerv1.Tie) error {
	rest := strings.TrimPrefix(p.GetName(), "vehicles/")
	serial, id, _ := strings.Cut(rest, "/ties/")
	start, err := vehiclewire.Date(p.GetStartDate())
	if err != nil {
		return err
	}
	end, err := vehiclewire.Date(p.GetEndDate())
	if err != nil {
		return err
	}
	of := vehicle.Serial(serial)
	// A new list each time, since readers may hold the old one.
	list := slices.DeleteFunc(slices.Clone(into[of]), func(old tie) bool { return old.id == id })
	switch p.GetRole() {
	case ownerv1.Role_ROLE_OWNER, ownerv1.Role_ROLE_CARETAKER, ownerv1.Role_ROLE_EXECUTOR:
		list = append(list, tie{id, p.GetPerson(), start, end})
	}
	into[of] = list
	return nil
}

// OwnVehicles gives which vehicles are a person's on a day. Nothing is
// nobody's.
func (t *ties) OwnVehicles(person string, on vehicle.Date) (has func(vehicle.Serial) bool) {
	return func(serial vehicle.Serial) bool {
		t.mu.RLock()
		list := t.of[serial]
		t.mu.RUnlock()
		return person != "" && slices.ContainsFunc(list, func(x tie) bool {
			return x.person == person && !on.Before(x.start) && (x.end.IsZero() || on.Before(x.end))
		})
	}
}
