package ownerrpc

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/staging"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// StageImport implements the OwnerService. Each row is checked by itself; what
// it refers to is checked when the import is committed.
func (s *Service) StageImport(ctx context.Context, r *ownerv1.StageImportRequest) (*ownerv1.StageImportResponse, error) {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(r)
	if err != nil {
		return nil, err
	}
	if len(r.GetRows()) > staging.MaxRows || len(raw) > staging.MaxRequestBytes {
		return nil, fault.InvalidField("rows", fmt.Sprintf("%d rows, %d bytes", len(r.GetRows()), len(raw)),
			fmt.Sprintf("at most %d rows and %d bytes", staging.MaxRows, staging.MaxRequestBytes))
	}
	var faults []fault.Field
	for i, row := range r.GetRows() {
		_, wrong := readRow(row)
		faults = append(faults, fault.FieldsUnder(fmt.Sprintf("rows[%d]", i), wrong)...)
	}
	if err := fault.InvalidFields(faults); err != nil {
		return nil, err
	}
	sealed, err := s.store.SealChunk(r.GetImportId(), raw)
	if err != nil {
		return nil, err
	}
	if err := s.staging.Stage(ctx, r.GetImportId(), int(r.GetSequence()), sealed); err != nil {
		return nil, err
	}
	staged, _, _, err := s.staging.Progress(ctx, r.GetImportId())
	if err != nil {
		return nil, err
	}
	return &ownerv1.StageImportResponse{StagedChunks: int32(staged)}, nil
}

// readRow reads one row and says all that is wrong with it by itself.
func readRow(r *ownerv1.OwnerRow) (ownerstore.Row, []fault.Field) {
	switch {
	case r.GetPerson() != nil:
		p := ownerwire.Person(r.GetPerson())
		faults := personFaults(p)
		if _, err := ownerwire.PersonID("name", r.GetPerson().GetName()); err != nil {
			faults = append(faults, fault.FieldsOf("", err)...)
		}
		if t := r.GetPerson().GetCreateTime(); t != nil && !t.IsValid() {
			faults = append(faults, fault.Field{Name: "create_time", Got: t.String(), Want: "a time in the years 1 to 9999"})
		}
		return ownerstore.Row{Person: &p}, fault.FieldsUnder("person", faults)
	case r.GetTie() != nil:
		t, faults := ownerwire.Tie(r.GetTie())
		var err error
		if t.Serial, t.ID, err = ownerwire.TieID("name", r.GetTie().GetName()); err != nil {
			faults = append(faults, fault.FieldsOf("name", err)...)
		}
		return ownerstore.Row{Tie: &t}, fault.FieldsUnder("tie", append(faults, t.Faults()...))
	}
	return ownerstore.Row{}, []fault.Field{{Want: "a person or a tie"}}
}

// CommitImport implements the OwnerService. Two owners whose times overlap are
// taken to own the vehicle jointly: the works' own list says so, and an export
// must come back in.
func (s *Service) CommitImport(ctx context.Context, r *ownerv1.CommitImportRequest) (*ownerv1.CommitImportResponse, error) {
	look := review{service: s, people: map[string]bool{}, ties: map[vehicle.Serial][]owner.Tie{}}
	digest, decided, err := s.staging.Review(ctx, r.GetImportId(), look.chunk)
	if err != nil {
		return nil, err
	}
	if !decided {
		if err := look.verdict(); err != nil {
			return nil, err
		}
	}
	if err := s.staging.Commit(ctx, r.GetImportId(), int(r.GetChunks()), digest); err != nil {
		return nil, err
	}
	if err := s.group.Wait(ctx, ownerstore.Service, s.store.Revision()); err != nil {
		return nil, err
	}
	return &ownerv1.CommitImportResponse{Written: look.written, Unchanged: look.unchanged}, nil
}

// Apply implements staging.Applier.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	rows, err := s.openRows(chunk)
	if err != nil {
		return err
	}
	return s.store.Put(ctx, rows, s.now())
}

// openRows reads the rows of a staged chunk, which were checked when staged.
func (s *Service) openRows(chunk []byte) ([]ownerstore.Row, error) {
	raw, err := s.store.OpenChunk(chunk)
	if err != nil {
		return nil, err
	}
	var r ownerv1.StageImportRequest
	if err := proto.Unmarshal(raw, &r); err != nil {
		return nil, fmt.Errorf("read a staged chunk: %w", err)
	}
	rows := make([]ownerstore.Row, len(r.GetRows()))
	for i, row := range r.GetRows() {
		rows[i], _ = readRow(row)
	}
	return rows, nil
}

// review is the last look at an import as a whole.
type review struct {
	service            *Service
	people             map[string]bool // in the import
	ties               map[vehicle.Serial][]owner.Tie
	faults             []fault.Field
	written, unchanged int32
}

func (v *review) chunk(chunk []byte) error {
	rows, err := v.service.openRows(chunk)
	if err != nil {
		return err
	}
	for _, row := range rows {
		same, err := v.service.store.Unchanged(row)
		if err != nil {
			return err
		}
		if same {
			v.unchanged++
		} else {
			v.written++
		}
		v.row(row)
	}
	return nil
}

func (v *review) row(row ownerstore.Row) {
	if row.Person != nil {
		if v.people[row.Person.ID] {
			v.wrong(ownerwire.PersonName(row.Person.ID), "", "twice", "one row for each person")
		}
		v.people[row.Person.ID] = true
		return
	}
	for _, other := range v.ties[row.Tie.Serial] {
		if other.ID == row.Tie.ID {
			v.wrong(ownerwire.TieName(other.Serial, other.ID), "", "twice", "one row for each tie")
		}
	}
	v.ties[row.Tie.Serial] = append(v.ties[row.Tie.Serial], *row.Tie)
}

func (v *review) wrong(row, field, got, want string) {
	v.faults = append(v.faults, fault.FieldsUnder("rows["+row+"]", []fault.Field{{Name: field, Got: got, Want: want}})...)
}

// verdict refuses the import for whoever is tied without being there, and for
// whoever would be the same thing twice at once.
func (v *review) verdict() error {
	store := v.service.store
	for serial, imported := range v.ties {
		stored, _ := store.Ties(serial)
		all := imported
		for _, old := range bare(stored) {
			if !containsTie(imported, old.ID) {
				all = append(all[:len(all):len(all)], old)
			}
		}
		for _, t := range imported {
			name := ownerwire.TieName(t.Serial, t.ID)
			if !v.people[t.Person] && !store.HasPerson(t.Person) {
				v.wrong(name, "person", ownerwire.PersonName(t.Person), "a person who is there or in the import")
			}
			if err := owner.Admit(all, t, true); err != nil {
				v.wrong(name, "start_date", t.Start.String(), "a day on which it does not stand already: "+err.Error())
			}
		}
	}
	sortFields(v.faults)
	return fault.InvalidFields(v.faults)
}

func containsTie(ties []owner.Tie, id string) bool {
	return slices.ContainsFunc(ties, func(t owner.Tie) bool { return t.ID == id })
}

// sortFields puts faults into one order, since maps have none.
func sortFields(f []fault.Field) {
	slices.SortStableFunc(f, func(a, b fault.Field) int { return cmp.Compare(a.Name, b.Name) })
}
