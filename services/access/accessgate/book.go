package accessgate

import (
	"slices"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

// book holds the organisations, accounts and assignments as the access service
// last told. A vehicle has a handful of assignments, so each question reads
// them all.
type book struct{ snapshot[pages] }

type pages struct {
	organisations map[string]access.Organisation // by name
	accounts      map[string]access.Account      // by name
	assignments   map[vehicle.Serial][]access.Assignment
}

func noPages() pages {
	return pages{map[string]access.Organisation{}, map[string]access.Account{}, map[vehicle.Serial][]access.Assignment{}}
}

// apply takes in one answer of the watch, for feed.Follow.
func (b *book) apply(a *accessv1.WatchDoorResponse) (revision int64, synced, reset bool, err error) {
	return b.take(a, noPages, func(into *pages) error {
		for _, p := range a.GetOrganisations() {
			o := accesswire.Organisation(p)
			into.organisations[o.Name()] = o
		}
		for _, p := range a.GetAccounts() {
			x := accesswire.Account(p)
			into.accounts[x.Name()] = x
		}
		for _, p := range a.GetAssignments() {
			x, err := accesswire.Assignment(p)
			if err != nil {
				return err
			}
			into.put(x)
		}
		return nil
	})
}

// put replaces one assignment, in a new list, since readers may hold the old
// one.
func (p *pages) put(a access.Assignment) {
	list := slices.DeleteFunc(slices.Clone(p.assignments[a.Vehicle]), func(old access.Assignment) bool { return old.ID == a.ID })
	p.assignments[a.Vehicle] = append(list, a)
}

// standing decides whether the account and the organisation of a caller are
// there and open, and the account still what it was.
func (b *book) standing(c access.Caller) error {
	b.mu.RLock()
	defer b.mu.RUnlock()
	if c.Account != "" {
		switch a, ok := b.now.accounts[c.Account]; {
		case !ok || !a.Open():
			return access.Closed("account")
		case a.Role != c.Role || a.Organisation != c.Organisation:
			return fault.New(fault.Unauthenticated, "ACCOUNT_CHANGED", "This account has another role or organisation by now: sign in again, or with another key.")
		}
	}
	if c.Organisation != "" && !b.now.open(c.Organisation) {
		return access.Closed("organisation")
	}
	return nil
}

// open reports whether an organisation is there and open.
func (p *pages) open(organisation string) bool {
	o, ok := p.organisations[organisation]
	return ok && o.Open()
}

// assigned decides whether a vehicle is assigned to an organisation on a day.
// tied says whether a person is tied to the vehicle that day.
func (b *book) assigned(serial vehicle.Serial, organisation string, on vehicle.Date, tied func(person string) bool) bool {
	b.mu.RLock()
	list, open := b.now.assignments[serial], b.now.open(organisation)
	b.mu.RUnlock()
	return slices.ContainsFunc(list, func(a access.Assignment) bool {
		return a.Organisation == organisation && a.Open(on, open, tied)
	})
}
