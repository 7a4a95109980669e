package works

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"halfshaft/services/build/buildrpc"
	"halfshaft/services/enquiry/enquiryrpc"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner/ownerrpc"
	"halfshaft/services/parts/partsrpc"
	"halfshaft/services/schedule/schedulerpc"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantyrpc"
)

// openParts makes the services of this process, side by side because each
// reads what it has stored, and puts them on the server. ctx is the life of the
// process: what the services follow ends with it.
func (p *Process) openParts(ctx context.Context) error {
	clients := newClients(p.peers.to)
	c := p.config
	zone, err := time.LoadLocation(c.Works.Zone) // "" is UTC
	if err != nil {
		return err // which Config.normal refused
	}
	store := kv.NewStore(p.client)
	makers := map[string]func() (part, error){
		Access: func() (part, error) { return p.openAccess(ctx, store, clients) },
		Owner: func() (part, error) {
			return ownerrpc.New(ctx, ownerrpc.Config{
				Store: store, MasterKeyPath: filepath.Join(c.Data, masterKeyPath), Documents: filepath.Join(c.Data, documentsPath),
				Group: p.group, FormerYears: c.FormerYears, Clock: c.Clock, Logger: c.Logger,
			})
		},
		Build: func() (part, error) {
			return buildrpc.New(ctx, buildrpc.Config{Store: store, Group: p.group, Clock: c.Clock, Logger: c.Logger, Bulletins: p.holding(clients)})
		},
		Parts: func() (part, error) {
			return partsrpc.New(ctx, partsrpc.Config{
				Store: store, Group: p.group, Clock: c.Clock, Logger: c.Logger, Builds: clients.Builds, Schedules: clients.Schedules,
			})
		},
		Schedule: func() (part, error) {
			return schedulerpc.New(ctx, schedulerpc.Config{
				Store: store, Group: p.group, Clock: c.Clock, Logger: c.Logger, Builds: clients.Builds, Zone: zone,
			})
		},
		Reminder: func() (part, error) { return p.openReminders(ctx, store, clients) },
		Warranty: func() (part, error) {
			return warrantyrpc.New(ctx, warrantyrpc.Config{
				Store: store, Group: p.group, Clock: c.Clock, Logger: c.Logger, Builds: clients.Builds, Schedules: clients.Schedules,
				Owners: clients.Owners, Zone: zone, Contact: warranty.Contact{
					Name: c.Works.Name, Address: strings.Join(c.Works.Postal, ", "), Telephone: c.Works.Telephone, Email: c.Works.Mail,
				},
			})
		},
		Bulletin: func() (part, error) { return p.openBulletins(ctx, store, clients, zone) },
		JobSheet: func() (part, error) { return p.openJobSheets(ctx, store, clients) },
		Handbook: func() (part, error) { return p.openHandbooks(ctx, store, clients) },
		Enquiry: func() (part, error) {
			return enquiryrpc.New(ctx, enquiryrpc.Config{
				Store: store, Group: p.group, Clock: c.Clock, Logger: c.Logger, Builds: clients.Builds, Schedules: clients.Schedules,
				Owners: clients.Owners, Warranties: clients.Warranties, Bulletins: clients.Bulletins, Access: clients.Access, Works: c.Works.Name, Zone: zone,
			})
		},
	}
	var mu sync.Mutex
	making, _ := errgroup.WithContext(ctx)
	for _, name := range c.Services {
		making.Go(func() error {
			made, err := makers[name]()
			if err != nil {
				return fmt.Errorf("start %s: %w", name, err)
			}
			mu.Lock()
			defer mu.Unlock()
			p.parts = append(p.parts, made)
			made.RegisterService(p.server)
			if a, ok := made.(*door); ok {
				p.firstSecret = a.FirstSecret()
			}
			return nil
		})
	}
	if err := making.Wait(); err != nil {
		return err
	}
	if p.runs(Access) {
		p.openAudit(ctx, store)
	}
	p.background.Go(func() error { return p.upkeep(ctx, store) })
	p.background.Go(func() error { return p.retain(ctx, store) })
	return nil
}
