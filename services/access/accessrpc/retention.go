package accessrpc

import (
	"context"
	"fmt"
	"time"

	"google.golang.org/protobuf/proto"

	privacyv1 "halfshaft/proto/halfshaft/privacy/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// RetentionJob is the nightly pass that removes keys, and names and ways of
// signing in of accounts, a year after their end.
func (s *Service) RetentionJob() leader.Job {
	return leader.Job{
		Name: "retention-access", Spec: "35 4 * * *",
		Pass: func(ctx context.Context, _ time.Time, fence kv.Fence) error { return s.retain(ctx, fence) },
	}
}

// retain makes one pass; what somebody changed meanwhile waits for the next.
func (s *Service) retain(ctx context.Context, fence kv.Fence) error {
	keys := s.store.ExpiredKeys(s.now())
	for _, k := range keys {
		if err := s.store.DropKey(ctx, fence, k); err != nil && !fault.Is(err, fault.Aborted) {
			return fmt.Errorf("remove a key's record: %w", err)
		}
	}
	accounts, err := s.store.ExpiredAccounts(ctx, s.now())
	if err != nil {
		return err
	}
	for _, a := range accounts {
		if err := s.store.DropName(ctx, fence, a); err != nil && !fault.Is(err, fault.Aborted) {
			return fmt.Errorf("remove the name of an account: %w", err)
		}
	}
	if len(keys)+len(accounts) > 0 {
		s.logger.Info("what was past its time was removed", "keys", len(keys), "accounts", len(accounts))
	}
	return nil
}

// ListRetention implements the AccessService: accounts first, then keys, which
// is the order of their names.
func (s *Service) ListRetention(ctx context.Context, r *privacyv1.ListRetentionRequest) (*privacyv1.ListRetentionResponse, error) {
	size, err := page.Size(r.GetPageSize(), 50, 500)
	if err != nil {
		return nil, err
	}
	after, err := page.After(proto.Message(r), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	now := s.now()
	accounts, err := s.store.ExpiredAccounts(ctx, now)
	if err != nil {
		return nil, err
	}
	var lines []*privacyv1.RetentionLine
	add := func(name, sentence string, ended time.Time) {
		if name <= after || len(lines) > size {
			return
		}
		day := vehicle.DateOf(ended.UTC())
		lines = append(lines, &privacyv1.RetentionLine{
			Name: name, Keep: privacyv1.Keep_KEEP_WITH_ACCESS, Sentence: fmt.Sprintf(sentence, day),
			DueDate: vehiclewire.DateProto(day.AddMonths(access.KeptMonths)),
		})
	}
	for _, a := range accounts {
		add(a.Name(), "The name of its holder, and what they signed in with, are removed: closed on %s.", a.Closed)
	}
	for _, k := range s.store.ExpiredKeys(now) {
		ended, _ := k.Ended(now)
		add(k.Name(), "Removed: ended on %s.", ended)
	}
	out := &privacyv1.ListRetentionResponse{}
	out.Lines, out.NextPageToken = page.Cut(r, lines, size, func(l *privacyv1.RetentionLine) string { return l.GetName() })
	return out, nil
}
