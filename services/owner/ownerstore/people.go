package ownerstore

import (
	"context"
	"fmt"
	"slices"
	"time"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
)

var deterministic = proto.MarshalOptions{Deterministic: true}

// retryAfter is the advice given when trying again soon will help.
const retryAfter = 2 * time.Second

// PersonRecord is a person as it stands at a revision, with the consents that
// count.
type PersonRecord struct {
	owner.Person
	Consents    []owner.Consent
	ModRevision int64
}

// Proto writes the record, with its etag.
func (p PersonRecord) Proto() *ownerv1.Person {
	out := ownerwire.PersonProto(p.Person)
	for _, c := range p.Consents {
		out.Consents = append(out.Consents, ownerwire.ConsentProto(c))
	}
	if p.ModRevision > 0 {
		out.Etag = kv.Etag(p.ModRevision)
	}
	return out
}

// HasPerson reports whether there is such a person.
func (s *Store) HasPerson(id string) bool {
	s.mu.RLock()
	defer s.mu.RUnlock()
	_, ok := s.state.people[id]
	return ok
}

// Erased reports whether a person of that identifier was erased.
func (s *Store) Erased(id string) bool {
	_, ok := s.Erasure(id)
	return ok
}

// Erasure gives the erasure of a person.
func (s *Store) Erasure(id string) (owner.Erasure, bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	r, ok := s.state.erasures[id]
	return r.Erasure, ok
}

// Person opens one person; NotFound when there is none.
func (s *Store) Person(id string) (PersonRecord, error) {
	p, err := s.bare(id)
	if err != nil {
		return PersonRecord{}, err
	}
	consents, err := s.Consents(id)
	p.Consents = owner.Counting(consents)
	return p, err
}

// bare opens a person without their consents.
func (s *Store) bare(id string) (PersonRecord, error) {
	s.mu.RLock()
	sealed, ok := s.state.people[id]
	s.mu.RUnlock()
	if !ok {
		return PersonRecord{}, access.NoPerson(id)
	}
	key, err := s.key(id)
	if err != nil {
		return PersonRecord{}, err
	}
	p, err := openPerson(key, sealed.value, id)
	return PersonRecord{Person: p, ModRevision: sealed.modRevision}, err
}

func sealPerson(key personKey, p owner.Person) ([]byte, error) {
	return sealMessage(key, ownerwire.PersonProto(p), forRecord, p.ID)
}

func openPerson(key personKey, sealed []byte, id string) (owner.Person, error) {
	var p ownerv1.Person
	if err := openMessage(key, sealed, &p, forRecord, id); err != nil {
		return owner.Person{}, fault.New(fault.Internal, "PERSON_DAMAGED", "the record of the person %s cannot be opened", id)
	}
	out, faults := ownerwire.Person(&p)
	if len(faults) > 0 {
		return owner.Person{}, fault.New(fault.Internal, "PERSON_DAMAGED", "the record of the person %s cannot be read", id)
	}
	return out, nil
}

// sealMessage seals a message, bound to what it is for and where it stands.
func sealMessage(key personKey, m proto.Message, binding ...string) ([]byte, error) {
	plain, err := deterministic.Marshal(m)
	if err != nil {
		return nil, fmt.Errorf("encode a record: %w", err)
	}
	return seal(key, plain, bound(binding...)), nil
}

func openMessage(key personKey, sealed []byte, m proto.Message, binding ...string) error {
	plain, err := open(key, sealed, bound(binding...))
	if err != nil {
		return err
	}
	return proto.Unmarshal(plain, m)
}

// CreatePerson writes a new person with a key of their own; AlreadyExists when
// the identifier is taken, or was.
func (s *Store) CreatePerson(ctx context.Context, p owner.Person, requestID string, request proto.Message) (*ownerv1.Person, int64, error) {
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	txn := kv.NewTxn()
	key, err := s.newKey(txn, p.ID)
	if err != nil {
		return nil, 0, err
	}
	txn.Absent(peoplePrefix + p.ID)
	return s.putPerson(ctx, txn, key, PersonRecord{Person: p}, requestID, request)
}

