package warrantystore

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
	"sync"

	"google.golang.org/protobuf/proto"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantywire"
)

// Version is one version of a term as it is stored.
type Version struct {
	Message  *warrantyv1.WarrantyTerm // not to be changed
	Term     warranty.Term            // read of it; not to be changed
	Revision int64
}

// Span is a time out of service as it is stored.
type Span struct {
	Message  *warrantyv1.OutOfServiceSpan // not to be changed
	Revision int64
}

// Claim is a claim as it is stored.
type Claim struct {
	Message  *warrantyv1.Claim // not to be changed
	Revision int64
}

// Vehicle is what is kept of one vehicle, in order of identifiers. It is never
// altered once it can be read, only replaced.
type Vehicle struct {
	Spans  []Span
	Claims []Claim
}

// Span finds a time out of service by its name.
func (v *Vehicle) Span(name string) (Span, bool) {
	for _, s := range v.Spans {
		if s.Message.GetName() == name {
			return s, true
		}
	}
	return Span{}, false
}

// Claim finds a claim by its name.
func (v *Vehicle) Claim(name string) (Claim, bool) {
	for _, c := range v.Claims {
		if c.Message.GetName() == name {
			return c, true
		}
	}
	return Claim{}, false
}

// memory is the projected state. Its lists are replaced and never changed.
type memory struct {
	mu       sync.RWMutex
	vehicles map[vehicle.Serial]*Vehicle
	terms    []Version // by term, then by number
}

func newMemory() *memory { return &memory{vehicles: map[vehicle.Serial]*Vehicle{}} }

// Apply implements projection.Handler.
func (m *memory) Apply(events []projection.Event, _ int64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, e := range events {
		kind, of, id, term, ok := parse(e.Key)
		var err error
		switch {
		case !ok:
		case term:
			err = m.version(e)
		default:
			err = m.record(e, kind, vehicle.Serial(of), id)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// version takes in a version of a term.
func (m *memory) version(e projection.Event) error {
	terms := slices.DeleteFunc(slices.Clone(m.terms), func(v Version) bool { return TermKey(v.Term.ID, v.Term.Version) == e.Key })
	if !e.Deleted {
		v := Version{Message: &warrantyv1.WarrantyTerm{}, Revision: e.ModRevision}
		if err := proto.Unmarshal(e.Value, v.Message); err != nil {
			return fmt.Errorf("read the warranty term at %s: %w", e.Key, err)
		}
		var err error
		if v.Term, err = warrantywire.Term(v.Message); err != nil {
			return fmt.Errorf("read the warranty term at %s: %w", e.Key, err)
		}
		terms = append(terms, v)
		slices.SortFunc(terms, func(a, b Version) int { return warranty.OrderTerms(a.Term, b.Term) })
	}
	m.terms = terms
	return nil
}

// record takes in a time out of service or a claim.
func (m *memory) record(e projection.Event, kind Kind, serial vehicle.Serial, id string) error {
	next := &Vehicle{}
	if old := m.vehicles[serial]; old != nil {
		*next = *old
	}
	switch name := ""; kind {
	case Spans:
		name = warrantywire.SpanName(serial, id)
		next.Spans = slices.DeleteFunc(slices.Clone(next.Spans), func(s Span) bool { return s.Message.GetName() == name })
		if !e.Deleted {
			s := Span{Message: &warrantyv1.OutOfServiceSpan{}, Revision: e.ModRevision}
			if err := proto.Unmarshal(e.Value, s.Message); err != nil {
				return fmt.Errorf("read %s: %w", name, err)
			}
			s.Message.Name = name
			next.Spans = append(next.Spans, s)
			slices.SortFunc(next.Spans, func(a, b Span) int { return cmp.Compare(a.Message.GetName(), b.Message.GetName()) })
		}
	case Claims:
		name = warranty.ClaimName(serial, id)
		next.Claims = slices.DeleteFunc(slices.Clone(next.Claims), func(c Claim) bool { return c.Message.GetName() == name })
		if !e.Deleted {
			c := Claim{Message: &warrantyv1.Claim{}, Revision: e.ModRevision}
			if err := proto.Unmarshal(e.Value, c.Message); err != nil {
				return fmt.Errorf("read %s: %w", name, err)
			}
			c.Message.Name = name
			next.Claims = append(next.Claims, c)
			slices.SortFunc(next.Claims, func(a, b Claim) int { return cmp.Compare(a.Message.GetName(), b.Message.GetName()) })
		}
	}
	m.vehicles[serial] = next
	return nil
}

// Known implements projection.Handler.
func (m *memory) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		m.mu.RLock()
		defer m.mu.RUnlock()
		for _, v := range m.terms {
			if !yield(TermKey(v.Term.ID, v.Term.Version), v.Revision) {
				return
			}
		}
		for serial, v := range m.vehicles {
			for _, s := range v.Spans {
				if !yield(Spans.Key(serial, lastSegment(s.Message.GetName())), s.Revision) {
					return
				}
			}
			for _, c := range v.Claims {
				if !yield(Claims.Key(serial, lastSegment(c.Message.GetName())), c.Revision) {
					return
				}
			}
		}
	}
}
