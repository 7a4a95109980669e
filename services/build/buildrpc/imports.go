package buildrpc

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/build"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/build/buildwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
)

// StageImport implements the BuildService. Each row is checked by itself; what
// it refers to is checked when the import is committed.
func (s *Service) StageImport(ctx context.Context, r *buildv1.StageImportRequest) (*buildv1.StageImportResponse, error) {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(r)
	if err != nil {
		return nil, err
	}
	if len(r.GetRows()) > staging.MaxRows || len(raw) > staging.MaxRequestBytes {
		return nil, fault.InvalidField("rows", fmt.Sprintf("%d rows, %d bytes", len(r.GetRows()), len(raw)),
			fmt.Sprintf("at most %d rows and %d bytes", staging.MaxRows, staging.MaxRequestBytes))
	}
	var wrong []fault.Field
	for i, p := range r.GetRows() {
		_, err := readRow(p)
		wrong = append(wrong, fault.FieldsOf(fmt.Sprintf("rows[%d]", i), err)...)
	}
	if err := fault.InvalidFields(wrong); err != nil {
		return nil, err
	}
	staged, err := s.staging.Take(ctx, r.GetImportId(), int(r.GetSequence()), raw)
	if err != nil {
		return nil, err
	}
	return &buildv1.StageImportResponse{StagedChunks: staged}, nil
}

// readRow reads one row and refuses it with all that is wrong with it by
// itself.
func readRow(p *buildv1.BuildRow) (buildstore.Row, error) {
	switch {
	case p.GetRelease() != nil:
		release, err := buildwire.Release(p.GetRelease())
		wrong := append(build.CheckRelease(&release), tooLarge("fitments", p.GetRelease())...)
		return buildstore.Row{Release: &release}, refuse("release", err, wrong)
	case p.GetBuild() != nil:
		rec, err := buildwire.Record(p.GetBuild())
		wrong := append(build.CheckRecord(&rec, nil), tooLarge("components", p.GetBuild())...)
		return buildstore.Row{Record: &rec}, refuse("build", err, wrong)
	case p.GetChange() != nil:
		change, err := buildwire.Change(p.GetChange())
		wrong := build.CheckImported(&change, nil, nil, vehicle.Date{})
		if p.GetChange().GetName() == "" {
			wrong = append(wrong, fault.Field{Name: "name", Want: "builds/, the serial, /changes/ and an identifier"})
		}
		return buildstore.Row{Change: &change}, refuse("change", err, wrong)
	case p.GetAmendment() != nil:
		amendment, err := buildwire.Amendment(p.GetAmendment())
		wrong := build.CheckReason(amendment.Reason)
		if p.GetAmendment().GetName() == "" {
			wrong = append(wrong, fault.Field{Name: "name", Want: "builds/, the serial, /amendments/ and an identifier"})
		}
		return buildstore.Row{Amendment: &amendment}, refuse("amendment", err, wrong)
	}
	return buildstore.Row{}, fault.InvalidField("", "", "a release, a build, a change or an amendment")
}

// CommitImport implements the BuildService.
func (s *Service) CommitImport(ctx context.Context, r *buildv1.CommitImportRequest) (*buildv1.CommitImportResponse, error) {
	s.importing.Lock()
	defer s.importing.Unlock()
	if err := s.store.CatchUp(ctx); err != nil {
		return nil, err
	}
	look := newReview(s.store, s.today())
	err := s.staging.Admit(ctx, r.GetImportId(), int(r.GetChunks()), look.chunk, func() error {
		if err := look.verdict(); err != nil {
			return err
		}
		for _, d := range look.deliveries {
			if err := s.holds.check(ctx, d.serial, d.on, nothing); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	if err := s.group.Wait(ctx, buildstore.Service, s.store.Revision()); err != nil {
		return nil, err
	}
	return &buildv1.CommitImportResponse{Written: look.written, Unchanged: look.unchanged}, nil
}

// Apply implements staging.Applier.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	rows, sequence, err := readChunk(chunk)
	if err != nil {
		return err
	}
	by := access.CallerFrom(ctx).Bearer
	if by == "" {
		by = "import" // carried to its end at a start
	}
	// Chunks get moments of their own, in their order.
	made := s.now().Add(time.Duration(sequence) * staging.MaxRows * time.Microsecond)
	return s.store.Put(ctx, rows, made, by)
}

// readChunk reads the rows of a staged chunk, which were checked when staged.
func readChunk(chunk []byte) (rows []buildstore.Row, sequence int, err error) {
	var r buildv1.StageImportRequest
	if err := proto.Unmarshal(chunk, &r); err != nil {
		return nil, 0, fmt.Errorf("read a staged chunk: %w", err)
	}
	for _, p := range r.GetRows() {
		row, err := readRow(p)
		if err != nil {
			return nil, 0, fmt.Errorf("read a staged row: %w", err)
		}
		rows = append(rows, row)
	}
	return rows, int(r.GetSequence()), nil
}