// ReplacePerson writes a person over the record read at its revision. Where their
// mail address or number is another than before, the one of before is kept with
// it until it was told: see ContactChanges.
func (s *Store) ReplacePerson(ctx context.Context, p PersonRecord, requestID string, request proto.Message) (*ownerv1.Person, int64, error) {
	key, err := s.key(p.ID)
	if err != nil {
		return nil, 0, err
	}
	txn := kv.NewTxn().Unchanged(peoplePrefix+p.ID, p.ModRevision)
	old, err := s.bare(p.ID)
	if err != nil {
		return nil, 0, err
	}
	if err := s.addContactChange(txn, key, old.Person, p.Person); err != nil {
		return nil, 0, err
	}
	return s.putPerson(ctx, txn, key, p, requestID, request)
}

// putPerson adds the record and the answer to the transaction and commits it.
func (s *Store) putPerson(ctx context.Context, txn *kv.Txn, key personKey, p PersonRecord, requestID string, request proto.Message) (*ownerv1.Person, int64, error) {
	sealed, err := sealPerson(key, p.Person)
	if err != nil {
		return nil, 0, err
	}
	p.ModRevision = 0 // the etag is the commit's
	answer := p.Proto()
	txn.PutBytes(peoplePrefix+p.ID, sealed)
	if err := once(txn, key, p.ID, requestID, request, answer); err != nil {
		return nil, 0, err
	}
	revision, err := s.commitOnce(ctx, txn, requestID, request, answer)
	return answer, revision, err
}

// Consents opens all consents of a person, those that count more last.
func (s *Store) Consents(person string) ([]owner.Consent, error) {
	s.mu.RLock()
	sealed := s.state.consents[person]
	list := make(map[string][]byte, len(sealed))
	for id, r := range sealed {
		list[id] = r.value
	}
	s.mu.RUnlock()
	if len(list) == 0 {
		return nil, nil
	}
	key, err := s.key(person)
	if err != nil {
		return nil, err
	}
	var out []owner.Consent
	for id, sealed := range list {
		var p ownerv1.Consent
		if err := openMessage(key, sealed, &p, forConsent, person, id); err != nil {
			return nil, fault.New(fault.Internal, "CONSENT_DAMAGED", "a consent of the person %s cannot be opened", person)
		}
		c, _ := ownerwire.Consent(&p)
		c.Person, c.ID = person, id
		out = append(out, c)
	}
	slices.SortFunc(out, owner.OrderConsents)
	return out, nil
}

func consentKey(c owner.Consent) string { return consentsPrefix + c.Person + "/" + c.ID }

// addConsent adds a new consent to the transaction.
func addConsent(txn *kv.Txn, key personKey, c owner.Consent) error {
	sealed, err := sealMessage(key, ownerwire.ConsentProto(c), forConsent, c.Person, c.ID)
	if err != nil {
		return err
	}
	txn.Absent(consentKey(c)).PutBytes(consentKey(c), sealed)
	return nil
}

// RecordConsent writes a new consent.
func (s *Store) RecordConsent(ctx context.Context, c owner.Consent, requestID string, request proto.Message) (*ownerv1.Consent, int64, error) {
	key, revision, err := s.keyAt(c.Person)
	if err != nil {
		return nil, 0, err
	}
	txn := kv.NewTxn().Unchanged(keysPrefix+c.Person, revision)
	if err := addConsent(txn, key, c); err != nil {
		return nil, 0, err
	}
	answer := ownerwire.ConsentProto(c)
	if err := once(txn, key, c.Person, requestID, request, answer); err != nil {
		return nil, 0, err
	}
	at, err := s.commitOnce(ctx, txn, requestID, request, answer)
	return answer, at, err
}

// Seal encrypts bytes under a person's key for another service to keep.
func (s *Store) Seal(person, purpose string, plain []byte) ([]byte, error) {
	key, err := s.key(person)
	if err != nil {
		return nil, err
	}
	return seal(key, plain, bound(forService, person, purpose)), nil
}

// Open decrypts what Seal made for the same person and purpose.
func (s *Store) Open(person, purpose string, sealed []byte) ([]byte, error) {
	key, err := s.key(person)
	if err != nil {
		return nil, err
	}
	return open(key, sealed, bound(forService, person, purpose))
}
