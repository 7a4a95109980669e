package buildstore

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// Revision is the newest revision that reads include.
func (s *Store) Revision() int64 {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.revision
}

// Exists says whether there is a vehicle of that serial.
func (s *Store) Exists(serial vehicle.Serial) bool { return s.memory.entry(serial) != nil }

// missing refuses a serial that nobody has built.
func missing(serial vehicle.Serial) error {
	return fault.New(fault.NotFound, "BUILD_NOT_FOUND", "There is no vehicle %s here.", serial)
}

// Build gives the record of a vehicle with its etag; NotFound when there is
// none.
func (s *Store) Build(serial vehicle.Serial) (*buildv1.Build, error) {
	e := s.memory.entry(serial)
	if e == nil {
		return nil, missing(serial)
	}
	return e.decodeBuild()
}

func (e *entry) decodeBuild() (*buildv1.Build, error) {
	b := &buildv1.Build{}
	if err := proto.Unmarshal(e.build.value, b); err != nil {
		return nil, damaged("build", err)
	}
	b.Etag = kv.Etag(e.build.revision)
	return b, nil
}

func damaged(kind string, err error) error {
	return &fault.Error{Kind: fault.Internal, Reason: "RECORD_DAMAGED", Message: "a " + kind + " record cannot be read", Cause: err}
}

// Changes gives what happened to a vehicle, in order of date, then of name.
func (s *Store) Changes(serial vehicle.Serial) ([]*buildv1.Change, error) {
	e := s.memory.entry(serial)
	if e == nil {
		return nil, missing(serial)
	}
	return e.decodeChanges()
}

func (e *entry) decodeChanges() ([]*buildv1.Change, error) {
	changes := make([]*buildv1.Change, len(e.changes))
	for i, c := range e.changes {
		changes[i] = &buildv1.Change{}
		if err := proto.Unmarshal(c.value, changes[i]); err != nil {
			return nil, damaged("change", err)
		}
	}
	slices.SortFunc(changes, func(a, b *buildv1.Change) int {
		x, y := a.GetChangeDate(), b.GetChangeDate()
		return cmp.Or(
			cmp.Compare(x.GetYear(), y.GetYear()), cmp.Compare(x.GetMonth(), y.GetMonth()),
			cmp.Compare(x.GetDay(), y.GetDay()), cmp.Compare(a.GetName(), b.GetName()),
		)
	})
	return changes, nil
}

// State gives all that is recorded of a vehicle's make-up, for those who
// follow; nil when there is no such vehicle.
func (s *Store) State(serial vehicle.Serial) (*buildv1.BuildState, error) {
	e := s.memory.entry(serial)
	if e == nil {
		return nil, nil
	}
	b, err := e.decodeBuild()
	if err != nil {
		return nil, err
	}
	changes, err := e.decodeChanges()
	return &buildv1.BuildState{Build: b, Changes: changes}, err
}

// Amendments gives the corrections of a record, the oldest first.
func (s *Store) Amendments(serial vehicle.Serial) ([]*buildv1.Amendment, error) {
	e := s.memory.entry(serial)
	if e == nil {
		return nil, missing(serial)
	}
	amendments := make([]*buildv1.Amendment, len(e.amendments))
	for i, a := range e.amendments {
		amendments[i] = &buildv1.Amendment{}
		if err := proto.Unmarshal(a.value, amendments[i]); err != nil {
			return nil, damaged("amendment", err)
		}
	}
	slices.SortFunc(amendments, func(a, b *buildv1.Amendment) int {
		return cmp.Or(a.GetCreateTime().AsTime().Compare(b.GetCreateTime().AsTime()), cmp.Compare(a.GetName(), b.GetName()))
	})
	return amendments, nil
}

// Vehicle is what a decision about one vehicle needs: its record and changes,
// and the revision of its guard, which a write based on them compares.
type Vehicle struct {
	Record   build.Record
	Changes  []build.Change
	Revision int64 // of the record: its etag
	Guard    int64 // of the vehicle
}

// Vehicle gives a vehicle decoded; NotFound when there is none.
func (s *Store) Vehicle(serial vehicle.Serial) (Vehicle, error) {
	e := s.memory.entry(serial)
	if e == nil {
		return Vehicle{}, missing(serial)
	}
	return e.decode()
}

func (e *entry) decode() (Vehicle, error) {
	b, err := e.decodeBuild()
	if err != nil {
		return Vehicle{}, err
	}
	v := Vehicle{Revision: e.build.revision, Guard: e.guard}
	if v.Record, err = buildwire.Record(b); err != nil {
		return Vehicle{}, damaged("build", err)
	}
	changes, err := e.decodeChanges()
	if err != nil {
		return Vehicle{}, err
	}
	if v.Changes, err = buildwire.Changes(changes); err != nil {
		return Vehicle{}, damaged("change", err)
	}
	return v, nil
}

// SerialsAfter gives up to n serials after one, in order.
func (s *Store) SerialsAfter(after vehicle.Serial, n int) []vehicle.Serial {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	i, found := slices.BinarySearch(s.memory.serials, after)
	if found {
		i++
	}
	return slices.Clone(s.memory.serials[i:min(i+n, len(s.memory.serials))])
}

// Serials gives every serial, in order.
func (s *Store) Serials() []vehicle.Serial {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return slices.Clone(s.memory.serials)
}

// Releases gives all releases, decoded. The set is not to be altered.
func (s *Store) Releases() build.ReleaseSet {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.set
}

// ReleaseIDs gives the identifiers of all releases, in order.
func (s *Store) ReleaseIDs() []string { return slices.Sorted(maps.Keys(s.Releases())) }

// Release gives a release with its etag; NotFound when there is none.
func (s *Store) Release(id string) (*buildv1.Release, error) {
	s.memory.mu.RLock()
	found, ok := s.memory.releases[id]
	s.memory.mu.RUnlock()
	if !ok {
		return nil, fault.New(fault.NotFound, "RELEASE_NOT_FOUND", "There is no release %s here.", id)
	}
	r := &buildv1.Release{}
	if err := proto.Unmarshal(found.value, r); err != nil {
		return nil, damaged("release", fmt.Errorf("%s: %w", id, err))
	}
	r.Etag = kv.Etag(found.revision)
	return r, nil
}
