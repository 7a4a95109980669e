package reminderrpc

import (
	"context"
	"fmt"
	"slices"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// mostLetters bounds a batch of letters, and how many are marked at once.
const mostLetters = 100

// noticeIDs reads the identifiers of notices, each once.
func noticeIDs(names []string) ([]string, error) {
	if len(names) > mostLetters {
		return nil, fault.InvalidField("notices", fmt.Sprintf("%d of them", len(names)), fmt.Sprintf("at most %d", mostLetters))
	}
	var ids []string
	for i, name := range names {
		field := fmt.Sprintf("notices[%d]", i)
		id, err := reminderwire.ID(field, reminderwire.NoticeForm, name)
		if err != nil {
			return nil, err
		}
		if slices.Contains(ids, id) {
			return nil, fault.InvalidField(field, name, "each notice once")
		}
		ids = append(ids, id)
	}
	return ids, nil
}

// PrintLetters implements the ReminderService.
func (s *Service) PrintLetters(ctx context.Context, r *reminderv1.PrintLettersRequest) (*reminderv1.PrintLettersResponse, error) {
	size, err := page.Size(r.GetPageSize(), 50, mostLetters)
	if err != nil {
		return nil, err
	}
	ids, err := noticeIDs(r.GetNotices())
	if err != nil {
		return nil, err
	}
	batch, err := s.Job.PrintLetters(ctx, ids, size)
	if err != nil {
		return nil, err
	}
	out := &reminderv1.PrintLettersResponse{Pdf: batch.PDF, Waiting: int32(batch.Waiting)}
	for _, k := range batch.Notices {
		out.Notices = append(out.Notices, noticeProto(k))
	}
	return out, nil
}

// MarkPosted implements the ReminderService.
func (s *Service) MarkPosted(ctx context.Context, r *reminderv1.MarkPostedRequest) (*reminderv1.MarkPostedResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	ids, err := noticeIDs(r.GetNotices())
	if err != nil {
		return nil, err
	}
	if len(ids) == 0 {
		return nil, fault.InvalidField("notices", "", "the letters that were posted")
	}
	day, err := reminderwire.Day("posted_date", r.GetPostedDate())
	if err != nil {
		return nil, err
	}
	q := reminderstore.Request{ID: r.GetRequestId(), Payload: r}
	if _, err := s.Store.Replay(ctx, q, &reminderv1.MarkPostedResponse{}); err != nil {
		return nil, err // the id was used for something else
	}
	posted, err := s.Job.MarkPosted(ctx, q, ids, day)
	if err != nil {
		return nil, err
	}
	out := &reminderv1.MarkPostedResponse{}
	for _, k := range posted {
		out.Notices = append(out.Notices, noticeProto(k))
	}
	return out, nil
}
