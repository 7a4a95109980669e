package schedulerpc

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// RecordReading implements the ScheduleService. An owner who says the same of the
// same day again says nothing new: the reading stays one, and a photograph that
// comes with it is put to it.
func (s *Service) RecordReading(ctx context.Context, r *schedulev1.RecordReadingRequest) (*schedulev1.Reading, error) {
	serial, _, err := resname.Serial("parent", vehiclePattern, r.GetParent())
	if err != nil {
		return nil, err
	}
	known, err := s.known(ctx, serial)
	if err != nil {
		return nil, err
	}
	decide := func() (*schedulev1.Reading, []schedulestore.Record, error) {
		id := kv.NewID()
		m := &schedulev1.Reading{
			Name: schedulestore.Readings.Name(serial, id), ReadingDate: s.orToday(r.GetReading().GetReadingDate()),
			Value: r.GetReading().GetValue(), Source: r.GetReading().GetSource(), Note: r.GetReading().GetNote(),
			Photograph: r.GetReading().GetPhotograph(), RecordedBy: access.CallerFrom(ctx).Bearer, CreateTime: timestamppb.New(s.now()),
		}
		if access.CallerFrom(ctx).Role == access.Owner {
			m.Source = schedulev1.ReadingSource_READING_SOURCE_OWNER // nobody speaks for another
			m.StatedBy = access.CallerFrom(ctx).Person
		}
		if access.CallerFrom(ctx).Role == access.Dealer {
			m.Source, m.Organisation = schedulev1.ReadingSource_READING_SOURCE_DEALER, dealerIn(ctx)
		}
		c := &checker{}
		c.ownPhotograph(ctx, m.GetPhotograph())
		c.room("parent", s.store.History(serial).Count(schedulestore.Readings))
		if err := checkReading(c, m); err != nil {
			return nil, nil, fault.Under("reading", err)
		}
		if said, records, err := s.saidBefore(serial, m); said != nil || err != nil {
			return said, records, err
		}
		return m, []schedulestore.Record{{Key: schedulestore.Readings.Key(serial, id), Message: m}}, nil
	}
	if r.GetValidateOnly() {
		return s.wouldBe(serial, known, decide)
	}
	answer, _, err := once(ctx, s, r.GetRequestId(), r, &schedulev1.Reading{}, decide)
	if err != nil {
		return nil, err
	}
	return s.judged(serial, known, lastSegment(answer.GetName()))
}

// wouldBe gives a reading with what it would come to among those of its vehicle,
// and writes nothing.
func (s *Service) wouldBe(serial vehicle.Serial, known *known, decide func() (*schedulev1.Reading, []schedulestore.Record, error)) (*schedulev1.Reading, error) {
	m, _, err := decide()
	if err != nil {
		return nil, err
	}
	mark, err := schedulewire.Reading(m)
	if err != nil {
		return nil, err
	}
	mark.Alone = true
	standing, err := s.fleet.standing(known, s.today())
	if err != nil {
		return nil, err
	}
	p := &past{}
	if err := p.readMarks(s.store.History(serial)); err != nil {
		return nil, err
	}
	// Messages stand by date, then by name: the new one comes after those of its day.
	at := len(p.marks)
	for at > 0 && p.marks[at-1].Date.After(mark.Date) {
		at--
	}
	p.marks, p.readings = slices.Insert(p.marks, at, mark), slices.Insert(p.readings, at, m)
	judge(standing, p.marks, p.readings)
	m.Name, m.CreateTime = "", nil
	return m, nil
}

// saidBefore gives the reading by which the same owner said the same of the same
// day, with what is to be stored of it; nil for none. One that a person decided
// about is not looked for: who repeats it disagrees.
func (s *Service) saidBefore(serial vehicle.Serial, m *schedulev1.Reading) (*schedulev1.Reading, []schedulestore.Record, error) {
	if m.GetStatedBy() == "" {
		return nil, nil, nil
	}
	history := s.store.History(serial)
	for stored := range history.All(schedulestore.Readings) {
		said := &schedulev1.Reading{}
		if err := history.Read(schedulestore.Readings, stored, said); err != nil {
			return nil, nil, err
		}
		if said.GetStatedBy() != m.GetStatedBy() || said.GetSettlement() != nil || said.GetNote() != m.GetNote() ||
			!proto.Equal(said.GetReadingDate(), m.GetReadingDate()) || !proto.Equal(said.GetValue(), m.GetValue()) {
			continue
		}
		said.Photograph = cmp.Or(m.GetPhotograph(), said.GetPhotograph())
		return said, []schedulestore.Record{{Key: schedulestore.Readings.Key(serial, lastSegment(said.GetName())), Message: said, Was: stored.Revision}}, nil
	}
	return nil, nil, nil
}

