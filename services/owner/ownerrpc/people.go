package ownerrpc

import (
	"context"
	"slices"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/audit"
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
	return p.Proto(), nil
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
		out.People = append(out.People, p.Proto())
	}
	if from+size < len(ids) {
		out.NextPageToken = page.Token(r, ids[from+size-1])
	}
	return out, nil
}

// CreatePerson implements the OwnerService.
func (s *Service) CreatePerson(ctx context.Context, r *ownerv1.CreatePersonRequest) (*ownerv1.Person, error) {
	answer := &ownerv1.Person{}
	if revision, found, err := s.answered(ctx, r, answer); err != nil || found {
		return withEtag(answer, revision), err
	}
	p, err := s.newPerson("person", r.GetPerson())
	if err != nil {
		return nil, err
	}
	if s.store.Erased(p.ID) {
		return nil, neverAgain(p.ID)
	}
	answer, revision, err := s.store.CreatePerson(audit.Making(ctx, ownerwire.PersonName(p.ID)), p, r.GetRequestId(), r)
	if fault.Is(err, fault.AlreadyExists) {
		return nil, fault.New(fault.AlreadyExists, "PERSON_EXISTS", "There is a person %s already.", p.ID)
	}
	return answer, s.seen(ctx, revision, err, func() { withEtag(answer, revision) })
}

func neverAgain(id string) error {
	return fault.New(fault.AlreadyExists, "PERSON_ERASED", "A person %s was erased, and an identifier is never used again.", id)
}

// newPerson reads somebody who is to be created. Without a name they get one.
func (s *Service) newPerson(field string, from *ownerv1.Person) (owner.Person, error) {
	p, faults := ownerwire.Person(from)
	p.ID, p.Created, p.Undeliverable, p.Hold = kv.NewID(), s.now(), nil, "" // a hold is of a record that is there
	if name := from.GetName(); name != "" {
		id, err := ownerwire.PersonID("name", name)
		if err != nil {
			faults = append(faults, fault.FieldsOf("", err)...)
		}
		p.ID = id
	}
	return p, fault.InvalidFields(fault.FieldsUnder(field, append(faults, s.personFaults(p)...)))
}

// UpdatePerson implements the OwnerService. It replaces all but the moment the
// record was made, the consents, and the marks of addresses that stay.
func (s *Service) UpdatePerson(ctx context.Context, r *ownerv1.UpdatePersonRequest) (*ownerv1.Person, error) {
	answer := &ownerv1.Person{}
	if revision, found, err := s.answered(ctx, r, answer); err != nil || found {
		return withEtag(answer, revision), err
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
	p, faults := ownerwire.Person(r.GetPerson())
	if err := fault.InvalidFields(fault.FieldsUnder("person", append(faults, s.personFaults(p)...))); err != nil {
		return nil, err
	}
	p.Created = old.Created
	if access.CallerFrom(ctx).Role == access.Owner { // a hold is the works' to make and to lift
		p.Hold = old.Hold
	}
	old.Person = p.Keeping(old.Person)
	answer, revision, err = s.store.ReplacePerson(ctx, old, r.GetRequestId(), r)
	return answer, s.seen(ctx, revision, err, func() { withEtag(answer, revision) })
}

// MarkUndeliverable implements the OwnerService.
func (s *Service) MarkUndeliverable(ctx context.Context, r *ownerv1.MarkUndeliverableRequest) (*ownerv1.Person, error) {
	answer := &ownerv1.Person{}
	if revision, found, err := s.answered(ctx, r, answer); err != nil || found {
		return withEtag(answer, revision), err
	}
	id, err := ownerwire.PersonID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	way := ownerwire.Way(r.GetWay())
	if way != owner.Mail && way != owner.Text && way != owner.Letter {
		return nil, fault.InvalidField("way", r.GetWay().String(), "MAIL, TEXT or LETTER")
	}
	if r.GetAddress() == "" {
		return nil, fault.InvalidField("address", "", "the address or number that the message went to")
	}
	for {
		p, err := s.store.Person(id)
		if err != nil {
			return nil, err
		}
		marked := p.Marked(owner.Undeliverable{Way: way, Since: s.now(), Reason: owner.WithoutAddresses(r.GetReason())})
		if !p.IsAt(way, r.GetAddress()) || len(marked.Undeliverable) == len(p.Undeliverable) {
			return p.Proto(), nil
		}
		p.Person = marked
		answer, revision, err := s.store.ReplacePerson(ctx, p, r.GetRequestId(), r)
		if !fault.Is(err, fault.Aborted) {
			return answer, s.seen(ctx, revision, err, func() { withEtag(answer, revision) })
		}
		if err := s.store.Follow(ctx); err != nil { // somebody changed the record meanwhile
			return nil, err
		}
	}
}

// request is a request with an id.
type request interface {
	proto.Message
	GetRequestId() string
}

// answered gives the answer of a request with personal data that was answered
// before.
func (s *Service) answered(ctx context.Context, r request, answer proto.Message) (revision int64, found bool, err error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return 0, false, err
	}
	return s.store.Answered(ctx, r.GetRequestId(), r, answer)
}

// seen waits until everybody here has seen a write, and then lets the answer be
// completed.
func (s *Service) seen(ctx context.Context, revision int64, err error, complete func()) error {
	if err != nil {
		return err
	}
	complete()
	return s.group.Wait(ctx, ownerstore.Service, revision)
}

// changedMeanwhile is the refusal of an etag that is no longer the record's.
func changedMeanwhile(kind, record string) error {
	f := fault.New(fault.Aborted, "ETAG_MISMATCH", "The %s changed since it was read; read it again.", kind)
	f.Meta = map[string]string{"record": record}
	return f
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
