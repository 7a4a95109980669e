package ownerrpc

import (
	"context"
	"fmt"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/photograph"
	"halfshaft/services/owner/ownerwire"
)

// mostContent is how large a file may come: with the rest of its request it
// fits into a message.
const mostContent = 900 << 10

// mostDocuments is how many files are kept of a person: a photograph of the
// odometer each week of the two years for which they are kept, and as many
// again. Nobody is to fill the disk.
const mostDocuments = 200

// StoreDocument implements the OwnerService.
func (s *Service) StoreDocument(ctx context.Context, r *ownerv1.StoreDocumentRequest) (*ownerv1.Document, error) {
	answer := &ownerv1.Document{}
	if _, found, err := s.answered(ctx, r, answer); err != nil || found {
		return answer, err
	}
	person, err := ownerwire.PersonID("parent", r.GetParent())
	if err != nil {
		return nil, err
	}
	if err := s.store.KnownPerson(person); err != nil {
		return nil, err
	}
	if len(s.store.DocumentIDs(person)) >= mostDocuments {
		return nil, fault.New(fault.FailedPrecondition, "TOO_MANY_DOCUMENTS", "There are %d files of this person already, and no more are kept.", mostDocuments)
	}
	d, faults := ownerwire.Document(r.GetDocument())
	d.Person, d.Created, d.MediaType = person, s.now(), photograph.MediaType
	if err := fault.InvalidFields(fault.FieldsUnder("document", append(faults, d.Faults()...))); err != nil {
		return nil, err
	}
	if n := len(r.GetContent()); n == 0 || n > mostContent {
		return nil, fault.InvalidField("content", fmt.Sprintf("%d bytes", n), fmt.Sprintf("a JPEG or PNG picture of at most %d KiB", mostContent>>10))
	}
	drawn, err := s.drawn(ctx, r.GetContent())
	if err != nil {
		return nil, fault.Under("content", err)
	}
	answer, revision, err := s.store.PutDocument(ctx, d, drawn, r.GetRequestId(), r)
	return answer, s.seen(ctx, revision, err, func() {})
}

// drawn draws a picture anew, one at a time: decoded it may take hundreds of
// megabytes.
func (s *Service) drawn(ctx context.Context, content []byte) ([]byte, error) {
	select {
	case s.drawing <- struct{}{}:
		defer func() { <-s.drawing }()
		return photograph.Redraw(content)
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// GetDocument implements the OwnerService.
func (s *Service) GetDocument(_ context.Context, r *ownerv1.GetDocumentRequest) (*ownerv1.GetDocumentResponse, error) {
	person, id, err := ownerwire.DocumentID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	d, err := s.store.Document(person, id)
	if err != nil {
		return nil, err
	}
	content, err := s.store.Content(person, id)
	if err != nil {
		return nil, err
	}
	return &ownerv1.GetDocumentResponse{Document: ownerwire.DocumentProto(d), Content: content}, nil
}

// ListDocuments implements the OwnerService.
func (s *Service) ListDocuments(_ context.Context, r *ownerv1.ListDocumentsRequest) (*ownerv1.ListDocumentsResponse, error) {
	person, err := ownerwire.PersonID("parent", r.GetParent())
	if err != nil {
		return nil, err
	}
	if err := s.store.KnownPerson(person); err != nil {
		return nil, err
	}
	ids, next, err := pageOf(r, s.store.DocumentIDs(person), func(id string) string { return id })
	if err != nil {
		return nil, err
	}
	out := &ownerv1.ListDocumentsResponse{NextPageToken: next}
	for _, id := range ids {
		d, err := s.store.Document(person, id)
		if fault.Is(err, fault.NotFound) {
			continue // erased meanwhile
		}
		if err != nil {
			return nil, err
		}
		out.Documents = append(out.Documents, ownerwire.DocumentProto(d))
	}
	return out, nil
}
