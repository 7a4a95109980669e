package works

import (
	"context"

	"halfshaft/services/access/accessaudit"
	"halfshaft/services/access/accessauditrpc"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
)

// openAudit serves the audit where access is served, and keeps its chain in
// whichever process leads it. A process that a command made for itself leaves
// the removing of old texts to those that serve.
func (p *Process) openAudit(ctx context.Context, store *kv.Store) {
	c := p.config
	service := accessauditrpc.New(accessauditrpc.Config{Store: store, Clock: c.Clock})
	service.RegisterService(p.server)
	p.parts = append(p.parts, service)
	p.background.Go(func() error {
		return accessaudit.Chain(ctx, accessaudit.Config{Store: store, Clock: c.Clock, Logger: c.Logger})
	})
	if c.Passes == Never {
		return
	}
	jobs := []leader.Job{accessaudit.RetentionJob(store, c.Clock)}
	p.background.Go(func() error { return leader.RunJobs(ctx, p.client, store, jobs, c.Clock, c.Logger) })
}
