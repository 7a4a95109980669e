package enquiryrpc

import (
	"context"

	"google.golang.org/protobuf/proto"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/enquiry"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/enquiry/enquirywire"
	"halfshaft/services/fault"
)

// CommitImport implements the EnquiryService.
func (s *Service) CommitImport(ctx context.Context, r *enquiryv1.CommitImportRequest) (*enquiryv1.CommitImportResponse, error) {
	s.importing.Lock()
	defer s.importing.Unlock()
	if err := s.store.CatchUp(ctx); err != nil {
		return nil, err
	}
	look := &importReview{s: s, names: map[string]bool{}}
	err := s.staging.Admit(ctx, r.GetImportId(), int(r.GetChunks()),
		func(chunk []byte) error { return look.chunk(ctx, chunk) }, func() error { return fault.InvalidFields(look.wrong) })
	if err != nil {
		return nil, err
	}
	if err := s.Group.Wait(ctx, enquirystore.Service, s.store.Revision()); err != nil {
		return nil, err
	}
	return &enquiryv1.CommitImportResponse{Written: look.written, Unchanged: look.unchanged}, nil
}

// importReview is the last look at an import as a whole, before it takes effect.
type importReview struct {
	s     *Service
	names map[string]bool
	wrong []fault.Field

	written, unchanged int32
}

func (v *importReview) refuse(row string, field fault.Field) {
	v.wrong = append(v.wrong, fault.FieldsUnder("rows["+row+"]", []fault.Field{field})...)
}

func (v *importReview) chunk(ctx context.Context, chunk []byte) error {
	kept, notes, err := readStaged(chunk)
	if err != nil {
		return err
	}
	for _, k := range kept {
		there, same, err := v.s.sameEnquiry(ctx, k)
		if err != nil {
			return err
		}
		v.row(enquirywire.EnquiryName(k.Serial, k.ID), there, same)
	}
	for _, n := range notes {
		old, err := v.s.store.Note(n.ID)
		there := err == nil
		v.row(enquirywire.NoteName(n.ID), there, there && sameNote(n, old.Note))
	}
	return nil
}

// row takes in one row. What stands already must be the same: what was said is
// never imported over.
func (v *importReview) row(name string, there, same bool) {
	switch {
	case v.names[name]:
		v.refuse(name, fault.Field{Got: "twice", Want: "one row for each record"})
	case same:
		v.unchanged++
	case there:
		v.refuse(name, fault.Field{Got: "another record", Want: "the record as it stands: it is never imported over"})
	default:
		v.written++
	}
	v.names[name] = true
}

// sameEnquiry says whether an enquiry of the name is kept, and whether it says the
// same. Who recorded it and when is only compared where the import says so.
func (s *Service) sameEnquiry(ctx context.Context, k enquirystore.Kept) (there, same bool, err error) {
	old, err := s.store.Enquiry(k.Serial, k.ID)
	if err != nil {
		return false, false, nil
	}
	mine, _, err := s.opened(ctx, k)
	if err != nil {
		return true, false, err
	}
	theirs, _, err := s.opened(ctx, old)
	if err != nil {
		return true, false, err
	}
	if mine.RecordedBy == "" {
		mine.RecordedBy = theirs.RecordedBy
	}
	mine.Created, mine.Asked = orNow(mine.Created, theirs.Created), mine.AskedBy(theirs.Asked)
	return true, proto.Equal(enquirywire.EnquiryProto(mine), enquirywire.EnquiryProto(theirs)), nil
}

func sameNote(mine, theirs enquiry.Note) bool {
	mine.Created = orNow(mine.Created, theirs.Created)
	return proto.Equal(enquirywire.NoteProto(mine), enquirywire.NoteProto(theirs))
}
