package accessstore

import (
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/feed"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// OrganisationRecord is an organisation as it stands at a revision.
type OrganisationRecord struct {
	access.Organisation
	ModRevision int64
}

// AccountRecord is an account as it stands at a revision.
type AccountRecord struct {
	access.Account
	ModRevision int64
}

// AssignmentRecord is an assignment as it stands at a revision.
type AssignmentRecord struct {
	access.Assignment
	ModRevision int64
}

// door holds organisations, accounts and assignments in memory.
type door struct {
	hub *feed.Hub[string] // which change, by resource name

	mu            sync.RWMutex
	organisations map[string]OrganisationRecord
	accounts      map[string]AccountRecord
	assignments   map[vehicle.Serial][]AssignmentRecord // by identifier; a list is never changed, but replaced
	serials       []vehicle.Serial                      // of the vehicles that have any, sorted
}

func newDoor() *door {
	return &door{
		hub: feed.NewHub[string](), organisations: map[string]OrganisationRecord{},
		accounts: map[string]AccountRecord{}, assignments: map[vehicle.Serial][]AssignmentRecord{},
	}
}

// Apply implements projection.Handler.
func (d *door) Apply(events []projection.Event, revision int64) error {
	d.mu.Lock()
	changed := make([]string, 0, len(events))
	for _, e := range events {
		name, err := d.take(strings.TrimPrefix(e.Key, doorPrefix), e)
		if err != nil {
			d.mu.Unlock()
			return fmt.Errorf("the record %s cannot be read: %w", e.Key, err)
		}
		changed = append(changed, name)
	}
	d.mu.Unlock()
	d.hub.Publish(changed, revision)
	return nil
}

// take takes in one record and gives its resource name.
func (d *door) take(path string, e projection.Event) (name string, err error) {
	kind, id, _ := strings.Cut(path, "/")
	switch kind + "/" {
	case organisationKind:
		return path, put(d.organisations, id, e, &accessv1.Organisation{}, func(o *accessv1.Organisation) OrganisationRecord {
			return OrganisationRecord{accesswire.Organisation(o), e.ModRevision}
		})
	case accountKind:
		return path, put(d.accounts, id, e, &accessv1.Account{}, func(a *accessv1.Account) AccountRecord {
			return AccountRecord{accesswire.Account(a), e.ModRevision}
		})
	case assignmentKind:
		serial, assignment, _ := strings.Cut(id, "/")
		return "vehicles/" + serial + "/assignments/" + assignment, d.assign(vehicle.Serial(serial), assignment, e)
	}
	return path, fmt.Errorf("a record of no kind that this program knows")
}

// assign takes in one assignment. Readers may hold the old list.
func (d *door) assign(of vehicle.Serial, id string, e projection.Event) error {
	list := slices.DeleteFunc(slices.Clone(d.assignments[of]), func(a AssignmentRecord) bool { return a.ID == id })
	if !e.Deleted {
		var p accessv1.Assignment
		if err := proto.Unmarshal(e.Value, &p); err != nil {
			return err
		}
		a, err := accesswire.Assignment(&p)
		if err != nil {
			return err
		}
		at, _ := slices.BinarySearchFunc(list, id, func(a AssignmentRecord, id string) int { return strings.Compare(a.ID, id) })
		list = slices.Insert(list, at, AssignmentRecord{a, e.ModRevision})
	}
	at, there := slices.BinarySearch(d.serials, of)
	switch {
	case len(list) == 0 && there:
		d.serials = slices.Delete(d.serials, at, at+1)
		delete(d.assignments, of)
		return nil
	case len(list) == 0:
		return nil
	case !there:
		d.serials = slices.Insert(d.serials, at, of)
	}
	d.assignments[of] = list
	return nil
}

// Known implements projection.Handler.
func (d *door) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		d.mu.RLock()
		defer d.mu.RUnlock()
		for id, o := range d.organisations {
			if !yield(organisationKey(id), o.ModRevision) {
				return
			}
		}
		for id, a := range d.accounts {
			if !yield(accountKey(id), a.ModRevision) {
				return
			}
		}
		for of, list := range d.assignments {
			for _, a := range list {
				if !yield(assignmentKey(of, a.ID), a.ModRevision) {
					return
				}
			}
		}
	}
}

// Organisation gives one organisation.
func (s *Store) Organisation(id string) (OrganisationRecord, bool) {
	s.door.mu.RLock()
	defer s.door.mu.RUnlock()
	o, ok := s.door.organisations[id]
	return o, ok
}

// Organisations gives the identifiers of all organisations, sorted.
func (s *Store) Organisations() []string {
	s.door.mu.RLock()
	defer s.door.mu.RUnlock()
	return slices.Sorted(maps.Keys(s.door.organisations))
}

// Account gives one account.
func (s *Store) Account(id string) (AccountRecord, bool) {
	s.door.mu.RLock()
	defer s.door.mu.RUnlock()
	a, ok := s.door.accounts[id]
	return a, ok
}

// Accounts gives the identifiers of all accounts, sorted.
func (s *Store) Accounts() []string {
	s.door.mu.RLock()
	defer s.door.mu.RUnlock()
	return slices.Sorted(maps.Keys(s.door.accounts))
}

// Assignments gives the assignments of a vehicle, by identifier.
func (s *Store) Assignments(of vehicle.Serial) []AssignmentRecord {
	s.door.mu.RLock()
	defer s.door.mu.RUnlock()
	return s.door.assignments[of]
}

// Assignment gives one assignment of a vehicle.
func (s *Store) Assignment(of vehicle.Serial, id string) (AssignmentRecord, bool) {
	for _, a := range s.Assignments(of) {
		if a.ID == id {
			return a, true
		}
	}
	return AssignmentRecord{}, false
}

// Assigned gives the vehicles that have or had assignments, sorted.
func (s *Store) Assigned() []vehicle.Serial {
	s.door.mu.RLock()
	defer s.door.mu.RUnlock()
	return slices.Clone(s.door.serials)
}

// SubscribeDoor begins to tell which organisations, accounts and assignments
// change, by resource name.
func (s *Store) SubscribeDoor() *feed.Subscription[string] { return s.door.hub.Subscribe() }
