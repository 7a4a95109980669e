package works

import (
	"context"

	"halfshaft/services/internal/kv"
	"halfshaft/services/jobsheet/jobsheetrpc"
)

// openJobSheets makes the job sheet service. A return that a crash cut short is
// carried on whatever else passes or does not: it was acknowledged.
func (p *Process) openJobSheets(ctx context.Context, store *kv.Store, clients Clients) (part, error) {
	c := p.config
	s, err := jobsheetrpc.New(ctx, jobsheetrpc.Config{
		Store: store, Group: p.group, Builds: clients.Builds, Schedules: clients.Schedules, Parts: clients.Parts, Bulletins: clients.Bulletins,
		Works: c.Works.Name, Clock: c.Clock, Logger: c.Logger,
	})
	if err != nil {
		return nil, err
	}
	p.background.Go(func() error { return s.Lead(ctx, p.client) })
	return s, nil
}
