package enquiryrpc

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/access"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
)

// StageImport implements the EnquiryService. Each row is checked by itself; what
// it refers to is checked when the import is committed, but for who asked: their
// words are sealed before anything is kept of them.
func (s *Service) StageImport(ctx context.Context, r *enquiryv1.StageImportRequest) (*enquiryv1.StageImportResponse, error) {
	if err := staging.Fits(len(r.GetRows()), proto.Size(r)); err != nil {
		return nil, err
	}
	rows, err := s.readRows(r.GetRows())
	if err != nil || r.GetValidateOnly() {
		return &enquiryv1.StageImportResponse{}, err
	}
	chunk, err := s.sealedChunk(ctx, rows)
	if err != nil {
		return nil, err
	}
	err = s.staging.Stage(ctx, r.GetImportId(), int(r.GetSequence()), chunk)
	var f *fault.Error
	if errors.As(err, &f) && f.Reason == "CHUNK_DIFFERS" {
		err = s.stagedBefore(ctx, r.GetImportId(), chunk, err)
	}
	if err != nil {
		return nil, err
	}
	staged, _, _, err := s.staging.Progress(ctx, r.GetImportId())
	return &enquiryv1.StageImportResponse{StagedChunks: int32(staged)}, err
}

// importRow is one record of an import, read: the one or the other.
type importRow struct {
	name    string
	enquiry *enquiry.Enquiry
	note    *enquiry.Note
}

// readRows reads rows and refuses them with all that is wrong with each by
// itself.
func (s *Service) readRows(from []*enquiryv1.EnquiryRow) ([]importRow, error) {
	rows := make([]importRow, len(from))
	var wrong []fault.Field
	for i, p := range from {
		var err error
		switch {
		case p.GetEnquiry() != nil:
			rows[i], err = s.readEnquiry(p.GetEnquiry())
			err = fault.Under("enquiry", err)
		case p.GetAnswerNote() != nil:
			rows[i], err = s.readNote(p.GetAnswerNote())
			err = fault.Under("answer_note", err)
		default:
			err = fault.InvalidField("", "", "an enquiry or a note")
		}
		wrong = append(wrong, fault.FieldsOf(fmt.Sprintf("rows[%d]", i), err)...)
	}
	return rows, fault.InvalidFields(wrong)
}

// readEnquiry reads an enquiry with its answers. One whose asker is on record may
// have no words: they are gone with the key.
func (s *Service) readEnquiry(p *enquiryv1.Enquiry) (importRow, error) {
	if _, _, err := enquirywire.EnquiryID("name", p.GetName()); err != nil {
		return importRow{name: p.GetName()}, err
	}
	e, err := enquirywire.Enquiry(p)
	wrong := fault.FieldsOf("", err)
	looked := e
	looked.Asked = e.AskedBy(s.now())
	if wordless(e) {
		looked.Question = "gone"
	}
	wrong = append(wrong, fault.FieldsOf("", looked.Restored(s.now().In(s.Zone)))...)
	if t := p.GetCreateTime(); t != nil && !t.IsValid() {
		wrong = append(wrong, fault.Field{Name: "create_time", Got: t.String(), Want: "a time in the years 1 to 9999"})
	}
	return importRow{name: enquirywire.EnquiryName(e.Serial, e.ID), enquiry: &e}, fault.InvalidFields(wrong)
}

func (s *Service) readNote(p *enquiryv1.AnswerNote) (importRow, error) {
	n, err := enquirywire.Note(p)
	if err != nil {
		return importRow{name: p.GetName()}, err
	}
	return importRow{name: enquirywire.NoteName(n.ID), note: &n}, n.Restored(s.now())
}

// wordless reports whether nobody's words are in an enquiry of somebody on
// record.
func wordless(e enquiry.Enquiry) bool {
	for _, a := range e.Answers {
		if a.Text != "" {
			return false
		}
	}
	return e.OnRecord() && e.Question == ""
}

// lost stands where the words of somebody were who was erased: what cannot be
// opened, so that they are told to be gone here too.
var lost = []byte{0}

