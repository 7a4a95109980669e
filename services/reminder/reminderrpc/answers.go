package reminderrpc

import (
	"context"
	"strings"

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
	"halfshaft/services/vehicle/vehiclewire"
)

// answerProto writes an answer with its etag. What is sealed stays so.
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
	if kept, found, err := s.Store.ReplayAnswer(ctx, q); err != nil {
		return nil, err
	} else if found {
		return s.opened(ctx, kept)
	}
	a, err := s.asked(ctx, serial, r.GetAnswer())
	if err != nil {
		return nil, fault.Under("answer", err)
	}
	if a, err = s.sealed(ctx, a); err != nil {
		return nil, err
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
	return s.opened(ctx, kept)
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
	v, err := s.vehicleOn(ctx, serial, today)
	if err != nil {
		return a, err
	}
	if v, err = s.withEntry(ctx, v, a, today); err != nil {
		return a, err
	}
	return a, a.Check(v, today)
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

// vehicleOn asks for a vehicle's schedule on a day: that of the person whom it is
// about.
func (s *Service) vehicleOn(ctx context.Context, serial vehicle.Serial, on vehicle.Date) (reminder.Vehicle, error) {
	schedule, err := s.Job.Schedules.GetSchedule(reminderjob.AsService(ctx), &schedulev1.GetScheduleRequest{
		Name: reminderwire.VehicleName(serial) + "/schedule", OnDate: vehiclewire.DateProto(on),
	})
	if err != nil {
		return reminder.Vehicle{}, rpcerr.FromStatus(err)
	}
	return reminderwire.Vehicle(schedule)
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
	if kept, found, err := s.Store.ReplayAnswer(ctx, q); err != nil {
		return nil, err
	} else if found {
		return s.opened(ctx, kept)
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
		if err := kv.Matches("etag", r.GetEtag(), kept.Revision); err != nil {
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
	return s.opened(ctx, kept)
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
	found, out.NextPageToken = page.Cut(r, found, size, func(k reminderstore.KeptAnswer) string { return placeOf(k.Answer).String() })
	caller := access.CallerFrom(ctx)
	for _, k := range found {
		p, ok, err := s.shown(ctx, k, caller)
		if err != nil {
			return nil, err
		}
		if ok {
			out.Answers = append(out.Answers, p)
		}
	}
	return out, nil
}

// shown gives an answer as far as the caller may see it.
func (s *Service) shown(ctx context.Context, k reminderstore.KeptAnswer, caller access.Caller) (*reminderv1.Answer, bool, error) {
	if caller.Role != access.Owner || reminderwire.PersonName(k.Person) == caller.Person {
		p, err := s.opened(ctx, k)
		return p, true, err
	}
	p := answerProto(k)
	return &reminderv1.Answer{
		Name: p.GetName(), Kind: p.GetKind(), Cycles: p.GetCycles(), AnswerDate: p.GetAnswerDate(), CreateTime: p.GetCreateTime(),
	}, k.Withdrawn.IsZero(), nil
}
