package works

import (
	"context"

	"halfshaft/services/access/accessaudit"
	"halfshaft/services/access/accessauditrpc"
	"halfshaft/services/internal/kv"
)

// openAudit serves the audit where access is served, and keeps its chain in
// whichever process leads it.
func (p *Process) openAudit(ctx context.Context, store *kv.Store) {
	c := p.config
	service := accessauditrpc.New(accessauditrpc.Config{Store: store, Clock: c.Clock})
	service.RegisterService(p.server)
	p.parts = append(p.parts, service)
	p.background.Go(func() error {
		return accessaudit.Chain(ctx, accessaudit.Config{Store: store, Clock: c.Clock, Logger: c.Logger})
	})
}