// checkReading checks a reading by itself and brings its value to the form that
// is stored.
func checkReading(c *checker, m *schedulev1.Reading) error {
	mark, err := schedulewire.Reading(m)
	c.wrong = append(c.wrong, fault.FieldsOf("", err)...)
	if err == nil {
		c.date("reading_date", mark.Date)
		c.must(!mark.Value.IsZero(), "value", "", "what the dial showed, with its unit")
	}
	c.dial("value", mark.Value)
	c.must(mark.Source.Valid(), "source", strconv.Itoa(int(m.GetSource())), "a source")
	c.note("note", m.GetNote())
	c.photograph(m.GetPhotograph())
	c.statedBy(m.GetStatedBy())
	c.organisation(m.GetOrganisation())
	m.Value = vehiclewire.EnteredProto(mark.Value)
	return c.err()
}

// judged gives a reading with what it comes to among all of its vehicle.
func (s *Service) judged(serial vehicle.Serial, known *known, id string) (*schedulev1.Reading, error) {
	all, err := s.readingsOf(serial, known)
	if err != nil {
		return nil, err
	}
	for _, m := range all {
		if lastSegment(m.GetName()) == id {
			return m, nil
		}
	}
	return nil, fault.New(fault.NotFound, "READING_NOT_FOUND", "There is no such reading of %s.", serial)
}

// readingsOf gives all readings of a vehicle, judged, by date and name.
func (s *Service) readingsOf(serial vehicle.Serial, known *known) ([]*schedulev1.Reading, error) {
	standing, err := s.fleet.standing(known, s.today())
	if err != nil {
		return nil, err
	}
	return judgedIn(s.store.History(serial), standing)
}

// judgedIn reads and judges the readings of a history.
func judgedIn(h *schedulestore.History, standing *standing) ([]*schedulev1.Reading, error) {
	p := &past{}
	if err := p.readMarks(h); err != nil {
		return nil, err
	}
	judge(standing, p.marks, p.readings)
	return p.readings, nil
}

// readingsSeen gives them as they were last judged, not to be changed: of one
// vehicle several services ask for the same page.
func (s *Service) readingsSeen(serial vehicle.Serial, known *known) ([]*schedulev1.Reading, error) {
	standing, err := s.fleet.standing(known, s.today())
	if err != nil {
		return nil, err
	}
	p, err := s.pasts.of(s.store.History(serial))
	if err != nil {
		return nil, err
	}
	return p.readingsBy(standing), nil
}

// ListReadings implements the ScheduleService.
func (s *Service) ListReadings(ctx context.Context, r *schedulev1.ListReadingsRequest) (*schedulev1.ListReadingsResponse, error) {
	var all []*schedulev1.Reading
	var serial vehicle.Serial // stays empty for all vehicles, which no limited caller may ask
	if r.GetParent() == "vehicles/-" {
		if err := s.heard(ctx); err != nil {
			return nil, err
		}
		var err error
		if all, err = s.doubtful(ctx); err != nil {
			return nil, err
		}
	} else {
		of, known, err := s.parent(ctx, r.GetParent())
		if err != nil {
			return nil, err
		}
		serial = of
		if all, err = s.readingsSeen(serial, known); err != nil {
			return nil, err
		}
	}
	few, next, err := cut(r, r.GetPageSize(), r.GetPageToken(), all)
	if err != nil {
		return nil, err
	}
	if caller := access.CallerFrom(ctx); caller.Role.Limited() {
		for i, m := range few {
			few[i] = proto.CloneOf(m) // it is shared, and is told to them as far as it is for them
			discreetReading(caller, few[i])
		}
	}
	return vehiclewire.Alone(ctx, serial, &schedulev1.ListReadingsResponse{Readings: few, NextPageToken: next}), nil
}

// parent reads the vehicle of a request.
func (s *Service) parent(ctx context.Context, name string) (vehicle.Serial, *known, error) {
	serial, _, err := resname.Serial("parent", vehiclePattern, name)
	if err != nil {
		return "", nil, err
	}
	known, err := s.known(ctx, serial)
	return serial, known, err
}

// named is an entry of a list that a page can begin after.
type named interface {
	proto.Message
	GetName() string
}

// cut gives one page of a list and the token for the next: day and name of the
// last entry given, so that entries which come or go meanwhile do not matter.
func cut[T named](request proto.Message, asked int32, token string, all []T) (few []T, next string, err error) {
	return cutAfter(request, asked, token, all, func(m named, after string) bool { return place(m) > after })
}

// cutBack is cut for a list with the latest first.
func cutBack[T named](request proto.Message, asked int32, token string, all []T) (few []T, next string, err error) {
	return cutAfter(request, asked, token, all, func(m named, after string) bool { return place(m) < after })
}

