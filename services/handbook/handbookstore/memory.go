package handbookstore

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
	"strings"
	"sync"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// Version is a version of a book as it is stored.
type Version struct {
	Message  *handbookv1.Book // not to be changed
	Book     *handbook.Book   // read of it; not to be changed
	Revision int64
}

// Issue is an issue as it is stored.
type Issue struct {
	Message  *handbookv1.HandbookIssue // not to be changed
	Number   int
	Revision int64
}

// memory is what etcd holds, as last told. Its lists are replaced and never
// changed.
type memory struct {
	mu     sync.RWMutex
	books  []Version                  // by identifier, then by number
	issues map[vehicle.Serial][]Issue // by number
}

func newMemory() *memory { return &memory{issues: map[vehicle.Serial][]Issue{}} }

// Apply implements projection.Handler.
func (m *memory) Apply(events []projection.Event, _ int64) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for _, e := range events {
		var err error
		switch {
		case strings.HasPrefix(e.Key, booksPrefix):
			err = m.book(e)
		case strings.HasPrefix(e.Key, issuesPrefix):
			err = m.issue(e)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (m *memory) book(e projection.Event) error {
	id, n, err := parse(e.Key, booksPrefix)
	if err != nil {
		return err
	}
	books := slices.DeleteFunc(slices.Clone(m.books), func(v Version) bool { return v.Book.ID == id && v.Book.Version == n })
	if !e.Deleted {
		v := Version{Message: &handbookv1.Book{}, Revision: e.ModRevision}
		if err := unmarshal(e.Value, v.Message); err != nil {
			return err
		}
		if v.Book, err = handbookwire.Book(v.Message); err != nil {
			return fmt.Errorf("read the book at %s: %w", e.Key, err)
		}
		books = append(books, v)
		slices.SortFunc(books, func(a, b Version) int {
			return cmp.Or(strings.Compare(a.Book.ID, b.Book.ID), cmp.Compare(a.Book.Version, b.Book.Version))
		})
	}
	m.books = books
	return nil
}

func (m *memory) issue(e projection.Event) error {
	of, n, err := parse(e.Key, issuesPrefix)
	if err != nil {
		return err
	}
	serial := vehicle.Serial(of)
	issues := slices.DeleteFunc(slices.Clone(m.issues[serial]), func(i Issue) bool { return i.Number == n })
	if !e.Deleted {
		i := Issue{Message: &handbookv1.HandbookIssue{}, Number: n, Revision: e.ModRevision}
		if err := unmarshal(e.Value, i.Message); err != nil {
			return err
		}
		issues = append(issues, i)
		slices.SortFunc(issues, func(a, b Issue) int { return cmp.Compare(a.Number, b.Number) })
	}
	m.issues[serial] = issues
	return nil
}

// Known implements projection.Handler.
func (m *memory) Known() iter.Seq2[string, int64] {
	return func(yield func(string, int64) bool) {
		m.mu.RLock()
		defer m.mu.RUnlock()
		for _, v := range m.books {
			if !yield(bookKey(v.Book.ID, v.Book.Version), v.Revision) {
				return
			}
		}
		for serial, issues := range m.issues {
			for _, i := range issues {
				if !yield(issueKey(serial, i.Number), i.Revision) {
					return
				}
			}
		}
	}
}

// Books gives all versions of all books, by identifier and number; not to be
// changed.
func (s *Store) Books() []Version {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.books
}

// Book finds a version; the latest for handbookwire.Latest.
func (s *Store) Book(id string, version int) (Version, error) {
	var found *Version
	for _, v := range s.Books() {
		if v.Book.ID == id && (version == handbookwire.Latest || v.Book.Version == version) {
			found = &v
		}
	}
	if found == nil {
		return Version{}, fault.New(fault.NotFound, "BOOK_NOT_FOUND", "There is no such version of a book here.")
	}
	return *found, nil
}

// Issues gives the issues of a vehicle by number; not to be changed.
func (s *Store) Issues(serial vehicle.Serial) []Issue {
	s.memory.mu.RLock()
	defer s.memory.mu.RUnlock()
	return s.memory.issues[serial]
}

// Issue finds an issue; the last one for handbookwire.Latest.
func (s *Store) Issue(serial vehicle.Serial, n int) (Issue, error) {
	var found *Issue
	for _, i := range s.Issues(serial) {
		if n == handbookwire.Latest || i.Number == n {
			found = &i
		}
	}
	if found == nil {
		return Issue{}, fault.New(fault.NotFound, "HANDBOOK_ISSUE_NOT_FOUND", "There is no such issue of the handbook of %s here.", serial)
	}
	return *found, nil
}
