package works

import (
	"context"
	"time"

	"halfshaft/services/internal/kv"
	"halfshaft/services/jobsheet/jobsheetrpc"
)

// openJobSheets makes the job sheet service. A return that a crash cut short is
// carried on whatever else passes or does not: it was acknowledged.
func (p *Process) openJobSheets(ctx context.Context, store *kv.Store, clients Clients) (part, error) {
	c := p.config
	zone, err := time.LoadLocation(c.Works.Zone) // "" is UTC
	if err != nil {
		return nil, err // which Config.normal refused
	}
	s, err := jobsheetrpc.New(ctx, jobsheetrpc.Config{
		Store: store, Group: p.group, Builds: clients.Builds, Schedules: clients.Schedules, Parts: clients.Parts, Bulletins: clients.Bulletins,
		Works: c.Works.Name, Clock: c.Clock, Zone: zone, Logger: c.Logger,
	})
	if err != nil {
		return nil, err
	}
	p.background.Go(func() error { return s.Lead(ctx, p.client) })
	return s, nil
}
