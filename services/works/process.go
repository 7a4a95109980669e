package works

import (
	"context"
	"errors"
	"fmt"
	"net"
	"slices"
	"sync"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"

	"halfshaft/services/access"
	"halfshaft/services/access/accessaudit"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/fault"
	"halfshaft/services/internal/embedetcd"
	"halfshaft/services/internal/grpcserver"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
)

// Process is one running halfshaft.
type Process struct {
	config Config
	etcd   *embedetcd.Server // nil on a cluster
	client *clientv3.Client
	group  *projection.Group
	gate   *accessgate.Gate
	audit  *accessaudit.Recorder
	server *grpcserver.Server
	peers  *peers
	parts  []part

	address        net.Addr   // of the TCP listener; nil without one
	httpAddress    net.Addr   // of the owner pages; nil without any
	deskAddress    net.Addr   // of the desk; nil without any
	metricsAddress net.Addr   // of the metrics; nil without any
	returns        []net.Addr // where returned mail is taken in
	firstSecret    string

	background *errgroup.Group
	cancel     context.CancelFunc
	closeOnce  sync.Once
	closeErr   error
}

// part is a service as the process holds it.
type part interface {
	RegisterService(grpc.ServiceRegistrar)
	Ready(context.Context) error
	Close() error
}

// readyLimit is how long a start may take; on a cluster the peers may still be
// starting.
const readyLimit = time.Minute

// Start brings a process up and returns when its services answer. What it
// started it stops again when something fails.
func Start(ctx context.Context, c Config) (*Process, error) {
	c, err := c.normal()
	if err != nil {
		return nil, err
	}
	if err := makeDirs(c.Data); err != nil {
		return nil, err
	}
	p := &Process{config: c, group: &projection.Group{}}
	if err := p.start(ctx); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	return p, nil
}

// start ends at once, instead of at its limit, with a peer that is refused.
func (p *Process) start(ctx context.Context) error {
	ctx, stop := context.WithTimeout(ctx, readyLimit)
	defer stop()
	ctx, unfit := context.WithCancelCause(ctx)
	defer unfit(nil)
	err := p.open(ctx, unfit)
	var refused *fault.Error
	if errors.As(context.Cause(ctx), &refused) {
		return refused
	}
	return err
}

func (p *Process) open(ctx context.Context, unfit func(error)) error {
	if err := p.openStore(ctx); err != nil {
		return err
	}
	if err := p.openDoor(unfit); err != nil {
		return err
	}
	// The process lives longer than the start, and calls for itself, not for
	// whoever started it.
	running, cancel := context.WithCancel(context.Background())
	p.cancel = cancel
	p.background, running = errgroup.WithContext(running)
	if err := p.openParts(running); err != nil {
		return err
	}
	if err := p.listen(); err != nil {
		return err
	}
	p.background.Go(func() error { return p.server.Serve(running) })
	p.watchCertificates(running)
	if err := p.metricsWithoutReminders(running); err != nil {
		return err
	}
	clients := newClients(p.peers.to)
	p.gate.Follow(running, clients.Access, clients.Owners, p.group)
	if err := p.ready(ctx); err != nil {
		return err
	}
	if p.runs(Access) {
		if err := ensureServiceKey(Operator(ctx), p.config.Data, clients.Access); err != nil {
			return err
		}
	}
	return p.openDesk(running)
}

// openStore starts the embedded etcd or connects to the cluster.
func (p *Process) openStore(ctx context.Context) error {
	if len(p.config.Etcd) == 0 {
		server, err := embedetcd.Start(ctx, embedetcd.Config{Dir: p.config.Data, Logger: p.config.Logger})
		if err != nil {
			return err
		}
		p.etcd, p.client = server, server.Client()
		// This process holds the directory, so whoever led before is dead: the
		// next election need not wait for their lease to run out.
		_, err = p.client.Delete(ctx, kv.Prefix("elections"), clientv3.WithPrefix())
		return err
	}
	client, err := clientv3.New(clientv3.Config{
		Endpoints: p.config.Etcd, TLS: p.config.clusterTLS(), DialTimeout: 5 * time.Second,
		DialKeepAliveTime: 30 * time.Second, DialKeepAliveTimeout: 10 * time.Second,
	})
	if err != nil {
		return fmt.Errorf("connect to etcd at %v: %w", p.config.Etcd, err)
	}
	p.client = client
	if _, err := client.Get(ctx, kv.Prefix("build"), clientv3.WithLimit(1)); err != nil {
		return fmt.Errorf("ask etcd at %v: %w", p.config.Etcd, err)
	}
	return nil
}

