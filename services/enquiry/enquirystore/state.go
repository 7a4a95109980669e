package enquirystore

import (
	"cmp"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"sync"

	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// state is what etcd holds, as last told.
type state struct {
	mu        sync.RWMutex
	enquiries map[vehicle.Serial]map[string]Kept
	notes     map[string]KeptNote
	asked     *enquiry.Index // of enquiries, by resource name
	answers   *enquiry.Index // of notes, likewise
}

func newState() *state {
	return &state{enquiries: map[vehicle.Serial]map[string]Kept{}, notes: map[string]KeptNote{}, asked: enquiry.NewIndex(), answers: enquiry.NewIndex()}
}

// Apply implements projection.Handler.
func (s *state) Apply(events []projection.Event, _ int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, e := range events {
		var err error
		switch {
		case strings.HasPrefix(e.Key, enquiriesPrefix):
			err = s.enquiry(e)
		case strings.HasPrefix(e.Key, notesPrefix):
			err = s.note(e)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (s *state) enquiry(e projection.Event) error {
	serial, id, ok := serialOf(e.Key)
	if !ok {
		return fmt.Errorf("an enquiry's key cannot be read")
	}
	name := enquirywire.EnquiryName(serial, id)
	if e.Deleted {
		delete(s.enquiries[serial], id)
		s.asked.Remove(name)
		return nil
	}
	k, err := parseEnquiry(e.Value, e.ModRevision)
	if err != nil {
		return err
	}
	if s.enquiries[serial] == nil {
		s.enquiries[serial] = map[string]Kept{}
	}
	s.enquiries[serial][id] = k
	s.asked.Put(k.Document(name))
	return nil
}

func (s *state) note(e projection.Event) error {
	id := strings.TrimPrefix(e.Key, notesPrefix)
	if e.Deleted {
		delete(s.notes, id)
		s.answers.Remove(enquirywire.NoteName(id))
		return nil
	}
	k, err := parseNote(e.Value, e.ModRevision)
	if err != nil {
		return err
	}
	s.notes[id] = k
	s.answers.Put(k.Document(enquirywire.NoteName(id)))
	return nil
}

// Known implements projection.Handler.
func (s *state) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		s.mu.RLock()
		defer s.mu.RUnlock()
		for serial, of := range s.enquiries {
			for id, k := range of {
				if !yield(enquiryKey(serial, id), k.Revision) {
					return
				}
			}
		}
		for id, k := range s.notes {
			if !yield(noteKey(id), k.Revision) {
				return
			}
		}
	}
}

// Enquiry gives one enquiry.
func (s *Store) Enquiry(serial vehicle.Serial, id string) (Kept, error) {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	k, ok := s.state.enquiries[serial][id]
	if !ok {
		return Kept{}, fault.New(fault.NotFound, "ENQUIRY_NOT_FOUND", "There is no enquiry %s of %s here.", id, serial)
	}
	return k, nil
}

// Latest orders enquiries, the latest first.
func Latest(a, b Kept) int {
	return cmp.Or(b.Asked.Compare(a.Asked), cmp.Compare(a.Serial, b.Serial), cmp.Compare(b.ID, a.ID))
}

// Enquiries gives those that are kept of a vehicle, or of all for an empty
// serial, the latest first.
func (s *Store) Enquiries(serial vehicle.Serial, keep func(enquiry.Enquiry) bool) []Kept {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	var out []Kept
	add := func(of map[string]Kept) {
		for _, k := range of {
			if keep(k.Enquiry) {
				out = append(out, k)
			}
		}
	}
	if serial != "" {
		add(s.state.enquiries[serial])
	} else {
		for _, of := range s.state.enquiries {
			add(of)
		}
	}
	slices.SortFunc(out, Latest)
	return out
}

// Similar is an enquiry with what it has in common with a question.
type Similar struct {
	Kept
	enquiry.Found
}

// Like gives the enquiries that are like a question, the best first.
func (s *Store) Like(q enquiry.Question, keep func(enquiry.Enquiry) bool) []Similar {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	found := s.state.asked.Like(q, func(key string) bool { k, ok := s.state.named(key); return ok && keep(k.Enquiry) })
	out := make([]Similar, 0, len(found))
	for _, f := range found {
		if k, ok := s.state.named(f.Key); ok {
			out = append(out, Similar{k, f})
		}
	}
	return out
}

func (s *state) named(name string) (Kept, bool) {
	serial, id, err := enquirywire.EnquiryID("name", name)
	if err != nil {
		return Kept{}, false
	}
	k, ok := s.enquiries[serial][id]
	return k, ok
}

// Note gives one note.
func (s *Store) Note(id string) (KeptNote, error) {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	k, ok := s.state.notes[id]
	if !ok {
		return KeptNote{}, fault.New(fault.NotFound, "ANSWER_NOTE_NOT_FOUND", "There is no note %s here.", id)
	}
	return k, nil
}

// Notes gives those that are kept, by their names.
func (s *Store) Notes(keep func(enquiry.Note) bool) []KeptNote {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	var out []KeptNote
	for _, id := range slices.Sorted(maps.Keys(s.state.notes)) {
		if k := s.state.notes[id]; keep(k.Note) {
			out = append(out, k)
		}
	}
	return out
}

// NotesLike gives the notes for a release that are like a question, the best
// first.
func (s *Store) NotesLike(q enquiry.Question) []KeptNote {
	s.state.mu.RLock()
	defer s.state.mu.RUnlock()
	var out []KeptNote
	for _, f := range s.state.answers.Like(q, nil) {
		if k := s.state.notes[strings.TrimPrefix(f.Key, enquirywire.NoteName(""))]; k.For(q.Release) {
			out = append(out, k)
		}
	}
	return out
}
