// Package reminderrpc serves the ReminderService: what was sent, what the works
// must look into, and who wants no notices.
package reminderrpc

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
)

// Config is what the service needs.
type Config struct {
	Store  *reminderstore.Store
	Job    *reminderjob.Job
	Clock  func() time.Time
	Logger *slog.Logger
}

// Service implements the ReminderService.
type Service struct {
	reminderv1.UnimplementedReminderServiceServer
	Config
	listed listed
}

// New makes the service over an open store.
func New(c Config) *Service { return &Service{Config: c} }

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	reminderv1.RegisterReminderServiceServer(r, s)
}

// Ready implements the readiness of every service: the store is open, and what
// a pass asks of others it asks when it runs.
func (s *Service) Ready(context.Context) error { return nil }

// Close closes the store.
func (s *Service) Close() error {
	s.Store.Close()
	return nil
}

// now is the present as it is stored.
func (s *Service) now() time.Time { return s.Clock().UTC().Truncate(time.Microsecond) }

// noticeProto writes a notice with its etag.
func noticeProto(k reminderstore.Kept) *reminderv1.Notice {
	p := reminderwire.NoticeProto(k.Notice)
	p.Etag = kv.Etag(k.Revision)
	return p
}

// ListNotices implements the ReminderService.
func (s *Service) ListNotices(ctx context.Context, r *reminderv1.ListNoticesRequest) (*reminderv1.ListNoticesResponse, error) {
	serial, err := vehicleOrAll(r.GetParent())
	if err != nil {
		return nil, err
	}
	person := ""
	if r.GetPerson() != "" {
		if person, err = reminderwire.ID("person", reminderwire.PersonForm, r.GetPerson()); err != nil {
			return nil, err
		}
	}
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	found, err := s.Store.Notices(ctx, serial, after, size+1, func(n reminder.Notice) bool {
		return (person == "" || n.Person == person) &&
			(r.GetState() == reminderv1.NoticeState_NOTICE_STATE_UNSPECIFIED || reminderwire.StateProto(n.State) == r.GetState())
	})
	if err != nil {
		return nil, err
	}
	out := &reminderv1.ListNoticesResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, func(k reminderstore.Kept) string { return k.ID })
	for _, k := range found {
		out.Notices = append(out.Notices, noticeProto(k))
	}
	return out, nil
}

// vehicleOrAll reads a parent: a vehicle, or "" for "vehicles/-".
func vehicleOrAll(parent string) (vehicle.Serial, error) {
	if parent == "vehicles/-" {
		return "", nil
	}
	serial, _, err := resname.Serial("parent", reminderwire.VehicleForm, parent)
	return serial, err
}

// pageOf reads the page fields of a list.
func pageOf(request proto.Message, asked int32, token string) (size int, after string, err error) {
	if size, err = page.Size(asked, 50, 500); err != nil {
		return 0, "", err
	}
	after, err = page.After(request, token)
	return size, after, err
}

// GetNotice implements the ReminderService.
func (s *Service) GetNotice(ctx context.Context, r *reminderv1.GetNoticeRequest) (*reminderv1.GetNoticeResponse, error) {
	id, err := reminderwire.ID("name", reminderwire.NoticeForm, r.GetName())
	if err != nil {
		return nil, err
	}
	kept, err := s.Store.Notice(ctx, id)
	if err != nil {
		return nil, err
	}
	message, err := s.Job.Body(ctx, kept.Notice)
	if err != nil {
		return nil, err
	}
	return &reminderv1.GetNoticeResponse{Notice: noticeProto(kept), Message: message}, nil
}

// RetryNotice implements the ReminderService.
func (s *Service) RetryNotice(ctx context.Context, r *reminderv1.RetryNoticeRequest) (*reminderv1.Notice, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	id, err := reminderwire.ID("name", reminderwire.NoticeForm, r.GetName())
	if err != nil {
		return nil, err
	}
	q := reminderstore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.Store.ReplayNotice(ctx, q); err != nil || found {
		return noticeProto(kept), err
	}
	kept, err := s.Store.Notice(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := kv.Matches("etag", r.GetEtag(), kept.Revision); err != nil {
		return nil, err
	}
	if kept.State == reminder.Rerouted {
		return nil, fault.New(fault.FailedPrecondition, "NOTICE_REROUTED",
			"What the notice %s told is told by another channel: taken up again, it would be told twice.", id)
	}
	if kept.State != reminder.Parked {
		return nil, fault.New(fault.FailedPrecondition, "NOTICE_NOT_PARKED", "The notice %s is not parked: there is nothing to take up.", id)
	}
	if kept.Expired(s.now()) {
		return nil, fault.New(fault.FailedPrecondition, "MESSAGE_EXPIRED", "The message of notice %s is past the time for which it is kept.", id)
	}
	if kept.Overtaken(s.Store.Claims(kept.Serial)) {
		return nil, fault.New(fault.FailedPrecondition, "NOTICE_OVERTAKEN",
			"A later notice told what the notice %s tells: taken up again, it would say less than its recipient knows.", id)
	}
	kept, err = s.Store.Put(ctx, q, kept.TakenUp(s.now()), kept.Revision)
	if err != nil {
		return nil, err
	}
	return noticeProto(kept), nil
}

func taskProto(k reminderstore.KeptTask) *reminderv1.Task {
	p := reminderwire.TaskProto(k.Task)
	p.Etag = kv.Etag(k.Revision)
	return p
}

// ListTasks implements the ReminderService.
func (s *Service) ListTasks(ctx context.Context, r *reminderv1.ListTasksRequest) (*reminderv1.ListTasksResponse, error) {
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	found, err := s.Store.Tasks(ctx, after, size+1, func(t reminder.Task) bool {
		return r.GetIncludeCompleted() || t.Completed.IsZero()
	})
	if err != nil {
		return nil, err
	}
	out := &reminderv1.ListTasksResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, func(k reminderstore.KeptTask) string { return k.ID })
	for _, k := range found {
		out.Tasks = append(out.Tasks, taskProto(k))
	}
	return out, nil
}

// mostOutcome bounds what is said to have come of a task, in characters.
const mostOutcome = 2_000

// CompleteTask implements the ReminderService.
func (s *Service) CompleteTask(ctx context.Context, r *reminderv1.CompleteTaskRequest) (*reminderv1.Task, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	id, err := reminderwire.ID("name", reminderwire.TaskForm, r.GetName())
	if err != nil {
		return nil, err
	}
	if r.GetOutcome() == "" || fault.Longer(r.GetOutcome(), mostOutcome) {
		return nil, fault.InvalidField("outcome", r.GetOutcome(), "what came of it, in "+fault.AtMost(mostOutcome))
	}
	q := reminderstore.Request{ID: r.GetRequestId(), Payload: r}
	if kept, found, err := s.Store.ReplayTask(ctx, q); err != nil || found {
		return taskProto(kept), err
	}
	kept, err := s.Store.Task(ctx, id)
	if err != nil {
		return nil, err
	}
	if err := kv.Matches("etag", r.GetEtag(), kept.Revision); err != nil {
		return nil, err
	}
	if !kept.Completed.IsZero() {
		return nil, fault.New(fault.FailedPrecondition, "TASK_DONE", "The task %s is done already.", id)
	}
	kept.Completed = s.now()
	kept.Outcome = fmt.Sprintf("%s: %s", access.CallerFrom(ctx).Bearer, r.GetOutcome())
	kept, err = s.Store.PutTask(ctx, q, kept.Task, kept.Revision)
	if err != nil {
		return nil, err
	}
	return taskProto(kept), nil
}
