package reminderrpc

import (
	"context"
	"fmt"
	"strings"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/page"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// ListRetention implements the ReminderService: messages first, then tasks,
// which is the order of their names.
func (s *Service) ListRetention(ctx context.Context, r *privacyv1.ListRetentionRequest) (*privacyv1.ListRetentionResponse, error) {
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	var lines []*privacyv1.RetentionLine
	id, tasksAlready := strings.CutPrefix(after, "tasks/")
	if !tasksAlready {
		messages, err := s.Store.ExpiredMessages(ctx, s.now(), strings.TrimPrefix(after, "notices/"), size+1)
		if err != nil {
			return nil, err
		}
		for _, k := range messages {
			last, _ := k.Ended()
			lines = append(lines, retentionLine(reminderwire.NoticeName(k.ID), privacyv1.Keep_KEEP_WITH_NOTICE, vehicle.DateOf(last),
				"Its message, the address and what came back are removed: done with on %s.", reminder.MessageMonths))
		}
		id = ""
	}
	if len(lines) <= size {
		tasks, err := s.Store.Tasks(ctx, id, size+1-len(lines), func(t reminder.Task) bool { return t.Expired(s.now()) })
		if err != nil {
			return nil, err
		}
		for _, t := range tasks {
			lines = append(lines, retentionLine("tasks/"+t.ID, privacyv1.Keep_KEEP_WITH_TASK, vehicle.DateOf(t.Completed.UTC()),
				"Removed: done on %s.", reminder.TaskMonths))
		}
	}
	out := &privacyv1.ListRetentionResponse{}
	out.Lines, out.NextPageToken = page.Cut(r, lines, size, func(l *privacyv1.RetentionLine) string { return l.GetName() })
	return out, nil
}

func retentionLine(name string, keep privacyv1.Keep, last vehicle.Date, sentence string, months int) *privacyv1.RetentionLine {
	return &privacyv1.RetentionLine{
		Name: name, Keep: keep, Sentence: fmt.Sprintf(sentence, last), DueDate: vehiclewire.DateProto(last.AddMonths(months)),
	}
}

// RetentionJob is the job's.
func (s *Service) RetentionJob() leader.Job { return s.Job.RetentionJob() }
