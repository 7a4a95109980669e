package buildstore

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"slices"
	"sync"
	"sync/atomic"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// Changed is told which vehicles and releases changed, after they can be read,
// and the revision that the state now includes.
type Changed func(serials []vehicle.Serial, releases []string, revision int64)

// memory is the projected state. Records stay as they were marshalled, a tenth
// of their size as messages, and are decoded when somebody asks. An entry is
// never altered once it is in the map, only replaced.
type memory struct {
	changed Changed

	mu       sync.RWMutex
	vehicles map[vehicle.Serial]*entry
	serials  []vehicle.Serial // in order
	releases map[string]stored
	set      build.ReleaseSet // decoded; replaced when a release comes
	revision int64
}

// stored is one record and the revision that wrote it.
type stored struct {
	id       string
	value    []byte
	revision int64
}

// entry is all that is stored of one vehicle.
type entry struct {
	build      stored
	guard      int64    // revision of the vehicle's guard
	changes    []stored // by identifier
	amendments []stored // by identifier

	haystack atomic.Pointer[string] // for finding, made when first needed
}

func newMemory(changed Changed) *memory {
	return &memory{
		changed: changed, vehicles: map[vehicle.Serial]*entry{},
		releases: map[string]stored{}, set: build.ReleaseSet{},
	}
}

// Apply implements projection.Handler.
func (m *memory) Apply(events []projection.Event, revision int64) error {
	touched, releases, err := m.take(events, revision)
	if err != nil {
		return err
	}
	if m.changed != nil {
		m.changed(touched, releases, revision)
	}
	return nil
}

func (m *memory) take(events []projection.Event, revision int64) ([]vehicle.Serial, []string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	fresh := map[vehicle.Serial]*entry{}
	var releases []string
	for _, e := range events {
		kind, of, id := parse(e.Key)
		if kind == "releases" {
			if err := m.release(e, of); err != nil {
				return nil, nil, err
			}
			releases = append(releases, of)
			continue
		}
		serial := vehicle.Serial(of)
		v := fresh[serial]
		if v == nil {
			v = m.copyOf(serial)
			fresh[serial] = v
		}
		v.take(kind, id, e)
	}
	for serial, v := range fresh {
		m.replace(serial, v)
	}
	m.revision = max(m.revision, revision)
	return slices.Collect(maps.Keys(fresh)), releases, nil
}

// release keeps a release, decoded too: there are few, and every
// configuration needs them.
func (m *memory) release(e projection.Event, id string) error {
	set := maps.Clone(m.set)
	delete(set, id)
	delete(m.releases, id)
	if !e.Deleted {
		var p buildv1.Release
		if err := proto.Unmarshal(e.Value, &p); err != nil {
			return fmt.Errorf("read release %s: %w", id, err)
		}
		r, err := buildwire.Release(&p)
		if err != nil {
			return fmt.Errorf("read release %s: %w", id, err)
		}
		set[id], m.releases[id] = &r, stored{id, e.Value, e.ModRevision}
	}
	m.set = set
	return nil
}

// Known implements projection.Handler.
func (m *memory) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		m.mu.RLock()
		defer m.mu.RUnlock()
		for id, r := range m.releases {
			if !yield(releaseKey(id), r.revision) {
				return
			}
		}
		for serial, v := range m.vehicles {
			if !v.known(serial, yield) {
				return
			}
		}
	}
}

// known yields the keys of one vehicle.
func (v *entry) known(serial vehicle.Serial, yield func(string, int64) bool) bool {
	if v.build.value != nil && !yield(buildKey(serial), v.build.revision) {
		return false
	}
	if v.guard != 0 && !yield(vehicleKey(serial), v.guard) {
		return false
	}
	for _, c := range v.changes {
		if !yield(changeKey(serial, c.id), c.revision) {
			return false
		}
	}
	for _, a := range v.amendments {
		if !yield(amendmentKey(serial, a.id), a.revision) {
			return false
		}
	}
	return true
}

func (m *memory) copyOf(serial vehicle.Serial) *entry {
	old := m.vehicles[serial]
	if old == nil {
		return &entry{}
	}
	return &entry{
		build: old.build, guard: old.guard,
		changes: slices.Clone(old.changes), amendments: slices.Clone(old.amendments),
	}
}

// take takes in one key's new state.
func (v *entry) take(kind, id string, e projection.Event) {
	s := stored{id, e.Value, e.ModRevision}
	switch kind {
	case "builds":
		v.build = s
	case "vehicles":
		v.guard = e.ModRevision
		if e.Deleted {
			v.guard = 0
		}
	case "changes":
		v.changes = put(v.changes, s, e.Deleted)
	case "amendments":
		v.amendments = put(v.amendments, s, e.Deleted)
	}
}

func put(list []stored, s stored, deleted bool) []stored {
	i, found := slices.BinarySearchFunc(list, s.id, func(have stored, id string) int { return cmp.Compare(have.id, id) })
	switch {
	case found && deleted:
		return slices.Delete(list, i, i+1)
	case found:
		list[i] = s
		return list
	case deleted:
		return list
	}
	return slices.Insert(list, i, s)
}

// replace puts an entry in the map. Only a vehicle with a build counts as one:
// on a first load the other keys may come before it.
func (m *memory) replace(serial vehicle.Serial, v *entry) {
	m.vehicles[serial] = v
	i, found := slices.BinarySearch(m.serials, serial)
	switch {
	case v.build.value != nil && !found:
		m.serials = slices.Insert(m.serials, i, serial)
	case v.build.value == nil && found:
		m.serials = slices.Delete(slices.Clone(m.serials), i, i+1)
	}
}

func (m *memory) entry(serial vehicle.Serial) *entry {
	m.mu.RLock()
	defer m.mu.RUnlock()
	v := m.vehicles[serial]
	if v == nil || v.build.value == nil {
		return nil
	}
	return v
}
