package warrantyrpc

import (
	"cmp"
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantystore"
	"halfshaft/services/warranty/warrantywire"
)

// StageImport implements the WarrantyService. Each row is checked by itself;
// what it refers to is checked when the import is committed.
func (s *Service) StageImport(ctx context.Context, r *warrantyv1.StageImportRequest) (*warrantyv1.StageImportResponse, error) {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(r)
	if err != nil {
		return nil, err
	}
	if err := staging.Fits(len(r.GetRows()), len(raw)); err != nil {
		return nil, err
	}
	var wrong []fault.Field
	for i, p := range r.GetRows() {
		_, err := s.readRow(p)
		wrong = append(wrong, fault.FieldsOf(fmt.Sprintf("rows[%d]", i), err)...)
	}
	if err := fault.InvalidFields(wrong); err != nil {
		return nil, err
	}
	staged, err := s.staging.Take(ctx, r.GetImportId(), int(r.GetSequence()), raw)
	if err != nil {
		return nil, err
	}
	return &warrantyv1.StageImportResponse{StagedChunks: staged}, nil
}

// importRow is one record of an import, read.
type importRow struct {
	name    string
	key     string
	message proto.Message
	serial  vehicle.Serial // of the vehicle; none for a term
	term    *warranty.Term
	claim   *warrantyv1.Claim
	span    *warrantyv1.OutOfServiceSpan
}

// readRow reads one row and refuses it with all that is wrong with it by itself.
func (s *Service) readRow(p *warrantyv1.WarrantyRow) (importRow, error) {
	switch {
	case p.GetWarrantyTerm() != nil:
		r, err := readTermRow(p.GetWarrantyTerm())
		return r, fault.Under("warranty_term", err)
	case p.GetClaim() != nil:
		r, err := s.readClaimRow(p.GetClaim())
		return r, fault.Under("claim", err)
	case p.GetOutOfServiceSpan() != nil:
		r, err := s.readSpanRow(p.GetOutOfServiceSpan())
		return r, fault.Under("out_of_service_span", err)
	}
	return importRow{}, fault.InvalidField("", "", "a version of a term, a claim or a time out of service")
}

func readTermRow(from *warrantyv1.WarrantyTerm) (importRow, error) {
	m := proto.CloneOf(from)
	m.Etag = ""
	t, err := warrantywire.Term(m)
	c := &checker{}
	c.add(fault.FieldsOf("", err))
	if err == nil {
		c.add(t.Faults())
	}
	c.must(proto.Size(m) <= maxTermBytes, "", fmt.Sprintf("%d bytes", proto.Size(m)), "at most 65,536 bytes")
	madeWhen(c, m.GetCreateTime())
	warrantywire.Settled(m)
	return importRow{name: m.GetName(), key: warrantystore.TermKey(t.ID, t.Version), message: m, term: &t}, c.err()
}

// readClaimRow reads a claim with all that was done to it, by whom and when.
func (s *Service) readClaimRow(from *warrantyv1.Claim) (importRow, error) {
	c := &checker{}
	serial, ids, err := resname.Serial("name", warrantywire.ClaimForm, from.GetName())
	if err != nil {
		return importRow{name: from.GetName()}, err
	}
	read, err := warrantywire.Claim(from)
	c.add(fault.FieldsOf("", err))
	c.add(read.Restored(s.today().AddDays(1)))
	madeWhen(c, from.GetCreateTime())
	c.note("recorded_by", from.GetRecordedBy())
	if from.GetServiceEntry() != "" {
		of, _, err := resname.Serial("service_entry", "vehicles/{serial}/serviceEntries/{service_entry}", from.GetServiceEntry())
		c.must(err == nil && of == serial, "service_entry", from.GetServiceEntry(), "a service entry of this vehicle, or nothing")
	}
	if from.GetOrganisation() != "" {
		_, err := resname.Match("organisation", "organisations/{organisation}", from.GetOrganisation())
		c.must(err == nil, "organisation", from.GetOrganisation(), "organisations/{organisation}, or nothing for the works")
	}
	if cover := from.GetCover(); cover != nil {
		_, err := warrantywire.Cover(cover, s.term)
		c.add(fault.FieldsOf("cover", err))
		of, _, err := resname.Serial("cover.name", warrantywire.CoverForm, cover.GetName())
		c.must(err == nil && of == serial, "cover.name", cover.GetName(), "a position of this vehicle")
	}
	read.Serial, read.ID = serial, ids[0]
	m := s.written(&read, from.GetCover())
	m.AnswerByDate = nil
	if n := proto.Size(m); n > maxClaimBytes {
		c.must(false, "", fmt.Sprintf("%d bytes", n), "at most 163,840 bytes with all that was said to it")
	}
	return importRow{name: m.GetName(), key: warrantystore.Claims.Key(serial, ids[0]), message: m, serial: serial, claim: m}, c.err()
}

