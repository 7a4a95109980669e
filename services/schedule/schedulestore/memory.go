package schedulestore

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"sync"

	"google.golang.org/protobuf/proto"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// Stored is one record as it was marshalled, a tenth of its size as a message,
// and the revision that wrote it.
type Stored struct {
	ID       string
	Value    []byte
	Revision int64
}

// History is all that happened to one vehicle. It is never altered once it can
// be read, only replaced; records of a kind are in order of identifier.
type History struct {
	records [kinds][]Stored
}

// Of gives the records of a kind; not to be changed.
func (h *History) Of(k Kind) []Stored { return h.records[k] }

// Find gives one record.
func (h *History) Find(k Kind, id string) (Stored, bool) {
	i, found := slices.BinarySearchFunc(h.records[k], id, byID)
	if !found {
		return Stored{}, false
	}
	return h.records[k][i], true
}

func byID(s Stored, id string) int { return cmp.Compare(s.ID, id) }

// Version is one version of a programme as it is stored.
type Version struct {
	Message  *schedulev1.Programme // not to be changed
	Revision int64
	number   string // four digits, as in the key
}

// memory is the projected state.
type memory struct {
	mu         sync.RWMutex
	vehicles   map[vehicle.Serial]*History
	programmes map[string][]Version // by identifier, in order of versions; slices are replaced
}

func newMemory() *memory {
	return &memory{vehicles: map[vehicle.Serial]*History{}, programmes: map[string][]Version{}}
}

// Apply implements projection.Handler.
func (m *memory) Apply(events []projection.Event, _ int64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	fresh := map[vehicle.Serial]*History{}
	for _, e := range events {
		kind, of, id, programme, ok := parse(e.Key)
		switch {
		case !ok:
			continue
		case programme:
			if err := m.version(e, of, id); err != nil {
				return err
			}
			continue
		}
		serial := vehicle.Serial(of)
		h := fresh[serial]
		if h == nil {
			h = &History{}
			if old := m.vehicles[serial]; old != nil {
				h.records = old.records
			}
			fresh[serial] = h
		}
		h.records[kind] = put(h.records[kind], Stored{id, e.Value, e.ModRevision}, e.Deleted)
	}
	maps.Copy(m.vehicles, fresh)
	return nil
}

// put gives the list with a record added, replaced or taken out; the list
// itself may be in use and stays as it is.
func put(list []Stored, s Stored, deleted bool) []Stored {
	i, found := slices.BinarySearchFunc(list, s.ID, byID)
	out := make([]Stored, 0, len(list)+1)
	out = append(out, list[:i]...)
	if !deleted {
		out = append(out, s)
	}
	if found {
		i++
	}
	return append(out, list[i:]...)
}

func (m *memory) version(e projection.Event, id, number string) error {
	var versions []Version
	for _, v := range m.programmes[id] {
		if v.number != number {
			versions = append(versions, v)
		}
	}
	if !e.Deleted {
		p := &schedulev1.Programme{}
		if err := proto.Unmarshal(e.Value, p); err != nil {
			return fmt.Errorf("read programme %s: %w", id, err)
		}
		versions = append(versions, Version{p, e.ModRevision, number})
	}
	slices.SortFunc(versions, func(a, b Version) int { return cmp.Compare(a.number, b.number) })
	m.programmes[id] = versions
	return nil
}
