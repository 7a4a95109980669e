package ownerrpc

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
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
		_, wrong := s.readRow(row)
		faults = append(faults, fault.FieldsUnder(fmt.Sprintf("rows[%d]", i), wrong)...)
	}
	if err := fault.InvalidFields(faults); err != nil {
		return nil, err
	}
	var id string
	err = s.store.StageChunk(r.GetImportId(), raw, func(stagedID string, sealed []byte) error {
		id = stagedID
		return s.staging.Stage(ctx, stagedID, int(r.GetSequence()), sealed)
	})
	if err != nil {
		return nil, err
	}
	staged, _, _, err := s.staging.Progress(ctx, id)
	if err != nil {
		return nil, err
	}
	return &ownerv1.StageImportResponse{StagedChunks: int32(staged)}, nil
}

// readRow reads one row and says all that is wrong with it by itself.
func (s *Service) readRow(r *ownerv1.OwnerRow) (ownerstore.Row, []fault.Field) {
	switch {
	case r.GetPerson() != nil:
		p, faults := ownerwire.Person(r.GetPerson())
		faults = append(faults, s.personFaults(p)...)
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
		if t.Serial, t.ID, err = ownerwire.TieID("", r.GetTie().GetName()); err != nil {
			faults = append(faults, fault.FieldsOf("name", err)...)
		}
		return ownerstore.Row{Tie: &t}, fault.FieldsUnder("tie", append(faults, t.Faults()...))
	case r.GetConsent() != nil:
		c, faults := ownerwire.Consent(r.GetConsent())
		var err error
		if c.Person, c.ID, err = ownerwire.ConsentID("name", r.GetConsent().GetName()); err != nil {
			faults = append(faults, fault.FieldsOf("", err)...)
		}
		if c.Said.IsZero() {
			faults = append(faults, fault.Field{Name: "consent_time", Want: "when the person said so"})
		}
		return ownerstore.Row{Consent: &c}, fault.FieldsUnder("consent", append(faults, s.consentFaults(c)...))
	case r.GetErasure() != nil:
		e := ownerwire.Erasure(r.GetErasure())
		faults := e.Faults()
		if t := r.GetErasure().GetCreateTime(); t != nil && !t.IsValid() {
			faults = append(faults, fault.Field{Name: "create_time", Got: t.String(), Want: "a time in the years 1 to 9999"})
		}
		return ownerstore.Row{Erasure: &e}, fault.FieldsUnder("erasure", faults)
	case r.GetStanding() != nil:
		n, faults := ownerwire.Standing(r.GetStanding())
		var err error
		if n.Serial, err = ownerwire.StandingID("", r.GetStanding().GetName()); err != nil {
			faults = append(faults, fault.FieldsOf("name", err)...)
		}
		return ownerstore.Row{Standing: &n}, fault.FieldsUnder("standing", append(faults, n.Faults(s.today())...))
	}
	return ownerstore.Row{}, []fault.Field{{Want: "a person, a tie, a consent, a standing or an erasure"}}
}

// CommitImport implements the OwnerService. Two owners whose times overlap are
// taken to own the vehicle jointly: the works' own list says so, and an export
// must come back in.
func (s *Service) CommitImport(ctx context.Context, r *ownerv1.CommitImportRequest) (*ownerv1.CommitImportResponse, error) {
	look := review{service: s, names: map[string]bool{}, people: map[string]bool{}, erased: map[string]owner.Erasure{}, ties: map[vehicle.Serial][]owner.Tie{}}
	id, err := s.store.StagedID(r.GetImportId())
	if err != nil {
		return nil, err
	}
	if err := s.staging.Admit(ctx, id, int(r.GetChunks()), look.chunk, look.verdict); err != nil {
		return nil, err
	}
	if err := s.group.Wait(ctx, ownerstore.Service, s.store.Revision()); err != nil {
		return nil, err
	}
	return &ownerv1.CommitImportResponse{Written: look.written, Unchanged: look.unchanged}, nil
}

// Apply implements staging.Applier.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	rows, err := s.openRows(chunk, cmp.Or(access.CallerFrom(ctx).Bearer, "import"))
	if errors.Is(err, ownerstore.ErrChunkLost) {
		// Of a restored store, whose import was under way when the snapshot was
		// taken: nothing can be done but import the files again.
		s.logger.Error("a part of an import cannot be applied; import its files again", "error", err)
		return nil
	}
	if err != nil {
		return err
	}
	return s.store.Put(ctx, rows, s.now())
}

