package works

import (
	"context"
	"fmt"
	"time"

	"halfshaft/services/build/buildrpc"
	"halfshaft/services/bulletin/bulletinjob"
	"halfshaft/services/bulletin/bulletinrpc"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/internal/kv"
)

// holding is what is asked before a vehicle leaves the works; nil, with a word in
// the log, where this process neither runs the bulletins nor has a peer that does.
func (p *Process) holding(clients Clients) buildrpc.Bulletins {
	if !p.runs(Bulletin) && p.config.Peers[Bulletin] == "" {
		p.config.Logger.Warn("no peer runs the bulletins: a delivery that one of them holds back is not refused here")
		return nil
	}
	return clients.Bulletins
}

// openBulletins makes the bulletin service with its job. A process that passes
// nothing by itself leaves the lists of campaigns to whoever asks.
func (p *Process) openBulletins(ctx context.Context, store *kv.Store, clients Clients, zone *time.Location) (part, error) {
	c := p.config
	kept, err := bulletinstore.Open(ctx, store, zone, c.Logger)
	if err != nil {
		return nil, fmt.Errorf("open the bulletins: %w", err)
	}
	job, err := bulletinjob.New(ctx, bulletinjob.Config{
		Store: kept, Group: p.group, Builds: clients.Builds, Owners: clients.Owners, Schedules: clients.Schedules, Clock: c.Clock, Zone: zone, Logger: c.Logger,
	})
	if err != nil {
		kept.Close()
		return nil, err
	}
	service, err := bulletinrpc.New(ctx, bulletinrpc.Config{
		Store: kept, Job: job, Group: p.group, Schedules: clients.Schedules, Clock: c.Clock, Zone: zone, Logger: c.Logger,
	})
	if err != nil {
		job.Close()
		kept.Close()
		return nil, err
	}
	if c.Passes != Never {
		p.background.Go(func() error { return job.Lead(ctx, p.client, store) })
	}
	return service, nil
}