// openDoor builds the server with its gate, and the connections to peers.
func (p *Process) openDoor(unfit func(error)) error {
	p.audit = accessaudit.NewRecorder(accessaudit.RecorderConfig{Store: kv.NewStore(p.client), Logger: p.config.Logger})
	gate, err := accessgate.New(accessgate.Config{
		Clock: p.config.Clock, Logger: p.config.Logger, Certificates: p.config.PeerTLS != nil,
		Recorder: p.audit, Limits: p.config.CallLimits,
	})
	if err != nil {
		return err
	}
	p.gate = gate
	p.server = grpcserver.New(grpcserver.Config{
		Gate: gate, Logger: p.config.Logger, Reflection: p.config.Reflection, TLS: p.config.doorTLS(),
		Deadlines: longCalls, Limits: p.config.ConnectionLimits,
	})
	p.peers, err = p.config.dial(p.server.InProcess(), unfit)
	return err
}

// longCalls may take longer than a question does.
var longCalls = map[string]time.Duration{
	"/halfshaft.build.v1.BuildService/CommitImport":       30 * time.Minute,
	"/halfshaft.parts.v1.PartsService/CommitImport":       30 * time.Minute,
	"/halfshaft.schedule.v1.ScheduleService/CommitImport": 30 * time.Minute,
	"/halfshaft.owner.v1.OwnerService/CommitImport":       30 * time.Minute,
	"/halfshaft.owner.v1.OwnerService/ErasePerson":        30 * time.Minute,
	"/halfshaft.reminder.v1.ReminderService/RunPass":      30 * time.Minute,
	"/halfshaft.access.v1.AuditService/CheckAudit":        30 * time.Minute,
}

// listen opens the unix socket and, where asked, the TCP address.
func (p *Process) listen() error {
	if _, err := p.server.Listen("unix", SocketPath(p.config.Data)); err != nil {
		return err
	}
	if p.config.Listen == "" {
		return nil
	}
	address, err := p.server.Listen("tcp", p.config.Listen)
	p.address = address
	return err
}

// ready waits until the door and every service answer from what is stored.
func (p *Process) ready(ctx context.Context) error {
	waits, ctx := errgroup.WithContext(ctx)
	waits.Go(func() error { return p.gate.Ready(ctx) })
	for _, part := range p.parts {
		waits.Go(func() error { return part.Ready(ctx) })
	}
	return waits.Wait()
}

func (p *Process) runs(service string) bool { return slices.Contains(p.config.Services, service) }

// Address is where gRPC answers over TCP; nil when it does not.
func (p *Process) Address() net.Addr { return p.address }

// HTTPAddress is where the owner pages answer; nil when they do not.
func (p *Process) HTTPAddress() net.Addr { return p.httpAddress }

// HTTPSecure says whether the owner pages are over TLS.
func (p *Process) HTTPSecure() bool {
	return p.config.pagesKeeper(p.config.HTTP, p.config.HTTPPlain) != nil
}

// MetricsAddress is where the metrics are; nil when they are nowhere.
func (p *Process) MetricsAddress() net.Addr { return p.metricsAddress }

// ReturnAddresses are where returned mail is taken in over the network.
func (p *Process) ReturnAddresses() []net.Addr { return p.returns }

// FirstSecret is the administrator's key when this start made it, and empty at
// every other.
func (p *Process) FirstSecret() string { return p.firstSecret }

// Clients are the services for callers in this process, who act as the local
// operator: use Operator for the context.
func (p *Process) Clients() Clients { return newClients(p.peers.to) }

// Operator gives a context whose calls are made by the user who runs the
// process.
func Operator(ctx context.Context) context.Context {
	return access.NewContext(ctx, accessgate.LocalOperator)
}

// Wait returns when the process ends by itself, with the reason.
func (p *Process) Wait(ctx context.Context) error {
	ended := make(chan error, 1)
	go func() { ended <- p.background.Wait() }()
	select {
	case <-ctx.Done():
		return nil
	case err := <-ended:
		return err
	}
}

// Close stops everything, the newest first: no new calls, watches ended, jobs
// stopped, followers closed, and the store last.
func (p *Process) Close() error {
	p.closeOnce.Do(func() { p.closeErr = p.close() })
	return p.closeErr
}

func (p *Process) close() error {
	var errs []error
	if p.cancel != nil {
		p.cancel()
	}
	if p.server != nil {
		errs = append(errs, p.server.Close())
	}
	if p.background != nil {
		if err := p.background.Wait(); err != nil && !errors.Is(err, context.Canceled) {
			errs = append(errs, err)
		}
	}
	if p.gate != nil {
		errs = append(errs, p.gate.Close())
	}
	for _, part := range slices.Backward(p.parts) {
		errs = append(errs, part.Close())
	}
	if p.peers != nil {
		errs = append(errs, p.peers.close())
	}
	if p.audit != nil {
		errs = append(errs, p.audit.Close())
	}
	switch {
	case p.etcd != nil:
		errs = append(errs, p.etcd.Close())
	case p.client != nil:
		errs = append(errs, p.client.Close())
	}
	return errors.Join(errs...)
}