// openRows reads the rows of a staged chunk, which were checked when staged; by
// is whoever imports.
func (s *Service) openRows(chunk []byte, by string) ([]ownerstore.Row, error) {
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
		rows[i], _ = s.readRow(row)
		rows[i].By = by
	}
	return rows, nil
}

// review is the last look at an import as a whole.
type review struct {
	service            *Service
	names              map[string]bool // of all rows
	people             map[string]bool // in the import
	erased             map[string]owner.Erasure
	consents           []owner.Consent
	ties               map[vehicle.Serial][]owner.Tie
	faults             []fault.Field
	written, unchanged int32
}

func (v *review) chunk(chunk []byte) error {
	rows, err := v.service.openRows(chunk, "")
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
	switch {
	case row.Person != nil:
		v.once(ownerwire.PersonName(row.Person.ID), "person")
		v.people[row.Person.ID] = true
	case row.Consent != nil:
		v.once(ownerwire.ConsentName(row.Consent.Person, row.Consent.ID), "consent")
		v.consents = append(v.consents, *row.Consent)
	case row.Erasure != nil:
		v.once("erasures/"+row.Erasure.Person, "erasure")
		v.erased[row.Erasure.Person] = *row.Erasure
	case row.Standing != nil:
		v.once(ownerwire.StandingName(row.Standing.Serial), "standing")
	default:
		v.once(ownerwire.TieName(row.Tie.Serial, row.Tie.ID), "tie")
		v.ties[row.Tie.Serial] = append(v.ties[row.Tie.Serial], *row.Tie)
	}
}

// once refuses a second row of one name.
func (v *review) once(name, kind string) {
	if v.names[name] {
		v.wrong(name, "", "twice", "one row for each "+kind)
	}
	v.names[name] = true
}

func (v *review) wrong(row, field, got, want string) {
	v.faults = append(v.faults, fault.FieldsUnder("rows["+row+"]", []fault.Field{{Name: field, Got: got, Want: want}})...)
}

// peopleVerdict refuses whoever was erased, and consents that are nobody's or
// say something else than what is on record.
func (v *review) peopleVerdict() error {
	store := v.service.store
	for id := range v.people {
		if store.Erased(id) {
			v.wrong(ownerwire.PersonName(id), "name", id, "an identifier that is new: this person was erased, and theirs is never used again")
		}
	}
	for id, e := range v.erased {
		old, there := store.Erasure(id)
		switch {
		case v.people[id] || store.HasPerson(id):
			v.wrong("erasures/"+id, "name", id, "nobody who is there or in the import: an import erases nobody")
		case there && old != e:
			v.wrong("erasures/"+id, "name", id, "the erasure that is on record: it is never changed")
		}
	}
	for _, c := range v.consents {
		name := ownerwire.ConsentName(c.Person, c.ID)
		if !v.people[c.Person] && !store.HasPerson(c.Person) {
			v.wrong(name, "name", ownerwire.PersonName(c.Person), "a person who is there or in the import")
		}
		differs, err := store.Differs(c)
		if err != nil {
			return err
		}
		if differs {
			v.wrong(name, "name", c.ID, "an identifier of its own: what a person said once is never changed, and there is another consent of this name")
		}
	}
	return nil
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
			if !v.people[t.Person] && !store.HasPerson(t.Person) && !v.remains(t) {
				v.wrong(name, "person", ownerwire.PersonName(t.Person), "a person who is there or in the import; of one who was erased, a tie that has ended")
			}
			if err := owner.Admit(all, t, true); err != nil {
				v.wrong(name, "start_date", t.Start.String(), "a day on which it does not stand already: "+err.Error())
			}
		}
	}
	if err := v.peopleVerdict(); err != nil {
		return err
	}
	sortFields(v.faults)
	return fault.InvalidFields(v.faults)
}

// remains reports whether a tie may stand without its person: as it stands
// already, or ended, of somebody who was erased. An export has such ties, and
// must come back in.
func (v *review) remains(t owner.Tie) bool {
	store := v.service.store
	if old, there := store.Tie(t.Serial, t.ID); there && old.Tie == t {
		return true
	}
	_, erased := v.erased[t.Person]
	return (erased || store.Erased(t.Person)) && t.Over(v.service.today())
}

func containsTie(ties []owner.Tie, id string) bool {
	return slices.ContainsFunc(ties, func(t owner.Tie) bool { return t.ID == id })
}

// sortFields puts faults into one order, since maps have none.
func sortFields(f []fault.Field) {
	slices.SortStableFunc(f, func(a, b fault.Field) int { return cmp.Compare(a.Name, b.Name) })
}
