package ownerstore

import (
	"context"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/wholefile"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
)

// DocumentIDs gives the identifiers of a person's documents, sorted.
func (s *Store) DocumentIDs(person string) []string {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return sorted(s.state.documents[person])
}

// Document opens what a document is, without its content.
func (s *Store) Document(person, id string) (owner.Document, error) {
	s.mu.RLock()
	sealed, ok := s.state.documents[person][id]
	s.mu.RUnlock()
	key, err := s.key(person)
	if err != nil {
		return owner.Document{}, err
	}
	if !ok {
		return owner.Document{}, fault.New(fault.NotFound, "DOCUMENT_NOT_FOUND", "There is no such document of the person %s here.", person)
	}
	var p ownerv1.Document
	if err := openMessage(key, sealed.value, &p, forTitle, person, id); err != nil {
		return owner.Document{}, fault.New(fault.Internal, "DOCUMENT_DAMAGED", "a document of the person %s cannot be opened", person)
	}
	d, _ := ownerwire.Document(&p)
	d.Person, d.ID = person, id
	return d, nil
}

// Content opens the file of a document.
func (s *Store) Content(person, id string) ([]byte, error) {
	key, err := s.key(person)
	if err != nil {
		return nil, err
	}
	sealed, err := os.ReadFile(s.documentPath(person, id))
	if err != nil {
		return nil, fault.New(fault.Internal, "DOCUMENT_MISSING", "the file of a document of the person %s cannot be read", person)
	}
	plain, err := open(key, sealed, bound(forFile, person, id))
	if err != nil {
		return nil, fault.New(fault.Internal, "DOCUMENT_DAMAGED", "the file of a document of the person %s cannot be opened", person)
	}
	return plain, nil
}

func (s *Store) documentPath(person, id string) string { return filepath.Join(s.dir, person, id) }

// PutDocument keeps a file sealed under the key of d.Person, and what it is in the
// store. Its name is a digest of the content keyed by the person's key: a plain
// one would prove to whoever has the picture that it was theirs, also after they
// were erased. The file comes first: one without a
// record is harmless, and a record without a file is not. The same content
// again gives the document that is there.
func (s *Store) PutDocument(ctx context.Context, d owner.Document, content []byte, requestID string, request proto.Message) (*ownerv1.Document, int64, error) {
	if s.dir == "" {
		return nil, 0, fault.New(fault.FailedPrecondition, "NO_DOCUMENTS", "This process has no directory for documents.")
	}
	// The directory of a person is removed with them, so nothing is put into it
	// while somebody is erased.
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	key, keyRevision, err := s.keyAt(d.Person)
	if err != nil {
		return nil, 0, err
	}
	sum, err := key.mac("documents", string(content))
	if err != nil {
		return nil, 0, err
	}
	d.ID, d.Size = hex.EncodeToString(sum), int64(len(content))
	s.mu.RLock()
	old := s.state.documents[d.Person][d.ID]
	s.mu.RUnlock()
	if old.modRevision != 0 {
		there, err := s.Document(d.Person, d.ID)
		if err != nil {
			return nil, 0, err
		}
		d.Created = there.Created
	}
	path := s.documentPath(d.Person, d.ID)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, 0, fmt.Errorf("make a directory for documents: %w", err)
	}
	if err := wholefile.Replace(path, seal(key, content, bound(forFile, d.Person, d.ID))); err != nil {
		return nil, 0, fmt.Errorf("keep a document: %w", err)
	}
	answer := ownerwire.DocumentProto(d)
	sealed, err := sealMessage(key, answer, forTitle, d.Person, d.ID)
	if err != nil {
		return nil, 0, err
	}
	record := documentsPrefix + d.Person + "/" + d.ID
	txn := kv.NewTxn().Unchanged(keysPrefix+d.Person, keyRevision).Unchanged(record, old.modRevision).PutBytes(record, sealed)
	if err := once(txn, key, d.Person, requestID, request, answer); err != nil {
		return nil, 0, err
	}
	revision, err := s.commitOnce(ctx, txn, requestID, request, answer)
	return answer, revision, err
}

// dropDocuments removes the files of a person. They are noise without the key;
// noise takes room.
func (s *Store) dropDocuments(person string) error {
	if s.dir == "" || !owner.ValidID(person) {
		return nil
	}
	if err := os.RemoveAll(filepath.Join(s.dir, person)); err != nil {
		return fmt.Errorf("remove the documents of %s: %w", person, err)
	}
	return nil
}

// KnownPerson refuses, as everywhere, somebody who is not there.
func (s *Store) KnownPerson(id string) error {
	if !s.HasPerson(id) {
		return access.NoPerson(id)
	}
	return nil
}