// cutAfter is cut for a list in any order: comes says whether an entry comes after
// the place of another.
func cutAfter[T named](request proto.Message, asked int32, token string, all []T, comes func(m named, after string) bool) (few []T, next string, err error) {
	size, err := page.Size(asked, standardPage, mostPage)
	if err != nil {
		return nil, "", err
	}
	after, err := page.After(request, token)
	if err != nil {
		return nil, "", err
	}
	bytes := 0
	for _, m := range all {
		if after != "" && !comes(m, after) {
			continue
		}
		if len(few) == size || bytes > pageBytes {
			return few, page.Token(request, place(few[len(few)-1])), nil
		}
		few = append(few, m)
		bytes += proto.Size(m)
	}
	return few, "", nil
}

// place is where an entry stands in a list, comparable as text.
func place(m named) string { return strconv.Itoa(10_000_000+int(dayIn(m))) + "/" + m.GetName() }

// SettleReading implements the ScheduleService.
func (s *Service) SettleReading(ctx context.Context, r *schedulev1.SettleReadingRequest) (*schedulev1.Reading, error) {
	serial, ids, err := resname.Serial("name", schedulestore.Readings.Pattern("reading"), r.GetName())
	if err != nil {
		return nil, err
	}
	known, err := s.known(ctx, serial)
	if err != nil {
		return nil, err
	}
	_, _, err = once(ctx, s, r.GetRequestId(), r, &schedulev1.Reading{}, func() (*schedulev1.Reading, []schedulestore.Record, error) {
		history := s.store.History(serial)
		stored, ok := history.Find(schedulestore.Readings, ids[0])
		if !ok {
			return nil, nil, fault.New(fault.NotFound, "READING_NOT_FOUND", "There is no such reading of %s.", serial)
		}
		if err := kv.Matches("etag", r.GetEtag(), stored.Revision); err != nil {
			return nil, nil, err
		}
		m := &schedulev1.Reading{}
		if err := history.Read(schedulestore.Readings, stored, m); err != nil {
			return nil, nil, err
		}
		before := m.GetSettlement()
		m.Settlement = &schedulev1.Settlement{
			Verdict: r.GetSettlement().GetVerdict(), Corrected: r.GetSettlement().GetCorrected(), Reason: r.GetSettlement().GetReason(),
			SettledBy: access.CallerFrom(ctx).Bearer, SettleTime: timestamppb.New(s.now()),
		}
		if err := checkSettlement(m); err != nil {
			return nil, nil, err
		}
		m.Settlement.Reason += former(before)
		c := &checker{}
		c.must(!fault.Longer(m.Settlement.Reason, maxNote), "settlement.reason", r.GetSettlement().GetReason(),
			fault.AtMost(maxNote)+" together with the decisions that it replaces")
		if err := c.err(); err != nil {
			return nil, nil, err
		}
		return m, []schedulestore.Record{{Key: schedulestore.Readings.Key(serial, ids[0]), Message: m, Was: stored.Revision}}, nil
	})
	if err != nil {
		return nil, err
	}
	return s.judged(serial, known, ids[0])
}

// former keeps in words what a decision replaces: what was decided, by whom,
// when and why. It stands in the reason, so that it goes wherever the reading
// goes, exports included.
func former(before *schedulev1.Settlement) string {
	if before == nil {
		return ""
	}
	verdict := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(before.GetVerdict().String(), "VERDICT_"), "_", " "))
	if c := before.GetCorrected(); c != nil {
		verdict += " to " + c.GetEnteredValue() + " " + c.GetEnteredUnit()
	}
	return " [before: " + verdict + " by " + before.GetSettledBy() + " on " + before.GetSettleTime().AsTime().Format(time.DateOnly) + ": " + before.GetReason() + "]"
}

// checkSettlement checks a person's decision about a reading.
func checkSettlement(m *schedulev1.Reading) error {
	c := &checker{}
	mark, err := schedulewire.Reading(m)
	c.wrong = append(c.wrong, fault.FieldsOf("", err)...)
	given := m.GetSettlement()
	if mark.Settlement == nil {
		mark.Settlement = &schedule.Settlement{}
	}
	corrected := mark.Settlement.Verdict == schedule.Corrected
	c.must(mark.Settlement.Verdict.Valid(), "settlement.verdict", given.GetVerdict().String(), "AS_READ, ROLLED_OVER, CORRECTED or REJECTED")
	c.must(corrected != mark.Settlement.Corrected.IsZero(), "settlement.corrected", mark.Settlement.Corrected.String(),
		"what the dial really showed, with CORRECTED and only then")
	c.dial("settlement.corrected", mark.Settlement.Corrected)
	c.must(given.GetReason() != "", "settlement.reason", "", "why, in a few words")
	c.note("settlement.reason", given.GetReason())
	if corrected {
		given.Corrected = vehiclewire.EnteredProto(mark.Settlement.Corrected)
	}
	return c.err()
}

// etagOf is the version that a write made.
func etagOf(r kv.Result) string { return kv.Etag(r.Revision) }
