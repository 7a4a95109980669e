package schedulerpc

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// The most that one entry holds.
const (
	maxItemsDone = 200
	maxMeasured  = 50
	maxPartsUsed = 200

	// maxEntryBytes bounds what is said of one visit altogether, so that a record
	// and its export fit what the store and a part of an import hold, with room for
	// why it is struck out.
	maxEntryBytes = 160 << 10
)

// RecordService implements the ScheduleService.
func (s *Service) RecordService(ctx context.Context, r *schedulev1.RecordServiceRequest) (*schedulev1.ServiceEntry, error) {
	serial, known, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	decide := func() (*schedulev1.ServiceEntry, []schedulestore.Record, error) {
		from := r.GetServiceEntry()
		id := kv.NewID()
		m := &schedulev1.ServiceEntry{
			Name: schedulestore.Entries.Name(serial, id), ServiceDate: s.orToday(from.GetServiceDate()), Reading: from.GetReading(),
			Items: from.GetItems(), Parts: from.GetParts(), DoneBy: from.GetDoneBy(), Note: from.GetNote(),
			RecordedBy: access.CallerFrom(ctx).Bearer, CreateTime: timestamppb.New(s.now()), Organisation: dealerIn(ctx),
		}
		if access.CallerFrom(ctx).Role == access.Service { // which speaks for whoever sent a sheet in
			m.Organisation, m.JobSheet = from.GetOrganisation(), from.GetJobSheet()
		}
		item, err := s.itemsOf(known, m)
		if err != nil {
			return nil, nil, err
		}
		c := &checker{}
		c.room("parent", s.store.History(serial).Count(schedulestore.Entries))
		c.statement(ctx, m)
		entry, err := checkEntry(c, m, item)
		if err != nil {
			return nil, nil, fault.Under("service_entry", err)
		}
		if entry.Date.After(s.today().AddDays(1)) {
			return nil, nil, fault.InvalidField("service_entry.service_date", entry.Date.String(), "a day that has come: work is recorded when it is done")
		}
		if err := s.fitsVehicle(known, m, entry.Date, item); err != nil {
			return nil, nil, fault.Under("service_entry", err)
		}
		return m, withReading(serial, id, m), nil
	}
	if r.GetValidateOnly() {
		return only(s, decide)
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &schedulev1.ServiceEntry{}, decide)
	if err != nil {
		return nil, err
	}
	answer.Etag = etagOf(result)
	return answer, nil
}

// only decides and writes nothing: what is answered has no name, for there is no
// such record.
func only(s *Service, decide func() (*schedulev1.ServiceEntry, []schedulestore.Record, error)) (*schedulev1.ServiceEntry, error) {
	s.importing.RLock()
	defer s.importing.RUnlock()
	m, _, err := decide()
	if err != nil {
		return nil, err
	}
	m.Name, m.CreateTime = "", nil
	return m, nil
}

// itemFinder finds an item of the programmes that an entry may name.
type itemFinder func(id string) *schedule.Item

// itemsOf gives the items of the vehicle's programme on the day of the work; an
// item that only another version has is found too.
func (s *Service) itemsOf(known *known, m *schedulev1.ServiceEntry) (itemFinder, error) {
	on, err := vehiclewire.Date(m.GetServiceDate())
	if err != nil || on.IsZero() {
		on = s.today()
	}
	standing, err := s.fleet.standing(known, on)
	if err != nil {
		return nil, err
	}
	versions := s.store.Versions(standing.programme)
	first, err := s.plans.inForce(versions, standing.programme, on)
	if err != nil {
		return nil, err
	}
	return func(id string) *schedule.Item {
		if n, ok := first.Index(id); ok {
			return first.Item(n)
		}
		for v := range versions {
			if p, err := s.plans.at(versions, v); err == nil {
				if n, ok := p.Index(id); ok {
					return p.Item(n)
				}
			}
		}
		return nil
	}, nil
}

