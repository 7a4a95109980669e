package bulletinstore

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"google.golang.org/protobuf/proto"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Version is one version of a bulletin as it is stored. It is never altered,
// only replaced.
type Version struct {
	Bulletin bulletin.Bulletin
	Created  time.Time
	Revision int64
}

// Kept is a vehicle on the list of a campaign as it is stored, likewise.
type Kept struct {
	FollowUp bulletin.FollowUp
	Revision int64
}

// Begun is a version whose list is being written.
type Begun struct {
	Message  *bulletinv1.Issuing // not to be changed
	ID       string
	Version  int
	Revision int64
}

// memory is the projected state.
type memory struct {
	zone *time.Location // of the works

	mu         sync.RWMutex
	versions   map[string][]*Version // by identifier, in order of versions; slices are replaced
	vehicles   map[vehicle.Serial][]*Kept
	campaigns  map[string]map[vehicle.Serial]*Kept
	issuing    map[string]*Begun // by key
	generation int64             // grows with every change of a version
}

func newMemory(zone *time.Location) *memory {
	return &memory{
		zone:     zone,
		versions: map[string][]*Version{}, vehicles: map[vehicle.Serial][]*Kept{},
		campaigns: map[string]map[vehicle.Serial]*Kept{}, issuing: map[string]*Begun{},
	}
}

// Apply implements projection.Handler.
func (m *memory) Apply(events []projection.Event, _ int64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, e := range events {
		if err := m.apply(e); err != nil {
			return fmt.Errorf("read %s: %w", e.Key, err)
		}
	}
	return nil
}

func (m *memory) apply(e projection.Event) error {
	if rest, ok := strings.CutPrefix(e.Key, versionsPrefix); ok {
		if id, number, ok := numbered(rest); ok {
			return m.version(e, id, number)
		}
	}
	if rest, ok := strings.CutPrefix(e.Key, issuingPrefix); ok {
		if id, number, ok := numbered(rest); ok {
			return m.begun(e, id, number)
		}
	}
	if rest, ok := strings.CutPrefix(e.Key, followPrefix); ok {
		serial, id, _ := strings.Cut(rest, "/")
		return m.followUp(e, vehicle.Serial(serial), id)
	}
	return nil
}

func (m *memory) version(e projection.Event, id string, number int) error {
	versions := slices.DeleteFunc(slices.Clone(m.versions[id]), func(v *Version) bool { return v.Bulletin.Version == number })
	if !e.Deleted {
		p := &bulletinv1.Bulletin{}
		if err := proto.Unmarshal(e.Value, p); err != nil {
			return err
		}
		b, err := bulletinwire.Bulletin(p)
		if err != nil {
			return err
		}
		versions = append(versions, &Version{b, vehiclewire.Moment(p.GetCreateTime()), e.ModRevision})
	}
	slices.SortFunc(versions, func(a, b *Version) int { return cmp.Compare(a.Bulletin.Version, b.Bulletin.Version) })
	m.versions[id] = versions
	m.generation++
	return nil
}

func (m *memory) begun(e projection.Event, id string, number int) error {
	if e.Deleted {
		delete(m.issuing, e.Key)
		return nil
	}
	p := &bulletinv1.Issuing{}
	if err := proto.Unmarshal(e.Value, p); err != nil {
		return err
	}
	m.issuing[e.Key] = &Begun{p, id, number, e.ModRevision}
	return nil
}

func (m *memory) followUp(e projection.Event, serial vehicle.Serial, id string) error {
	kept := slices.DeleteFunc(slices.Clone(m.vehicles[serial]), func(k *Kept) bool { return k.FollowUp.Bulletin == id })
	if e.Deleted {
		m.vehicles[serial] = kept
		delete(m.campaigns[id], serial)
		return nil
	}
	p := &bulletinv1.FollowUp{}
	if err := proto.Unmarshal(e.Value, p); err != nil {
		return err
	}
	f, err := bulletinwire.FollowUp(p)
	if err != nil {
		return err
	}
	for i := range f.Steps {
		if s := &f.Steps[i]; !s.Recorded.IsZero() {
			s.Recorded = s.Recorded.In(m.zone)
		}
	}
	one := &Kept{f, e.ModRevision}
	kept = append(kept, one)
	slices.SortFunc(kept, func(a, b *Kept) int { return cmp.Compare(a.FollowUp.Bulletin, b.FollowUp.Bulletin) })
	m.vehicles[f.Serial] = kept
	if m.campaigns[f.Bulletin] == nil {
		m.campaigns[f.Bulletin] = map[vehicle.Serial]*Kept{}
	}
	m.campaigns[f.Bulletin][f.Serial] = one
	return nil
}

// Known implements projection.Handler.
func (m *memory) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		m.mu.RLock()
		defer m.mu.RUnlock()
		for id, versions := range m.versions {
			for _, v := range versions {
				if !yield(versionKey(id, v.Bulletin.Version), v.Revision) {
					return
				}
			}
		}
		for serial, kept := range m.vehicles {
			for _, k := range kept {
				if !yield(followKey(serial, k.FollowUp.Bulletin), k.Revision) {
					return
				}
			}
		}
		for key, b := range m.issuing {
			if !yield(key, b.Revision) {
				return
			}
		}
	}
}

// sorted gives the keys of a map in order.
func sorted[K ~string, V any](m map[K]V) []K { return slices.Sorted(maps.Keys(m)) }
