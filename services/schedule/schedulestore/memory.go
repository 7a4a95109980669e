package schedulestore

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// History is all that happened to one vehicle. It is never altered once it can
// be read, only replaced.
type History struct {
	serial  vehicle.Serial
	records [kinds]packed
}

// Count gives how many records of a kind there are.
func (h *History) Count(k Kind) int { return h.records[k].count() }

// Find gives one record.
func (h *History) Find(k Kind, id string) (Stored, bool) {
	for s := range h.records[k].all() {
		if string(s.ID) == id {
			return s, true
		}
	}
	return Stored{}, false
}

// Has says whether there is a record of the identifier.
func (h *History) Has(k Kind, id string) bool {
	_, found := h.Find(k, id)
	return found
}

// All gives the records of a kind in order of identifier.
func (h *History) All(k Kind) iter.Seq[Stored] { return h.records[k].all() }

// Read decodes a record into a message of its kind, name and all.
func (h *History) Read(k Kind, s Stored, into proto.Message) error {
	if err := proto.Unmarshal(s.Value, into); err != nil {
		return err
	}
	m := into.ProtoReflect()
	m.Set(nameOf(m), protoreflect.ValueOfString(k.Name(h.serial, string(s.ID))))
	return nil
}

// nameless gives a record as it is stored: its name is its key.
func nameless(record proto.Message) proto.Message {
	if _, ok := record.(*schedulev1.Programme); ok {
		return record
	}
	stored := proto.Clone(record)
	m := stored.ProtoReflect()
	m.Clear(nameOf(m))
	return stored
}

func nameOf(m protoreflect.Message) protoreflect.FieldDescriptor {
	return m.Descriptor().Fields().ByName("name")
}

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
	changes := map[vehicle.Serial]*[kinds][]change{}
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
		if changes[serial] == nil {
			changes[serial] = new([kinds][]change)
		}
		c := change{Stored{[]byte(id), e.Value, e.ModRevision}, e.Deleted}
		changes[serial][kind] = append(changes[serial][kind], c)
	}
	for serial, of := range changes {
		h := &History{}
		if old := m.vehicles[serial]; old != nil {
			*h = *old
		} else {
			h.serial = vehicle.Serial(strings.Clone(string(serial))) // and not the key it came with
		}
		for k := range kinds {
			if len(of[k]) > 0 {
				h.records[k] = h.records[k].with(of[k])
			}
		}
		m.vehicles[h.serial] = h
	}
	return nil
}

// Known implements projection.Handler.
func (m *memory) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		m.mu.RLock()
		defer m.mu.RUnlock()
		for serial, h := range m.vehicles {
			for k := range kinds {
				for s := range h.All(k) {
					if !yield(k.Key(serial, string(s.ID)), s.Revision) {
						return
					}
				}
			}
		}
		for id, versions := range m.programmes {
			for _, v := range versions {
				if !yield(programmeKey(id, v.number), v.Revision) {
					return
				}
			}
		}
	}
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
