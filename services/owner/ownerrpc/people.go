package ownerrpc

import (
	"context"
	"slices"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
)

// The pages of every list: as many as this unless asked, and never more than
// that.
const (
	usualPage = 50
	mostPage  = 500
)

// GetPerson implements the OwnerService.
func (s *Service) GetPerson(_ context.Context, r *ownerv1.GetPersonRequest) (*ownerv1.Person, error) {
	id, err := ownerwire.PersonID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	p, err := s.store.Person(id)
	if err != nil {
		return nil, err
	}
	return withEtag(ownerwire.PersonProto(p.Person), p.ModRevision), nil
}

// ListPeople implements the OwnerService.
func (s *Service) ListPeople(_ context.Context, r *ownerv1.ListPeopleRequest) (*ownerv1.ListPeopleResponse, error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	ids := s.store.PersonIDs()
	from, found := slices.BinarySearch(ids, after)
	if found {
		from++
	}
	out := &ownerv1.ListPeopleResponse{}
	for _, id := range ids[from:min(from+size, len(ids))] {
		p, err := s.store.Person(id)
		if fault.Is(err, fault.NotFound) {
			continue // erased since the list was made
		}
		if err != nil {
			return nil, err
		}
		out.People = append(out.People, withEtag(ownerwire.PersonProto(p.Person), p.ModRevision))
	}
	if from+size < len(ids) {
		out.NextPageToken = page.Token(r, ids[from+size-1])
	}
	return out, nil
}

// CreatePerson implements the OwnerService.
func (s *Service) CreatePerson(ctx context.Context, r *ownerv1.CreatePersonRequest) (*ownerv1.Person, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if a, found, err := s.store.AnsweredPerson(ctx, r.GetRequestId(), r); err != nil || found {
		return answer(a, err)
	}
	p := ownerwire.Person(r.GetPerson())
	p.ID, p.Created = kv.NewID(), s.now()
	if name := r.GetPerson().GetName(); name != "" {
		var err error
		if p.ID, err = ownerwire.PersonID("person.name", name); err != nil {
			return nil, err
		}
	}
	if err := fault.InvalidFields(fault.FieldsUnder("person", personFaults(p))); err != nil {
		return nil, err
	}
	a, err := s.store.CreatePerson(ctx, p, r.GetRequestId(), r)
	if fault.Is(err, fault.AlreadyExists) {
		return nil, fault.New(fault.AlreadyExists, "PERSON_EXISTS", "There is a person %s already.", p.ID)
	}
	return s.written(ctx, a, err)
}

// UpdatePerson implements the OwnerService. It replaces all but the moment the
// record was made.
func (s *Service) UpdatePerson(ctx context.Context, r *ownerv1.UpdatePersonRequest) (*ownerv1.Person, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if a, found, err := s.store.AnsweredPerson(ctx, r.GetRequestId(), r); err != nil || found {
		return answer(a, err)
	}
	id, err := ownerwire.PersonID("person.name", r.GetPerson().GetName())
	if err != nil {
		return nil, err
	}
	revision, err := kv.ParseEtag(r.GetPerson().GetEtag())
	if err != nil {
		return nil, fault.Under("person", err)
	}
	old, err := s.store.Person(id)
	if err != nil {
		return nil, err
	}
	if old.ModRevision != revision {
		return nil, changedMeanwhile("person", ownerwire.PersonName(id))
	}
	p := ownerwire.Person(r.GetPerson())
	p.Created = old.Created
	if err := fault.InvalidFields(fault.FieldsUnder("person", personFaults(p))); err != nil {
		return nil, err
	}
	a, err := s.store.ReplacePerson(ctx, p, revision, r.GetRequestId(), r)
	return s.written(ctx, a, err)
}

// changedMeanwhile is the refusal of an etag that is no longer the record's.
func changedMeanwhile(kind, record string) error {
	f := fault.New(fault.Aborted, "ETAG_MISMATCH", "The %s changed since it was read; read it again.", kind)
	f.Meta = map[string]string{"record": record}
	return f
}

// written answers a write once everybody here has seen it.
func (s *Service) written(ctx context.Context, a ownerstore.Answer, err error) (*ownerv1.Person, error) {
	if err != nil {
		return nil, err
	}
	if err := s.group.Wait(ctx, ownerstore.Service, a.Revision); err != nil {
		return nil, err
	}
	return answer(a, nil)
}

func answer(a ownerstore.Answer, err error) (*ownerv1.Person, error) {
	if err != nil {
		return nil, err
	}
	return withEtag(a.Person, a.Revision), nil
}

func withEtag(p *ownerv1.Person, revision int64) *ownerv1.Person {
	p.Etag = kv.Etag(revision)
	return p
}

// maxSealed is how much SealForPerson takes; with what sealing adds it still
// fits into one value of the store.
const maxSealed = 200 << 10

// SealForPerson implements the OwnerService.
func (s *Service) SealForPerson(_ context.Context, r *ownerv1.SealForPersonRequest) (*ownerv1.SealForPersonResponse, error) {
	id, err := ownerwire.PersonID("person", r.GetPerson())
	if err != nil {
		return nil, err
	}
	if len(r.GetPlaintext()) > maxSealed {
		return nil, fault.InvalidField("plaintext", owner.Described(string(r.GetPlaintext())), "at most 200 KiB")
	}
	sealed, err := s.store.Seal(id, r.GetPurpose(), r.GetPlaintext())
	if err != nil {
		return nil, err
	}
	return &ownerv1.SealForPersonResponse{Sealed: sealed}, nil
}

// OpenForPerson implements the OwnerService.
func (s *Service) OpenForPerson(_ context.Context, r *ownerv1.OpenForPersonRequest) (*ownerv1.OpenForPersonResponse, error) {
	id, err := ownerwire.PersonID("person", r.GetPerson())
	if err != nil {
		return nil, err
	}
	plain, err := s.store.Open(id, r.GetPurpose(), r.GetSealed())
	if err != nil {
		return nil, err
	}
	return &ownerv1.OpenForPersonResponse{Plaintext: plain}, nil
}

// mayKnow reports whether a tie is for the caller's eyes: an owner sees their
// own and learns nothing of who was before or is beside.
func mayKnow(c access.Caller, t owner.Tie) bool {
	return !c.Role.Limited() || c.Person != "" && c.Person == ownerwire.PersonName(t.Person)
}