// sealedChunk gives rows as they are staged. All who are not on record are told
// of at once.
func (s *Service) sealedChunk(ctx context.Context, rows []importRow) ([]byte, error) {
	out := &enquiryv1.StagedEnquiries{}
	var wrong []fault.Field
	for i, r := range rows {
		if r.note != nil {
			out.Notes = append(out.Notes, enquirywire.NoteProto(*r.note))
			continue
		}
		e, at := *r.enquiry, fmt.Sprintf("rows[%d]", i)
		if e.Release == "" {
			release, err := s.releaseOn(ctx, e.Serial, vehicle.DateOf(e.AskedBy(s.now()).In(s.Zone)))
			if fault.Is(err, fault.NotFound) {
				wrong = append(wrong, fault.Field{Name: at + ".enquiry.name", Got: r.name, Want: "an enquiry about a vehicle that is there"})
				continue
			}
			if err != nil {
				return nil, err
			}
			e.Release = release
		}
		k, err := s.sealed(ctx, e, 0)
		switch {
		case fault.Is(err, fault.Invalid) && wordless(e):
			k, err = enquirystore.Kept{Enquiry: e, Sealed: lost}, nil
		case err == nil && wordless(e) && e.Symptom == "":
			err = fault.InvalidField("enquiry.question", "", "what was asked, in words")
		}
		if err != nil && !fault.Is(err, fault.Invalid) {
			return nil, err
		}
		wrong = append(wrong, fault.FieldsOf(at, err)...)
		out.Enquiries = append(out.Enquiries, enquirywire.KeptProto(k.Enquiry, k.Sealed))
	}
	if err := fault.InvalidFields(wrong); err != nil {
		return nil, err
	}
	return proto.MarshalOptions{Deterministic: true}.Marshal(out)
}

// stagedBefore forgives that a chunk is staged already in other bytes when it
// says the same: what is sealed is never the same twice.
func (s *Service) stagedBefore(ctx context.Context, importID string, chunk []byte, refusal error) error {
	want, err := s.spelt(ctx, chunk)
	if err != nil {
		return err
	}
	_, _, err = s.staging.Review(ctx, importID, func(staged []byte) error {
		got, err := s.spelt(ctx, staged)
		if err == nil && bytes.Equal(got, want) {
			refusal = nil
		}
		return err
	})
	return cmp.Or(err, refusal)
}

// spelt gives what a staged chunk says, with the words open.
func (s *Service) spelt(ctx context.Context, chunk []byte) ([]byte, error) {
	kept, notes, err := readStaged(chunk)
	if err != nil {
		return nil, err
	}
	plain := &enquiryv1.StagedEnquiries{}
	for _, k := range kept {
		e, _, err := s.opened(ctx, k)
		if err != nil {
			return nil, err
		}
		plain.Enquiries = append(plain.Enquiries, &enquiryv1.KeptEnquiry{Enquiry: enquirywire.EnquiryProto(e)})
	}
	for _, n := range notes {
		plain.Notes = append(plain.Notes, enquirywire.NoteProto(n))
	}
	return proto.MarshalOptions{Deterministic: true}.Marshal(plain)
}

// readStaged reads a staged chunk, which was checked before it was staged.
func readStaged(chunk []byte) ([]enquirystore.Kept, []enquiry.Note, error) {
	var staged enquiryv1.StagedEnquiries
	if err := proto.Unmarshal(chunk, &staged); err != nil {
		return nil, nil, fmt.Errorf("read a staged chunk: %w", err)
	}
	var kept []enquirystore.Kept
	for _, p := range staged.GetEnquiries() {
		e, sealed, err := enquirywire.Kept(p)
		if err != nil {
			return nil, nil, fmt.Errorf("read a staged enquiry: %w", err)
		}
		kept = append(kept, enquirystore.Kept{Enquiry: e, Sealed: sealed})
	}
	var notes []enquiry.Note
	for _, p := range staged.GetNotes() {
		n, err := enquirywire.Note(p)
		if err != nil {
			return nil, nil, fmt.Errorf("read a staged note: %w", err)
		}
		notes = append(notes, n)
	}
	return kept, notes, nil
}

// Apply implements staging.Applier. A record that stands is left as it is: it was
// found to be the same.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	kept, notes, err := readStaged(chunk)
	if err != nil {
		return err
	}
	if err := s.store.CatchUp(ctx); err != nil {
		return err
	}
	by, now := cmp.Or(access.CallerFrom(ctx).Bearer, "import"), s.now() // the latter where it is carried to its end at a start
	var newKept []enquirystore.Kept
	for _, k := range kept {
		if _, err := s.store.Enquiry(k.Serial, k.ID); err == nil {
			continue
		}
		k.RecordedBy, k.Created = cmp.Or(k.RecordedBy, by), orNow(k.Created, now)
		k.Asked = k.AskedBy(k.Created)
		newKept = append(newKept, k)
	}
	var newNotes []enquiry.Note
	for _, n := range notes {
		if _, err := s.store.Note(n.ID); err != nil {
			n.Created = orNow(n.Created, now)
			newNotes = append(newNotes, n)
		}
	}
	return s.store.Restore(ctx, newKept, newNotes)
}

func orNow(t, now time.Time) time.Time {
	if t.IsZero() {
		return now
	}
	return t
}