// checkEntry checks work done against the programme and brings its reading and
// its packs of shims to the form that is stored. Without a finder, as for an
// import, the items are taken as they are.
func checkEntry(c *checker, m *schedulev1.ServiceEntry, find itemFinder) (schedule.Entry, error) {
	e, err := schedulewire.Entry(m)
	c.wrong = append(c.wrong, fault.FieldsOf("", err)...)
	if err == nil {
		c.date("service_date", e.Date)
	}
	reading, _ := vehiclewire.Entered(m.GetReading())
	c.dial("reading", reading)
	c.must(len(m.GetItems())+len(m.GetParts()) > 0 || m.GetNote() != "", "items", "", "an item, a part or a note: what was done")
	c.must(len(m.GetItems()) <= maxItemsDone, "items", strconv.Itoa(len(m.GetItems())), "at most 200")
	c.must(len(m.GetParts()) <= maxPartsUsed, "parts", strconv.Itoa(len(m.GetParts())), "at most 200")
	seen := map[string]bool{}
	for i, done := range m.GetItems() {
		at := fmt.Sprintf("items[%d]", i)
		c.must(!seen[done.GetItemId()], at+".item_id", done.GetItemId(), "each item once")
		seen[done.GetItemId()] = true
		c.note(at+".note", done.GetNote())
		c.itemDone(at, done, find)
	}
	for i, p := range m.GetParts() {
		at := fmt.Sprintf("parts[%d]", i)
		c.must(p.GetPart() != "" && !fault.Longer(p.GetPart(), maxName), at+".part", p.GetPart(), "a part number")
		c.must(p.GetQuantity() >= 1 && p.GetQuantity() <= 1000, at+".quantity", strconv.Itoa(int(p.GetQuantity())), "1 to 1000")
		c.called(at+".lot", p.GetLot())
	}
	c.called("done_by", m.GetDoneBy())
	c.note("note", m.GetNote())
	c.statedBy(m.GetStatedBy())
	c.organisation(m.GetOrganisation())
	c.called("job_sheet", m.GetJobSheet())
	c.note("void_reason", m.GetVoidReason())
	c.must(m.GetVoidReason() != "" || m.GetVoidedBy() == "" && m.GetVoidTime() == nil, "void_reason", "", "why it was struck out, where it is said by whom or when")
	m.Reading = vehiclewire.EnteredProto(reading)
	if find != nil {
		c.must(proto.Size(m) <= maxEntryBytes, "items", fmt.Sprintf("%d KiB with all that is said of them", (proto.Size(m)+1023)>>10), fmt.Sprintf("at most %d KiB", maxEntryBytes>>10))
		m.Items = withPacks(m.GetItems()) // what is imported stays as its file has it
	}
	return e, c.err()
}

// itemDone checks one item and what was measured for it.
func (c *checker) itemDone(at string, done *schedulev1.ItemDone, find itemFinder) {
	c.must(len(done.GetMeasured()) <= maxMeasured, at+".measured", strconv.Itoa(len(done.GetMeasured())), "at most 50")
	for k, v := range done.GetMeasured() {
		at := fmt.Sprintf("%s.measured[%d]", at, k)
		c.called(at+".instrument", v.GetInstrument())
		c.called(at+".measured_by", v.GetMeasuredBy())
	}
	if find == nil {
		c.must(done.GetItemId() != "" && len(done.GetItemId()) <= 10, at+".item_id", done.GetItemId(), "an item of the programme")
		c.shimWork(at, done, nil)
		return
	}
	item := find(done.GetItemId())
	c.shimWork(at, done, item)
	if item == nil {
		c.must(false, at+".item_id", done.GetItemId(), "an item of this vehicle's programme")
		return
	}
	for k, v := range done.GetMeasured() {
		at := fmt.Sprintf("%s.measured[%d]", at, k)
		var limit *schedule.MeasuredLimit
		for n := range item.Measured {
			if item.Measured[n].Characteristic == v.GetCharacteristic() {
				limit = &item.Measured[n]
			}
		}
		if limit == nil {
			c.must(false, at+".characteristic", v.GetCharacteristic(), "what "+item.ID+" measures: "+characteristics(item))
			continue
		}
		c.must(v.GetValue().GetUnit() == limit.Unit, at+".value.unit", v.GetValue().GetUnit(), limit.Unit)
		c.must(!fault.Longer(v.GetPosition(), maxName), at+".position", v.GetPosition(), "a position")
		c.must(v.GetValue().GetValue() != "", at+".value.value", "", "a number")
	}
}

