package bulletinrpc

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	"halfshaft/services/bulletin"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/bulletin/bulletinwire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle/vehiclewire"
)

// The most that one record of an import holds, below what a part of one does: the
// largest draft with why it was taken back.
const maxRecordBytes = 188 << 10

// StageImport implements the BulletinService. Each row is checked by itself;
// what it refers to is checked when the import is committed.
func (s *Service) StageImport(ctx context.Context, r *bulletinv1.StageImportRequest) (*bulletinv1.StageImportResponse, error) {
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
	return &bulletinv1.StageImportResponse{StagedChunks: staged}, nil
}

// importRow is one record of an import, read: the one or the other.
type importRow struct {
	name     string
	version  *bulletinstore.Version
	followUp *bulletin.FollowUp
}

// readRow reads one row and refuses it with all that is wrong with it by itself.
func (s *Service) readRow(p *bulletinv1.BulletinRow) (importRow, error) {
	switch {
	case p.GetBulletin() != nil:
		r, err := s.readVersion(p.GetBulletin())
		return r, fault.Under("bulletin", sized(p.GetBulletin(), err))
	case p.GetFollowUp() != nil:
		r, err := s.readFollowUp(p.GetFollowUp())
		return r, fault.Under("follow_up", sized(p.GetFollowUp(), err))
	}
	return importRow{}, fault.InvalidField("", "", "a version of a bulletin, or a vehicle on the list of a campaign")
}

// sized adds that a record is too large to what is wrong with it.
func sized(m proto.Message, err error) error {
	n := proto.Size(m)
	if n <= maxRecordBytes {
		return err
	}
	return fault.InvalidFields(append(fault.FieldsOf("", err), fault.Field{Got: fmt.Sprintf("%d bytes", n), Want: "at most 192,512 bytes"}))
}

func (s *Service) readVersion(p *bulletinv1.Bulletin) (importRow, error) {
	b, err := bulletinwire.Bulletin(p)
	wrong := fault.FieldsOf("", err)
	if err == nil {
		wrong = fault.FieldsOf("", b.Restored(s.Job.Compiler(), s.today().AddDays(1)))
	}
	if t := p.GetCreateTime(); t != nil && !t.IsValid() {
		wrong = append(wrong, fault.Field{Name: "create_time", Got: t.String(), Want: "a time in the years 1 to 9999"})
	}
	v := &bulletinstore.Version{Bulletin: b, Created: vehiclewire.Moment(p.GetCreateTime())}
	return importRow{name: p.GetName(), version: v}, fault.InvalidFields(wrong)
}

func (s *Service) readFollowUp(p *bulletinv1.FollowUp) (importRow, error) {
	f, err := bulletinwire.FollowUp(p)
	wrong := fault.FieldsOf("", err)
	if err == nil {
		wrong = fault.FieldsOf("", f.Restored(s.today().AddDays(1)))
		if id, _, _ := bulletinwire.VersionName("bulletin", p.GetBulletin()); id != f.Bulletin {
			wrong = append(wrong, fault.Field{Name: "bulletin", Got: p.GetBulletin(), Want: "a version of " + f.Bulletin + ", as in the name"})
		}
		if f.Version == 0 {
			wrong = append(wrong, fault.Field{Name: "bulletin", Got: p.GetBulletin(), Want: "the number of a version, from 1"})
		}
	}
	f.Imported = time.Time{} // which this store says itself
	return importRow{name: f.Name(), followUp: &f}, fault.InvalidFields(wrong)
}

// CommitImport implements the BulletinService. Whoever follows the lists is woken
// once it is done.
func (s *Service) CommitImport(ctx context.Context, r *bulletinv1.CommitImportRequest) (*bulletinv1.CommitImportResponse, error) {
	s.importing.Lock()
	defer s.importing.Unlock()
	if err := s.Store.CatchUp(ctx); err != nil {
		return nil, err
	}
	look := s.newReview()
	if err := s.staging.Admit(ctx, r.GetImportId(), int(r.GetChunks()), look.chunk, look.verdict); err != nil {
		return nil, err
	}
	s.Job.Wake()
	if err := s.Group.Wait(ctx, bulletinstore.Service, s.Store.Revision()); err != nil {
		return nil, err
	}
	return &bulletinv1.CommitImportResponse{Written: look.written, Unchanged: look.unchanged}, nil
}

// Apply implements staging.Applier. A record that stands is left as it is, but
// for a vehicle that the service itself entered meanwhile: what is imported knows
// more of it, and it is on the list once.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	rows, err := s.readChunk(chunk)
	if err != nil {
		return err
	}
	if err := s.Store.CatchUp(ctx); err != nil {
		return err
	}
	var out bulletinstore.Restored
	for _, r := range rows {
		if r.followUp != nil {
			kept, was := s.Store.Listed(r.followUp.Serial, r.followUp.Bulletin), int64(0)
			if kept != nil {
				if same(r, importRow{followUp: &kept.FollowUp}) || !onlyByService(&kept.FollowUp) {
					continue
				}
				was = kept.Revision
			}
			f := *r.followUp
			f.Imported = s.now()
			out.FollowUps = append(out.FollowUps, &bulletinstore.Kept{FollowUp: f, Revision: was})
			continue
		}
		if s.Store.Version(r.version.Bulletin.ID, r.version.Bulletin.Version) == nil {
			if r.version.Created.IsZero() {
				r.version.Created = s.now()
			}
			out.Versions = append(out.Versions, r.version)
		}
	}
	return s.Store.Restore(ctx, out)
}

// onlyByService reports whether nobody recorded anything of a vehicle on a list.
func onlyByService(f *bulletin.FollowUp) bool {
	for _, step := range f.Steps {
		if step.RecordedBy != bulletin.ByService {
			return false
		}
	}
	return true
}

// same reports whether two records say the same, whenever they were imported, and
// when the first was recorded where it does not say.
func same(given, kept importRow) bool {
	if given.followUp != nil {
		a, b := *given.followUp, *kept.followUp
		a.Imported = b.Imported
		return proto.Equal(bulletinwire.KeptFollowUp(&a), bulletinwire.KeptFollowUp(&b))
	}
	a, b := *given.version, *kept.version
	if a.Created.IsZero() {
		a.Created = b.Created
	}
	return a.Created.Equal(b.Created) && proto.Equal(bulletinwire.BulletinProto(&a.Bulletin), bulletinwire.BulletinProto(&b.Bulletin))
}

// readChunk reads the rows of a staged chunk, which were checked when staged.
func (s *Service) readChunk(chunk []byte) ([]importRow, error) {
	var r bulletinv1.StageImportRequest
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
