package works

import (
	"context"
	"fmt"

	"halfshaft/services/bulletin/bulletinjob"
	"halfshaft/services/bulletin/bulletinrpc"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/internal/kv"
)

// openBulletins makes the bulletin service with its job. A process that passes
// nothing by itself leaves the lists of campaigns to whoever asks.
func (p *Process) openBulletins(ctx context.Context, store *kv.Store, clients Clients) (part, error) {
	c := p.config
	kept, err := bulletinstore.Open(ctx, store, c.Logger)
	if err != nil {
		return nil, fmt.Errorf("open the bulletins: %w", err)
	}
	job, err := bulletinjob.New(ctx, bulletinjob.Config{
		Store: kept, Group: p.group, Builds: clients.Builds, Owners: clients.Owners, Schedules: clients.Schedules, Clock: c.Clock, Logger: c.Logger,
	})
	if err != nil {
		kept.Close()
		return nil, err
	}
	if c.Passes != Never {
		p.background.Go(func() error { return job.Lead(ctx, p.client, store) })
	}
	return bulletinrpc.New(bulletinrpc.Config{
		Store: kept, Job: job, Group: p.group, Schedules: clients.Schedules, Clock: c.Clock, Logger: c.Logger,
	}), nil
}