// characteristics lists what an item measures.
func characteristics(item *schedule.Item) string {
	text := ""
	for i := range item.Measured {
		if i > 0 {
			text += ", "
		}
		text += item.Measured[i].Characteristic
	}
	if text == "" {
		return "nothing"
	}
	return text
}

// withReading gives the records of an entry: itself and, where the dial was
// read, the reading.
func withReading(serial vehicle.Serial, id string, m *schedulev1.ServiceEntry) []schedulestore.Record {
	records := []schedulestore.Record{{Key: schedulestore.Entries.Key(serial, id), Message: m}}
	if reading := readingOfEntry(serial, id, m); reading != nil {
		records = append(records, schedulestore.Record{Key: schedulestore.Readings.Key(serial, id), Message: reading})
	}
	return records
}

// readingOfEntry is the reading that comes with an entry, nil for none.
func readingOfEntry(serial vehicle.Serial, id string, m *schedulev1.ServiceEntry) *schedulev1.Reading {
	if m.GetReading() == nil {
		return nil
	}
	source := schedulev1.ReadingSource_READING_SOURCE_DEALER
	if m.GetOwnerStatement() {
		source = schedulev1.ReadingSource_READING_SOURCE_OWNER
	}
	return &schedulev1.Reading{
		Name: schedulestore.Readings.Name(serial, id), ReadingDate: m.GetServiceDate(), Value: m.GetReading(),
		Source: source, Note: "read at the service", StatedBy: m.GetStatedBy(), Organisation: m.GetOrganisation(),
		RecordedBy: m.GetRecordedBy(), CreateTime: m.GetCreateTime(),
	}
}

// ListServiceEntries implements the ScheduleService.
func (s *Service) ListServiceEntries(ctx context.Context, r *schedulev1.ListServiceEntriesRequest) (*schedulev1.ListServiceEntriesResponse, error) {
	serial, _, err := s.parent(ctx, r.GetParent())
	if err != nil {
		return nil, err
	}
	past, err := s.pasts.of(s.store.History(serial))
	if err != nil {
		return nil, err
	}
	all, page := past.recorded, cut[*schedulev1.ServiceEntry]
	if r.GetLatestFirst() {
		all, page = slices.Clone(all), cutBack
		slices.Reverse(all)
	}
	few, next, err := page(r, r.GetPageSize(), r.GetPageToken(), all)
	if err != nil {
		return nil, err
	}
	caller := access.CallerFrom(ctx)
	for i, m := range few { // which are shared
		if r.GetWithoutItems() {
			m = withoutItems(m)
		}
		if caller.Role.Limited() {
			m = discreetEntry(caller, proto.CloneOf(m))
		}
		few[i] = m
	}
	return vehiclewire.Alone(ctx, serial, &schedulev1.ListServiceEntriesResponse{ServiceEntries: few, NextPageToken: next}), nil
}

// withoutItems gives an entry without what was done. What it has of the entry it
// shares with it.
func withoutItems(m *schedulev1.ServiceEntry) *schedulev1.ServiceEntry {
	head := &schedulev1.ServiceEntry{}
	m.ProtoReflect().Range(func(field protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		if field.Name() != "items" {
			head.ProtoReflect().Set(field, v)
		}
		return true
	})
	return head
}

