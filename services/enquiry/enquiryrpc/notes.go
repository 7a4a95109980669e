package enquiryrpc

import (
	"context"
	"slices"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/access"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
)

// noteProto writes a note with its etag.
func noteProto(k enquirystore.KeptNote) *enquiryv1.AnswerNote {
	p := enquirywire.NoteProto(k.Note)
	p.Etag = kv.Etag(k.Revision)
	return p
}

// CreateAnswerNote implements the EnquiryService.
func (s *Service) CreateAnswerNote(ctx context.Context, r *enquiryv1.CreateAnswerNoteRequest) (*enquiryv1.AnswerNote, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	q := enquirystore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.store.ReplayNote(ctx, q); err != nil || found {
		return noteProto(kept), err
	}
	n, err := enquirywire.AskedNote(r.GetAnswerNote())
	if err != nil {
		return nil, fault.Under("answer_note", err)
	}
	n.Created = s.now()
	if err := n.Check(); err != nil {
		return nil, fault.Under("answer_note", err)
	}
	kept, err := s.store.CreateNote(ctx, q, n)
	if fault.Is(err, fault.AlreadyExists) {
		return nil, fault.New(fault.AlreadyExists, "ANSWER_NOTE_EXISTS", "There is a note %s already: change it, or choose another name.", n.ID)
	}
	if err != nil {
		return nil, err
	}
	return noteProto(kept), nil
}

// UpdateAnswerNote implements the EnquiryService.
func (s *Service) UpdateAnswerNote(ctx context.Context, r *enquiryv1.UpdateAnswerNoteRequest) (*enquiryv1.AnswerNote, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	q := enquirystore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.store.ReplayNote(ctx, q); err != nil || found {
		return noteProto(kept), err
	}
	to, err := enquirywire.AskedNote(r.GetAnswerNote())
	if err != nil {
		return nil, fault.Under("answer_note", err)
	}
	kept, err := s.store.Note(to.ID)
	if err != nil {
		return nil, err
	}
	if err := kv.Matches("answer_note.etag", r.GetAnswerNote().GetEtag(), kept.Revision); err != nil {
		return nil, err
	}
	kept.Note = kept.Changed(to)
	if err := kept.Check(); err != nil {
		return nil, fault.Under("answer_note", err)
	}
	if kept, err = s.store.PutNote(ctx, q, kept); err != nil {
		return nil, err
	}
	return noteProto(kept), nil
}

// ReviewAnswerNote implements the EnquiryService.
func (s *Service) ReviewAnswerNote(ctx context.Context, r *enquiryv1.ReviewAnswerNoteRequest) (*enquiryv1.AnswerNote, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	id, err := enquirywire.NoteID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	q := enquirystore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.store.ReplayNote(ctx, q); err != nil || found {
		return noteProto(kept), err
	}
	kept, err := s.store.Note(id)
	if err != nil {
		return nil, err
	}
	if err := kv.Matches("etag", r.GetEtag(), kept.Revision); err != nil {
		return nil, err
	}
	if kept.Note, err = kept.ReviewedNow(access.CallerFrom(ctx).Bearer, s.now()); err != nil {
		return nil, err
	}
	if kept, err = s.store.PutNote(ctx, q, kept); err != nil {
		return nil, err
	}
	return noteProto(kept), nil
}

// GetAnswerNote implements the EnquiryService.
func (s *Service) GetAnswerNote(_ context.Context, r *enquiryv1.GetAnswerNoteRequest) (*enquiryv1.AnswerNote, error) {
	id, err := enquirywire.NoteID("name", r.GetName())
	if err != nil {
		return nil, err
	}
	kept, err := s.store.Note(id)
	if err != nil {
		return nil, err
	}
	return noteProto(kept), nil
}

// ListAnswerNotes implements the EnquiryService.
func (s *Service) ListAnswerNotes(_ context.Context, r *enquiryv1.ListAnswerNotesRequest) (*enquiryv1.ListAnswerNotesResponse, error) {
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	found := s.store.Notes(func(n enquiry.Note) bool {
		return n.ID > after && (!r.GetReviewedOnly() || n.ReviewedBy != "") &&
			(r.GetRelease() == "" || len(n.Releases) == 0 || slices.Contains(n.Releases, r.GetRelease()))
	})
	out := &enquiryv1.ListAnswerNotesResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, func(k enquirystore.KeptNote) string { return k.ID })
	for _, k := range found {
		out.AnswerNotes = append(out.AnswerNotes, noteProto(k))
	}
	return out, nil
}
