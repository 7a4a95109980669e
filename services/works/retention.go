package works

import (
	"context"

	"google.golang.org/protobuf/reflect/protoregistry"

	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/privacy"
)

// PersonalData prints the inventory of what this program holds that is
// personal; it needs no store and no services.
func PersonalData() string { return privacy.Document(privacy.Inventory(protoregistry.GlobalFiles)) }

// retainer is a service that keeps something personal for a time.
type retainer interface{ RetentionJob() leader.Job }

// retentionJobs gives the passes that remove what is past its time from the
// services that this process runs.
func (p *Process) retentionJobs() []leader.Job {
	var jobs []leader.Job
	for _, part := range p.parts {
		if r, ok := part.(retainer); ok {
			jobs = append(jobs, r.RetentionJob())
		}
	}
	return jobs
}

// retain makes those passes when their time comes, until the process stops. A
// process that passes nothing by itself removes nothing by itself either.
func (p *Process) retain(ctx context.Context, store *kv.Store) error {
	jobs := p.retentionJobs()
	if p.config.Passes == Never || len(jobs) == 0 {
		return nil
	}
	return leader.RunJobs(ctx, p.client, store, jobs, p.config.Clock, p.config.Logger)
}
