package schedulerpc

import (
	"cmp"
	"context"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/staging"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// StageImport implements the ScheduleService. Each row is checked by itself;
// what it refers to is checked when the import is committed.
func (s *Service) StageImport(ctx context.Context, r *schedulev1.StageImportRequest) (*schedulev1.StageImportResponse, error) {
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(r)
	if err != nil {
		return nil, err
	}
	if err := staging.Fits(len(r.GetRows()), len(raw)); err != nil {
		return nil, err
	}
	var wrong []fault.Field
	for i, p := range r.GetRows() {
		row, err := s.readRow(p)
		at := fmt.Sprintf("rows[%d]", i)
		if row.name != "" {
			at = "rows[" + row.name + "]"
		}
		wrong = append(wrong, fault.FieldsOf(at, err)...)
	}
	if err := fault.InvalidFields(wrong); err != nil {
		return nil, err
	}
	staged, err := s.staging.Take(ctx, r.GetImportId(), int(r.GetSequence()), raw)
	if err != nil {
		return nil, err
	}
	return &schedulev1.StageImportResponse{StagedChunks: staged}, nil
}

// row is one record of an import, read.
type row struct {
	name    string
	key     string
	message proto.Message
	serial  vehicle.Serial
	kind    schedulestore.Kind
	id      string
	items   []string            // of an entry
	version *schedule.Programme // of a programme
	derived bool                // a reading that comes with an entry or an event
}

// readRow reads one row and refuses it with all that is wrong with it by
// itself.
func (s *Service) readRow(p *schedulev1.HistoryRow) (row, error) {
	c := &checker{}
	switch {
	case p.GetProgramme() != nil:
		m := p.GetProgramme()
		ready, err := s.checkProgramme(m)
		if err != nil {
			return row{name: m.GetName()}, fault.Under("programme", err)
		}
		key := schedulestore.ProgrammeKey(ready.programme.ID, ready.programme.Version)
		m.Etag = ""
		return row{name: m.GetName(), key: key, message: m, version: ready.programme}, nil
	case p.GetReading() != nil:
		m := p.GetReading()
		m.Etag, m.State, m.LifeDistance, m.Explanations = "", 0, nil, nil
		err := checkReading(c, m)
		if err == nil && m.GetSettlement() != nil {
			err = checkSettlement(m)
		}
		return vehicleRow(m, schedulestore.Readings, "reading", err)
	case p.GetServiceEntry() != nil:
		m := p.GetServiceEntry()
		m.Etag, m.JobSheet = "", "" // sheets come with no import
		e, err := checkEntry(c, m, nil)
		r, err := vehicleRow(m, schedulestore.Entries, "service_entry", err)
		r.items = e.Items
		return r, err
	case p.GetEvent() != nil:
		_, err := checkEvent(c, p.GetEvent())
		return vehicleRow(p.GetEvent(), schedulestore.Events, "event", err)
	case p.GetUseFact() != nil:
		m := p.GetUseFact()
		m.Etag = ""
		_, err := checkUse(c, m)
		return vehicleRow(m, schedulestore.Uses, "use_fact", err)
	}
	return row{}, fault.InvalidField("", "", "a programme, a reading, a service entry, an event or a use fact")
}

// vehicleRow reads the name of a record of a vehicle and brings it to its one
// form.
func vehicleRow(m named, kind schedulestore.Kind, field string, err error) (row, error) {
	serial, ids, nameErr := resname.Serial("name", kind.Pattern(field), m.GetName())
	if nameErr != nil {
		return row{name: m.GetName()}, fault.Under(field, fault.InvalidFields(append(fault.FieldsOf("", nameErr), fault.FieldsOf("", err)...)))
	}
	r := row{name: kind.Name(serial, ids[0]), key: kind.Key(serial, ids[0]), message: m, serial: serial, kind: kind, id: ids[0]}
	switch m := m.(type) {
	case *schedulev1.Reading:
		m.Name = r.name
	case *schedulev1.ServiceEntry:
		m.Name = r.name
	case *schedulev1.Event:
		m.Name = r.name
	case *schedulev1.UseFact:
		m.Name = r.name
	}
	return r, fault.Under(field, err)
}

// readingWith is the reading that comes with an entry or event, if any.
func (r row) readingWith() (row, bool) {
	var m *schedulev1.Reading
	switch from := r.message.(type) {
	case *schedulev1.ServiceEntry:
		m = readingOfEntry(r.serial, r.id, from)
		if m != nil && from.GetVoidReason() != "" {
			m.Settlement = &schedulev1.Settlement{
				Verdict: schedulev1.Verdict_VERDICT_REJECTED, Reason: "the service entry was struck out: " + from.GetVoidReason(),
				SettledBy: cmp.Or(from.GetVoidedBy(), from.GetRecordedBy()), SettleTime: struckAt(from),
			}
		}
	case *schedulev1.Event:
		m = readingOfEvent(r.serial, r.id, from)
	}
	if m == nil {
		return row{}, false
	}
	return row{
		name: m.GetName(), key: schedulestore.Readings.Key(r.serial, r.id), message: m,
		serial: r.serial, kind: schedulestore.Readings, id: r.id, derived: true,
	}, true
}

// struckAt is when an entry was struck out, as far as its file says.
func struckAt(m *schedulev1.ServiceEntry) *timestamppb.Timestamp {
	if m.GetVoidTime() != nil {
		return m.GetVoidTime()
	}
	return m.GetCreateTime()
}

// CommitImport implements the ScheduleService.
func (s *Service) CommitImport(ctx context.Context, r *schedulev1.CommitImportRequest) (*schedulev1.CommitImportResponse, error) {
	s.importing.Lock()
	defer s.importing.Unlock()
	if err := s.store.CatchUp(ctx); err != nil {
		return nil, err
	}
	look := s.newReview()
	if err := s.staging.Admit(ctx, r.GetImportId(), int(r.GetChunks()), look.chunk, look.verdict); err != nil {
		return nil, err
	}
	if err := s.group.Wait(ctx, schedulestore.Service, s.store.Revision()); err != nil {
		return nil, err
	}
	return &schedulev1.CommitImportResponse{Written: look.written, Unchanged: look.unchanged}, nil
}

// Apply implements staging.Applier. A record that stands is left as it is: it
// was found to be the same. A reading given as a row of its own goes before one
// that only came with an entry.
func (s *Service) Apply(ctx context.Context, chunk []byte) error {
	rows, err := s.readChunk(chunk)
	if err != nil {
		return err
	}
	if err := s.store.CatchUp(ctx); err != nil {
		return err
	}
	by := access.CallerFrom(ctx).Bearer
	if by == "" {
		by = "import" // carried to its end at a start
	}
	now := timestamppb.New(s.now())
	var records []schedulestore.Record
	keys := map[string]int{}
	add := func(r row) {
		if at, twice := keys[r.key]; twice {
			if !r.derived {
				records[at].Message = r.message
			}
			return
		}
		keys[r.key] = len(records)
		records = append(records, schedulestore.Record{Key: r.key, Message: r.message})
	}
	for _, r := range rows {
		complete(r.message, by, now)
		if with, ok := r.readingWith(); ok && !s.stands(with) {
			add(with)
		}
		if exists, same := s.compare(r); !exists || !same && r.kind == schedulestore.Readings {
			add(r)
		}
	}
	return s.store.Put(ctx, records)
}

// complete fills in who recorded a record and when, where the row does not say.
func complete(m proto.Message, by string, now *timestamppb.Timestamp) {
	fill := func(who *string, when **timestamppb.Timestamp) {
		if who != nil && *who == "" {
			*who = by
		}
		if *when == nil {
			*when = now
		}
	}
	switch m := m.(type) {
	case *schedulev1.Programme:
		fill(nil, &m.CreateTime)
	case *schedulev1.Reading:
		fill(&m.RecordedBy, &m.CreateTime)
	case *schedulev1.ServiceEntry:
		fill(&m.RecordedBy, &m.CreateTime)
	case *schedulev1.Event:
		fill(&m.RecordedBy, &m.CreateTime)
	case *schedulev1.UseFact:
		fill(&m.RecordedBy, &m.CreateTime)
	}
}

// readChunk reads the rows of a staged chunk, which were checked when staged.
func (s *Service) readChunk(chunk []byte) ([]row, error) {
	var r schedulev1.StageImportRequest
	if err := proto.Unmarshal(chunk, &r); err != nil {
		return nil, fmt.Errorf("read a staged chunk: %w", err)
	}
	var rows []row
	for _, p := range r.GetRows() {
		row, err := s.readRow(p)
		if err != nil {
			return nil, fmt.Errorf("read a staged row: %w", err)
		}
		rows = append(rows, row)
	}
	return rows, nil
}
