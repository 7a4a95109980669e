package ownerstore

import (
	"context"
	"crypto/cipher"
	"fmt"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
)

var deterministic = proto.MarshalOptions{Deterministic: true}

// PersonRecord is a person as it stands at a revision.
type PersonRecord struct {
	owner.Person
	ModRevision int64
}

// HasPerson reports whether there is such a person.
func (s *Store) HasPerson(id string) bool {
	s.mu.RLock()
	defer s.mu.RUnlock()
	_, ok := s.people[id]
	return ok
}

// Person opens one person; NotFound when there is none.
func (s *Store) Person(id string) (PersonRecord, error) {
	s.mu.RLock()
	sealed, ok := s.people[id]
	s.mu.RUnlock()
	if !ok {
		return PersonRecord{}, access.NoPerson(id)
	}
	key, err := s.key(id)
	if err != nil {
		return PersonRecord{}, err
	}
	p, err := openPerson(key, sealed.sealed, forRecord, id)
	if err != nil {
		return PersonRecord{}, fault.New(fault.Internal, "PERSON_DAMAGED", "the record of the person %s cannot be opened", id)
	}
	return PersonRecord{ownerwire.Person(p), sealed.modRevision}, nil
}

// key gives the key of a person; NotFound when there is none, or no more.
func (s *Store) key(id string) (cipher.AEAD, error) {
	s.mu.RLock()
	wrapped, ok := s.wrapped[id]
	s.mu.RUnlock()
	if !ok {
		return nil, access.NoPerson(id)
	}
	return s.master.personKey(id, wrapped)
}

func sealPerson(key cipher.AEAD, p owner.Person, purpose string) ([]byte, error) {
	plain, err := deterministic.Marshal(ownerwire.PersonProto(p))
	if err != nil {
		return nil, fmt.Errorf("encode a person: %w", err)
	}
	return seal(key, plain, bound(purpose, p.ID)), nil
}

func openPerson(key cipher.AEAD, sealed []byte, purpose, id string) (*ownerv1.Person, error) {
	plain, err := open(key, sealed, bound(purpose, id))
	if err != nil {
		return nil, err
	}
	var p ownerv1.Person
	return &p, proto.Unmarshal(plain, &p)
}

// Answer is a person as a request was answered, at its first time or again.
type Answer struct {
	Person   *ownerv1.Person // without the etag
	Revision int64
}

// AnsweredPerson gives the answer of a request that was answered before.
func (s *Store) AnsweredPerson(ctx context.Context, requestID string, request proto.Message) (Answer, bool, error) {
	if requestID == "" {
		return Answer{}, false, nil
	}
	print, err := s.master.fingerprint(request)
	if err != nil {
		return Answer{}, false, err
	}
	done, found, err := s.kv.Lookup(ctx, Service, requestID, print)
	if err != nil || !found {
		return Answer{}, false, err
	}
	a, err := s.replayed(done)
	return a, err == nil, err
}

// replayed opens an answer that was kept sealed. Once the person is erased it
// is gone with them.
func (s *Store) replayed(done kv.Result) (Answer, error) {
	var kept ownerv1.OpenForPersonRequest
	if err := proto.Unmarshal(done.Answer, &kept); err != nil {
		return Answer{}, fmt.Errorf("read a kept answer: %w", err)
	}
	id, err := ownerwire.PersonID("person", kept.GetPerson())
	if err != nil {
		return Answer{}, err
	}
	key, err := s.key(id)
	if err != nil {
		return Answer{}, err
	}
	p, err := openPerson(key, kept.GetSealed(), forAnswer, id)
	return Answer{p, done.Revision}, err
}

// CreatePerson writes a new person with a key of their own; AlreadyExists when
// the identifier is taken.
func (s *Store) CreatePerson(ctx context.Context, p owner.Person, requestID string, request proto.Message) (Answer, error) {
	key, wrapped, err := s.master.newPersonKey(p.ID)
	if err != nil {
		return Answer{}, err
	}
	txn := kv.NewTxn().Absent(keysPrefix+p.ID).Absent(peoplePrefix+p.ID).PutBytes(keysPrefix+p.ID, wrapped)
	return s.putPerson(ctx, txn, key, p, requestID, request)
}

// ReplacePerson writes a person over the record read at modRevision.
func (s *Store) ReplacePerson(ctx context.Context, p owner.Person, modRevision int64, requestID string, request proto.Message) (Answer, error) {
	key, err := s.key(p.ID)
	if err != nil {
		return Answer{}, err
	}
	return s.putPerson(ctx, kv.NewTxn().Unchanged(peoplePrefix+p.ID, modRevision), key, p, requestID, request)
}

// putPerson adds the record and the sealed answer to the transaction and
// commits it.
func (s *Store) putPerson(ctx context.Context, txn *kv.Txn, key cipher.AEAD, p owner.Person, requestID string, request proto.Message) (Answer, error) {
	record, err := sealPerson(key, p, forRecord)
	if err != nil {
		return Answer{}, err
	}
	txn.PutBytes(peoplePrefix+p.ID, record)
	if requestID != "" {
		kept, err := sealPerson(key, p, forAnswer)
		if err != nil {
			return Answer{}, err
		}
		print, err := s.master.fingerprint(request)
		if err != nil {
			return Answer{}, err
		}
		txn.Once(Service, requestID, print, &ownerv1.OpenForPersonRequest{Person: ownerwire.PersonName(p.ID), Sealed: kept})
	}
	done, err := s.kv.Commit(ctx, txn)
	if err != nil {
		return Answer{}, err
	}
	if done.Replayed {
		return s.replayed(done)
	}
	return Answer{ownerwire.PersonProto(p), done.Revision}, nil
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