// VoidServiceEntry implements the ScheduleService. A reading that came with the
// entry is rejected with it, unless a person has decided about it already.
func (s *Service) VoidServiceEntry(ctx context.Context, r *schedulev1.VoidServiceEntryRequest) (*schedulev1.ServiceEntry, error) {
	serial, ids, err := resname.Serial("name", schedulestore.Entries.Pattern("service_entry"), r.GetName())
	if err != nil {
		return nil, err
	}
	if _, err := s.known(ctx, serial); err != nil {
		return nil, err
	}
	if strings.TrimSpace(r.GetReason()) == "" || fault.Longer(r.GetReason(), maxNote) {
		return nil, fault.InvalidField("reason", r.GetReason(), "why, in a few words, "+fault.AtMost(maxNote))
	}
	answer, result, err := once(ctx, s, r.GetRequestId(), r, &schedulev1.ServiceEntry{}, func() (*schedulev1.ServiceEntry, []schedulestore.Record, error) {
		history := s.store.History(serial)
		unknown := fault.New(fault.NotFound, "SERVICE_ENTRY_NOT_FOUND", "There is no such service entry of %s.", serial)
		stored, ok := history.Find(schedulestore.Entries, ids[0])
		if !ok {
			return nil, nil, unknown
		}
		m := &schedulev1.ServiceEntry{}
		if err := history.Read(schedulestore.Entries, stored, m); err != nil {
			return nil, nil, err
		}
		if !mayVoid(access.CallerFrom(ctx), m) {
			return nil, nil, unknown
		}
		if err := kv.Matches("etag", r.GetEtag(), stored.Revision); err != nil {
			return nil, nil, err
		}
		if m.GetVoidReason() != "" {
			return nil, nil, fault.New(fault.FailedPrecondition, "SERVICE_ENTRY_VOID", "This entry of %s is struck out already.", serial)
		}
		if m.GetJobSheet() != "" && access.CallerFrom(ctx).Role != access.Service {
			return nil, nil, fault.New(fault.FailedPrecondition, "SERVICE_ENTRY_OF_SHEET",
				"This work on %s came back on job sheet %s. The works strikes out what came back on the sheet, so that all of it goes together.", serial, lastSegment(m.GetJobSheet()))
		}
		m.VoidReason, m.VoidedBy, m.VoidTime = r.GetReason(), access.CallerFrom(ctx).Bearer, timestamppb.New(s.now())
		records := []schedulestore.Record{{Key: schedulestore.Entries.Key(serial, ids[0]), Message: m, Was: stored.Revision}}
		rejected, err := s.rejectWith(ctx, serial, ids[0], history, r.GetReason())
		if rejected != nil {
			records = append(records, *rejected)
		}
		return m, records, err
	})
	if err != nil {
		return nil, err
	}
	answer.Etag = etagOf(result)
	return answer, nil
}

// rejectWith rejects the reading of an entry that is struck out; nil when it
// has none or it is settled.
func (s *Service) rejectWith(ctx context.Context, serial vehicle.Serial, id string, h *schedulestore.History, reason string) (*schedulestore.Record, error) {
	stored, ok := h.Find(schedulestore.Readings, id)
	if !ok {
		return nil, nil
	}
	m := &schedulev1.Reading{}
	if err := h.Read(schedulestore.Readings, stored, m); err != nil || m.GetSettlement() != nil {
		return nil, err
	}
	m.Settlement = &schedulev1.Settlement{
		Verdict: schedulev1.Verdict_VERDICT_REJECTED, Reason: "the service entry was struck out: " + reason,
		SettledBy: access.CallerFrom(ctx).Bearer, SettleTime: timestamppb.New(s.now()),
	}
	return &schedulestore.Record{Key: schedulestore.Readings.Key(serial, id), Message: m, Was: stored.Revision}, nil
}