func (s *Service) readSpanRow(from *warrantyv1.OutOfServiceSpan) (importRow, error) {
	c := &checker{}
	serial, ids, err := resname.Serial("name", warrantywire.SpanForm, from.GetName())
	if err != nil {
		return importRow{name: from.GetName()}, err
	}
	m := &warrantyv1.OutOfServiceSpan{
		Name: warrantywire.SpanName(serial, ids[0]), StartDate: from.GetStartDate(), EndDate: from.GetEndDate(), Reason: from.GetReason(),
		Claim: from.GetClaim(), Counts: from.GetCounts(), RecordedBy: from.GetRecordedBy(), CreateTime: from.GetCreateTime(),
	}
	c.add(fault.FieldsOf("", s.spanFaults(m)))
	madeWhen(c, m.GetCreateTime())
	c.note("recorded_by", m.GetRecordedBy())
	if m.GetClaim() != "" {
		of, claim, err := resname.Serial("claim", warrantywire.ClaimForm, m.GetClaim())
		if err != nil || of != serial {
			c.must(false, "claim", m.GetClaim(), "a claim of this vehicle, or nothing")
		} else {
			m.Claim = warranty.ClaimName(of, claim[0])
		}
	}
	return importRow{name: m.Name, key: warrantystore.Spans.Key(serial, ids[0]), message: m, serial: serial, span: m}, c.err()
}

// madeWhen wants the time at which a record was made, where there is one, to be one.
func madeWhen(c *checker, t *timestamppb.Timestamp) {
	c.must(t == nil || t.IsValid(), "create_time", t.String(), "a time in the years 1 to 9999")
}

// CommitImport implements the WarrantyService.
func (s *Service) CommitImport(ctx context.Context, r *warrantyv1.CommitImportRequest) (*warrantyv1.CommitImportResponse, error) {
	s.importing.Lock()
	defer s.importing.Unlock()
	if err := s.store.CatchUp(ctx); err != nil {
		return nil, err
	}
	look := &importReview{s: s, names: map[string]bool{}}
	if err := s.staging.Admit(ctx, r.GetImportId(), int(r.GetChunks()), look.chunk, look.verdict); err != nil {
		return nil, err
	}
	if err := s.config.Group.Wait(ctx, warrantystore.Service, s.store.Revision()); err != nil {
		return nil, err
	}
	return &warrantyv1.CommitImportResponse{Written: look.written, Unchanged: look.unchanged}, nil
}

// Apply implements staging.Applier. A record that stands is left as it is, so
// that its etag stays too: it was found to be the same.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	rows, err := s.readChunk(chunk)
	if err != nil {
		return err
	}
	if err := s.store.CatchUp(ctx); err != nil {
		return err
	}
	by := cmp.Or(by(ctx), "import") // the latter where it is carried to its end at a start
	now := vehiclewire.MomentProto(s.now())
	var records []warrantystore.Record
	for _, r := range rows {
		if s.kept(r) != nil {
			continue
		}
		switch m := r.message.(type) {
		case *warrantyv1.WarrantyTerm:
			m.CreateTime = cmp.Or(m.CreateTime, now)
		case *warrantyv1.Claim:
			m.RecordedBy, m.CreateTime = cmp.Or(m.RecordedBy, by), cmp.Or(m.CreateTime, now)
		case *warrantyv1.OutOfServiceSpan:
			m.RecordedBy, m.CreateTime = cmp.Or(m.RecordedBy, by), cmp.Or(m.CreateTime, now)
		}
		records = append(records, warrantystore.Record{Key: r.key, Message: r.message})
	}
	return s.store.Put(ctx, records)
}

// kept gives the record of a row's name, nil for none.
func (s *Service) kept(r importRow) proto.Message {
	if r.term != nil {
		for _, v := range s.store.Terms() {
			if v.Term.ID == r.term.ID && v.Term.Version == r.term.Version {
				return v.Message
			}
		}
		return nil
	}
	of := s.store.Vehicle(r.serial)
	if r.claim != nil {
		if kept, ok := of.Claim(r.name); ok {
			return kept.Message
		}
		return nil
	}
	if kept, ok := of.Span(r.name); ok {
		return kept.Message
	}
	return nil
}

// readChunk reads the rows of a staged chunk, which were checked when staged.
func (s *Service) readChunk(chunk []byte) ([]importRow, error) {
	var r warrantyv1.StageImportRequest
	if err := proto.Unmarshal(chunk, &r); err != nil {
		return nil, fmt.Errorf("read a staged chunk: %w", err)
	}
	var rows []importRow
	for _, p := range r.GetRows() {
		row, err := s.readRow(p)
		if err != nil {
			return nil, fmt.Errorf("read a staged row: %w", err)
		}
		rows = append(rows, row)
	}
	return rows, nil
}
