package handbookrpc

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookstore"
	"halfshaft/services/handbook/handbookwire"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
)

// maxBookBytes keeps a version, which is stored twice with the answer to its
// request, below what one transaction and a chunk of an import hold.
const maxBookBytes = 180 << 10

// CreateBook implements the HandbookService.
func (s *Service) CreateBook(ctx context.Context, r *handbookv1.CreateBookRequest) (*handbookv1.Book, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	q := handbookstore.Request{ID: r.GetRequestId(), Payload: r}
	first := &handbookv1.Book{}
	if revision, found, err := s.store.Lookup(ctx, q, first); err != nil || found {
		first.Etag = kv.Etag(revision)
		return first, err
	}
	if r.GetBook() == nil {
		return nil, fault.InvalidField("book", "", "a version of a book")
	}
	m := proto.CloneOf(r.GetBook())
	m.CreateTime, m.Etag = timestamppb.New(s.now()), ""
	if size := proto.Size(m); size > maxBookBytes {
		return nil, fault.InvalidField("book", fmt.Sprintf("%d bytes", size), "at most 184,320 bytes")
	}
	s.importing.RLock()
	defer s.importing.RUnlock()
	b, err := handbookwire.Book(m)
	if err == nil {
		err = s.admit(b)
	}
	if err != nil {
		return nil, fault.Under("book", err)
	}
	if r.GetValidateOnly() {
		return m, nil
	}
	revision, err := s.store.CreateBook(audit.Making(ctx, m.GetName()), q, b.ID, b.Version, m)
	if fault.Is(err, fault.AlreadyExists) {
		return nil, fault.New(fault.AlreadyExists, "BOOK_EXISTS", "There is a version %d of the book %s already; a version never changes: give it the next number.", b.Version, b.ID)
	}
	if err != nil {
		return nil, err
	}
	m.Etag = kv.Etag(revision)
	return m, nil
}

// admit refuses a book with anything wrong in it, by itself or beside the versions
// that there are.
func (s *Service) admit(b *handbook.Book) error {
	fields := fault.FieldsOf("", b.Check(s.compiler))
	for _, v := range s.store.Books() {
		if v.Book.ID != b.ID {
			continue
		}
		if v.Book.Version == b.Version {
			return fault.New(fault.AlreadyExists, "BOOK_EXISTS", "There is a version %d of the book %s already; a version never changes: give it the next number.", b.Version, b.ID)
		}
		if f, wrong := b.OutOfOrder(v.Book); wrong {
			fields = append(fields, f)
		}
	}
	if len(fields) > 0 {
		return fault.InvalidFields(fields)
	}
	return nil
}

// GetBook implements the HandbookService.
func (s *Service) GetBook(_ context.Context, r *handbookv1.GetBookRequest) (*handbookv1.Book, error) {
	id, version, err := handbookwire.BookID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	v, err := s.store.Book(id, version)
	if err != nil {
		return nil, err
	}
	m := proto.CloneOf(v.Message)
	m.Etag = kv.Etag(v.Revision)
	return m, nil
}

// ListBooks implements the HandbookService.
func (s *Service) ListBooks(_ context.Context, r *handbookv1.ListBooksRequest) (*handbookv1.ListBooksResponse, error) {
	size, err := page.Size(r.GetPageSize(), 50, 500)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	key := func(v handbookstore.Version) string { return fmt.Sprintf("%s/%04d", v.Book.ID, v.Book.Version) }
	found := slices.DeleteFunc(slices.Clone(s.store.Books()), func(v handbookstore.Version) bool { return key(v) <= after })
	slices.SortFunc(found, func(a, b handbookstore.Version) int { return strings.Compare(key(a), key(b)) })
	out := &handbookv1.ListBooksResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, key)
	for _, v := range found {
		m := v.Message
		out.Books = append(out.Books, &handbookv1.Book{
			Name: m.GetName(), Title: m.GetTitle(), Language: m.GetLanguage(), EffectiveDate: m.GetEffectiveDate(), Releases: m.GetReleases(),
			Sample: m.GetSample(), SignedBy: m.GetSignedBy(), CreateTime: m.GetCreateTime(), Etag: kv.Etag(v.Revision),
		})
	}
	return out, nil
}

// bookFor gives the book for a release on a day: the last that is in force, of
// those that name the release before those that are for all.
func (s *Service) bookFor(release string, on vehicle.Date) (*handbook.Compiled, error) {
	var best *handbookstore.Version
	for _, v := range s.store.Books() {
		b := v.Book
		if b.Effective.After(on) || len(b.Releases) > 0 && !slices.Contains(b.Releases, release) {
			continue
		}
		if best == nil || better(b, best.Book) {
			best = &v
		}
	}
	if best == nil {
		return nil, fault.New(fault.FailedPrecondition, "NO_BOOK", "There is no book for release %s that is in force on %s: import one first.", release, on)
	}
	return s.compile(best)
}

// better says whether a book goes before another for a vehicle.
func better(b, other *handbook.Book) bool {
	if own, theirs := len(b.Releases) > 0, len(other.Releases) > 0; own != theirs {
		return own
	}
	if c := b.Effective.Compare(other.Effective); c != 0 {
		return c > 0
	}
	return b.ID < other.ID || b.ID == other.ID && b.Version > other.Version
}

// compile makes the predicates of a version, once.
func (s *Service) compile(v *handbookstore.Version) (*handbook.Compiled, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if c := s.compiled[v.Book.Name()]; c != nil {
		return c, nil
	}
	c, err := handbook.Compile(v.Book, s.compiler)
	if err != nil { // by rules that came after it
		return nil, fault.New(fault.FailedPrecondition, "BOOK_REFUSED", "The book %s is not right any more: enter a new version. %v", v.Book.Name(), err)
	}
	s.compiled[v.Book.Name()] = c
	return c, nil
}
