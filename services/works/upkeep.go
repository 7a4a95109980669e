package works

import (
	"context"
	"time"

	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
)

// requestsKept is how long the answer to a request id is remembered: longer
// than any client retries.
const requestsKept = 30 * 24 * time.Hour

// upkeep is the job that forgets old request ids, in whichever process leads.
func (p *Process) upkeep(ctx context.Context, store *kv.Store) error {
	return leader.RunJobs(ctx, p.client, store, []leader.Job{{
		Name: "trim-requests", Spec: "23 * * * *",
		Pass: func(ctx context.Context, scheduled time.Time, _ kv.Fence) error {
			for _, service := range AllServices {
				n, err := store.TrimRequests(ctx, service, scheduled.Add(-requestsKept))
				if err != nil {
					return err
				}
				if n > 0 {
					p.config.Logger.Info("old request ids are forgotten", "service", service, "count", n)
				}
			}
			return nil
		},
	}}, p.config.Clock, p.config.Logger)
}
