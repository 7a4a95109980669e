package ownerstore

import (
	"context"
	"fmt"
	"os"
	"slices"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
)

// Expired is somebody, or one photograph of theirs, whose time is over.
type Expired struct {
	Person   string
	Document string // empty: the person
	Etag     int64  // revision of the person's record
	Held     bool
	owner.Expiry
}

// Expired gives who and what is past its time on a day, in order of identifier:
// people years after their last tie, and of those who stay the photographs. It
// opens every record that may be due, and no other.
func (s *Store) Expired(years int, today vehicle.Date) ([]Expired, error) {
	var out []Expired
	ids := s.PersonIDs()
	wanted := make(map[string]bool, len(ids))
	for _, id := range ids {
		wanted[id] = true
	}
	ties := s.TiesOf(wanted)
	for _, id := range ids {
		if lasting(ties[id], today) && len(s.DocumentIDs(id)) == 0 {
			continue
		}
		p, err := s.bare(id)
		if fault.Is(err, fault.NotFound) {
			continue // erased meanwhile
		}
		if err != nil {
			return nil, err
		}
		e, due := owner.PersonExpiry(p.Person, tiesOnly(ties[id]), years, today)
		if due {
			out = append(out, Expired{Person: id, Etag: p.ModRevision, Held: p.Hold != "", Expiry: e})
		}
		if due && p.Hold == "" {
			continue // the photographs go with the person
		}
		documents, err := s.expiredDocuments(id, p.Hold != "", today)
		if err != nil {
			return nil, err
		}
		out = append(out, documents...)
	}
	return out, nil
}

// lasting reports whether one of the ties lasts or is to begin.
func lasting(ties []TieRecord, today vehicle.Date) bool {
	return slices.ContainsFunc(ties, func(t TieRecord) bool { return !t.Over(today) })
}

func tiesOnly(list []TieRecord) []owner.Tie {
	out := make([]owner.Tie, len(list))
	for i, t := range list {
		out[i] = t.Tie
	}
	return out
}

func (s *Store) expiredDocuments(person string, held bool, today vehicle.Date) ([]Expired, error) {
	var out []Expired
	for _, id := range s.DocumentIDs(person) {
		d, err := s.Document(person, id)
		if fault.Is(err, fault.NotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		if e, due := owner.DocumentExpiry(d, today); due {
			out = append(out, Expired{Person: person, Document: id, Held: held, Expiry: e})
		}
	}
	return out, nil
}

// DropDocument removes a photograph while the fence holds: its record, then its
// file. A file whose removal was cut short is removed by the next pass.
func (s *Store) DropDocument(ctx context.Context, fence kv.Fence, person, id string) error {
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	record := documentsPrefix + person + "/" + id
	s.mu.RLock()
	at, there := s.state.documents[person][id]
	s.mu.RUnlock()
	if !there {
		return nil
	}
	if err := s.commit(ctx, kv.NewTxn().Fence(fence).Unchanged(record, at.modRevision).Delete(record)); err != nil {
		return err
	}
	return s.dropFile(person, id)
}

func (s *Store) dropFile(person, id string) error {
	if s.dir == "" {
		return nil
	}
	if err := os.Remove(s.documentPath(person, id)); err != nil && !os.IsNotExist(err) {
		return fmt.Errorf("remove a document of %s: %w", person, err)
	}
	return nil
}

// DropStrayFiles removes the files of people who are there that no record
// names: of a photograph whose removal, or whose arrival, was cut short. Nothing
// is put among the files meanwhile.
func (s *Store) DropStrayFiles(ctx context.Context) error {
	if s.dir == "" {
		return nil
	}
	s.rotation.Lock()
	defer s.rotation.Unlock()
	if err := s.catchUp(ctx); err != nil { // a record that memory has not heard of yet names its file too
		return err
	}
	for _, person := range s.PersonIDs() {
		files, err := os.ReadDir(s.documentPath(person, ""))
		if os.IsNotExist(err) {
			continue
		}
		if err != nil {
			return fmt.Errorf("list the documents of %s: %w", person, err)
		}
		for _, f := range files {
			s.mu.RLock()
			_, named := s.state.documents[person][f.Name()]
			s.mu.RUnlock()
			if named {
				continue
			}
			if err := s.dropFile(person, f.Name()); err != nil {
				return err
			}
		}
	}
	return nil
}
