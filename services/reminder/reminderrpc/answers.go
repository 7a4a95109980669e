package reminderrpc

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

func answerProto(k reminderstore.KeptAnswer) *reminderv1.Answer {
	p := reminderwire.AnswerProto(k.Answer)
	p.Etag = kv.Etag(k.Revision)
	return p
}

// CreateAnswer implements the ReminderService.
func (s *Service) CreateAnswer(ctx context.Context, r *reminderv1.CreateAnswerRequest) (*reminderv1.Answer, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	serial, _, err := resname.Serial("parent", reminderwire.VehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	q := reminderstore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.Store.ReplayAnswer(ctx, q); err != nil || found {
		return answerProto(kept), err
	}
	a, err := s.asked(ctx, serial, r.GetAnswer())
	if err != nil {
		return nil, fault.Under("answer", err)
	}
	var task *reminder.Task
	if a.Kind == reminder.Done {
		t := a.SaidDoneTask(a.Created)
		task = &t
	}
	kept, err := s.Store.CreateAnswer(ctx, q, a, task)
	if err != nil {
		return nil, err
	}
	return answerProto(kept), nil
}

// asked reads and checks an answer about a vehicle, whose name and time are
// made here.
func (s *Service) asked(ctx context.Context, serial vehicle.Serial, p *reminderv1.Answer) (reminder.Answer, error) {
	a, err := reminderwire.AskedAnswer(serial, p)
	if err != nil {
		return a, err
	}
	caller := access.CallerFrom(ctx)
	if caller.Role == access.Owner {
		own := strings.TrimPrefix(caller.Person, "people/")
		if a.Person != "" && a.Person != own {
			return a, access.NoPerson(a.Person)
		}
		a.Person = own
	}
	a.ID, a.Created, a.RecordedBy = kv.NewID(), s.now(), caller.Bearer
	if err := s.answersNotice(ctx, a); err != nil {
		return a, err
	}
	today, err := s.todayFor(ctx, a.Person)
	if err != nil {
		return a, err
	}
	v, err := s.vehicleOn(ctx, serial)
	if err != nil {
		return a, err
	}
	return a, a.Check(withRecorded(v, a), today)
}

// answersNotice refuses a notice that is not about the vehicle, or not to the
// person.
func (s *Service) answersNotice(ctx context.Context, a reminder.Answer) error {
	if a.Notice == "" {
		return nil
	}
	kept, err := s.Store.Notice(ctx, a.Notice)
	switch {
	case fault.Is(err, fault.NotFound), err == nil && (kept.Serial != a.Serial || a.Person != "" && kept.Person != a.Person):
		return fault.InvalidField("notice", reminderwire.NoticeName(a.Notice), "a notice about this vehicle to this person")
	}
	return err
}

// todayFor gives the day by a person's clock, or by UTC for the works.
func (s *Service) todayFor(ctx context.Context, person string) (vehicle.Date, error) {
	if person == "" {
		return vehicle.DateOf(s.now()), nil
	}
	p, err := s.person(ctx, person)
	if err != nil {
		return vehicle.Date{}, err
	}
	if p == nil {
		return vehicle.Date{}, fault.InvalidField("person", reminderwire.PersonName(person), "a person who is there")
	}
	return todayOf(p, s.now()), nil
}

// vehicleOn asks for a vehicle's schedule as it is now.
func (s *Service) vehicleOn(ctx context.Context, serial vehicle.Serial) (reminder.Vehicle, error) {
	schedule, err := s.Job.Schedules.GetSchedule(reminderjob.AsService(ctx), &schedulev1.GetScheduleRequest{
		Name: reminderwire.VehicleName(serial) + "/schedule",
	})
	if err != nil {
		return reminder.Vehicle{}, rpcerr.FromStatus(err)
	}
	return reminderwire.Vehicle(schedule)
}

// withRecorded gives the vehicle with the rounds that a recorded entry ended,
// so that an answer may still name them: the entry is recorded before the
// answer that says so.
func withRecorded(v reminder.Vehicle, a reminder.Answer) reminder.Vehicle {
	if a.Kind != reminder.Done || a.ServiceEntry == "" {
		return v
	}
	v.Items = slices.Clone(v.Items)
	for _, cycle := range a.Cycles {
		id, began, _ := strings.Cut(cycle, ".")
		day, err := vehicle.ParseDate(began)
		at := slices.IndexFunc(v.Items, func(i reminder.Item) bool { return i.ID == id })
		if at < 0 || err != nil || v.Items[at].Cycle == cycle && !v.Items[at].ActBy.IsZero() {
			continue
		}
		ended := v.Items[at]
		ended.Cycle, ended.Began, ended.ActBy = cycle, day, a.Day
		v.Items = append(v.Items, ended)
	}
	return v
}

// WithdrawAnswer implements the ReminderService.
func (s *Service) WithdrawAnswer(ctx context.Context, r *reminderv1.WithdrawAnswerRequest) (*reminderv1.Answer, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	serial, ids, err := resname.Serial("name", reminderwire.AnswerForm, r.GetName())
	if err != nil {
		return nil, err
	}
	q := reminderstore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.Store.ReplayAnswer(ctx, q); err != nil || found {
		return answerProto(kept), err
	}
	kept, err := s.Store.Answer(ctx, serial, ids[0])
	if err != nil {
		return nil, err
	}
	caller := access.CallerFrom(ctx)
	if caller.Role == access.Owner && reminderwire.PersonName(kept.Person) != caller.Person {
		return nil, reminderstore.NoAnswer(serial, ids[0])
	}
	if r.GetEtag() != "" {
		if err := unchanged(r.GetEtag(), kept.Revision); err != nil {
			return nil, err
		}
	}
	if !kept.Withdrawn.IsZero() {
		return nil, fault.New(fault.FailedPrecondition, "ANSWER_WITHDRAWN", "The answer %s was taken back already.", ids[0])
	}
	kept.Withdrawn = s.now()
	task, err := s.taskOf(ctx, kept.Answer, caller)
	if err != nil {
		return nil, err
	}
	kept, err = s.Store.PutAnswer(ctx, q, kept.Answer, kept.Revision, task)
	if err != nil {
		return nil, err
	}
	return answerProto(kept), nil
}

// taskOf gives the open task that an answer made, closed because the answer was
// taken back; nil for none.
func (s *Service) taskOf(ctx context.Context, a reminder.Answer, caller access.Caller) (*reminderstore.KeptTask, error) {
	if a.Kind != reminder.Done {
		return nil, nil
	}
	task, err := s.Store.Task(ctx, a.SaidDoneTask(a.Created).ID)
	if fault.Is(err, fault.NotFound) || err == nil && !task.Completed.IsZero() {
		return nil, nil
	}
	task.Completed, task.Outcome = s.now(), caller.Bearer+": the answer was taken back"
	return &task, err
}

// ListAnswers implements the ReminderService. An owner is given their own
// answers, and of those of others that hold what is silenced until when, not
// who said so.
func (s *Service) ListAnswers(ctx context.Context, r *reminderv1.ListAnswersRequest) (*reminderv1.ListAnswersResponse, error) {
	serial, err := vehicleOrAll(r.GetParent())
	if err != nil {
		return nil, err
	}
	size, token, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	after, err := parsePlace(token)
	if err != nil {
		return nil, err
	}
	found, err := s.answersAfter(ctx, serial, after, size+1)
	if err != nil {
		return nil, err
	}
	out := &reminderv1.ListAnswersResponse{}
	if len(found) > size {
		found = found[:size]
		out.NextPageToken = page.Token(r, placeOf(found[size-1].Answer).String())
	}
	caller := access.CallerFrom(ctx)
	for _, k := range found {
		if p, ok := shown(k, caller); ok {
			out.Answers = append(out.Answers, p)
		}
	}
	return out, nil
}

// shown gives an answer as far as the caller may see it.
func shown(k reminderstore.KeptAnswer, caller access.Caller) (*reminderv1.Answer, bool) {
	p := answerProto(k)
	if caller.Role != access.Owner || p.GetPerson() == caller.Person {
		return p, true
	}
	return &reminderv1.Answer{
		Name: p.GetName(), Kind: p.GetKind(), Cycles: p.GetCycles(), AnswerDate: p.GetAnswerDate(), CreateTime: p.GetCreateTime(),
	}, k.Withdrawn.IsZero()
}

// answersAfter gives up to limit answers behind a place, by vehicle and then as
// they were given.
func (s *Service) answersAfter(ctx context.Context, serial vehicle.Serial, after place, limit int) ([]reminderstore.KeptAnswer, error) {
	var out, of []reminderstore.KeptAnswer // of: those of one vehicle
	flush := func() {
		slices.SortFunc(of, func(a, b reminderstore.KeptAnswer) int { return placeOf(a.Answer).compare(placeOf(b.Answer)) })
		out, of = append(out, of...), nil
	}
	err := s.Store.EachAnswer(ctx, serial, after.serial, func(k reminderstore.KeptAnswer) (bool, error) {
		if len(of) > 0 && of[0].Serial != k.Serial {
			flush()
		}
		if placeOf(k.Answer).compare(after) > 0 {
			of = append(of, k)
		}
		return len(out) < limit, nil
	})
	flush()
	return out[:min(len(out), limit)], err
}

// place is where an answer stands in a list.
type place struct {
	serial vehicle.Serial
	at     time.Time
	id     string
}

func placeOf(a reminder.Answer) place { return place{a.Serial, a.Created, a.ID} }

func (p place) compare(other place) int {
	return cmp.Or(cmp.Compare(p.serial, other.serial), p.at.Compare(other.at), cmp.Compare(p.id, other.id))
}

func (p place) String() string { return fmt.Sprintf("%s/%d/%s", p.serial, p.at.UnixMicro(), p.id) }

// parsePlace reads what String wrote; nothing is before every answer.
func parsePlace(text string) (place, error) {
	if text == "" {
		return place{}, nil
	}
	parts := strings.SplitN(text, "/", 3)
	if len(parts) == 3 {
		if at, err := strconv.ParseInt(parts[1], 10, 64); err == nil {
			return place{vehicle.Serial(parts[0]), time.UnixMicro(at).UTC(), parts[2]}, nil
		}
	}
	return place{}, fault.InvalidField("page_token", text, "the next_page_token of the same request")
}
