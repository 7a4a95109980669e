// Package accessrpc serves who can come to the door: keys, organisations,
// accounts, and which dealer may see which vehicle. It makes, lists and changes
// them, and tells the gates of all processes.
package accessrpc

import (
	"context"
	"crypto/rand"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
)

// Config is what the service needs. Owners and Builds are called for the
// caller, and about the ties of a consent for the service itself; a process
// that runs access alone does without them until somebody asks about a vehicle.
type Config struct {
	Store   *kv.Store
	Group   *projection.Group
	Owners  ownerv1.OwnerServiceClient
	Builds  buildv1.BuildServiceClient
	SignIns SignIns // nil: nobody signs in
	Clock   func() time.Time
	Logger  *slog.Logger
}

// Service implements the AccessService.
type Service struct {
	accessv1.UnimplementedAccessServiceServer
	store   *accessstore.Store
	group   *projection.Group
	owners  ownerv1.OwnerServiceClient
	builds  buildv1.BuildServiceClient
	signIns SignIns
	clock   func() time.Time
	logger  *slog.Logger

	mu          sync.Mutex
	firstSecret string
}

// New loads the keys. At the very first start over a store it makes an
// administrator's key: see FirstSecret.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.SignIns == nil {
		c.SignIns = noSignIns{}
	}
	store, err := accessstore.Open(ctx, c.Store, c.Logger)
	if err != nil {
		return nil, err
	}
	s := &Service{
		store: store, group: c.Group, owners: c.Owners, builds: c.Builds, signIns: c.SignIns, clock: c.Clock, logger: c.Logger,
	}
	if err := s.makeFirst(ctx); err != nil {
		store.Close()
		return nil, fmt.Errorf("make the first administrator's key: %w", err)
	}
	c.Group.Add(accessstore.Service, store.Follower())
	return s, nil
}

// makeFirst makes the first administrator's key if there was never any key.
func (s *Service) makeFirst(ctx context.Context) error {
	if len(s.store.IDs()) > 0 {
		return nil
	}
	id, secret, err := access.NewSecret(rand.Reader)
	if err != nil {
		return err
	}
	done, err := s.store.CreateFirst(ctx, access.Key{
		ID: id, Title: "made at the first start", Role: access.Administrator, Bearer: "administrator",
		Created: s.now(), Digest: access.DigestOf(secret),
	})
	if fault.Is(err, fault.AlreadyExists) {
		return nil // another process was first
	}
	if err != nil {
		return err
	}
	s.firstSecret = secret
	return s.store.Follower().Wait(ctx, done.Revision)
}

// FirstSecret gives the secret of the key that New made, for the administrator
// to be shown. It gives it once, and nothing when New made none: the secret is
// kept nowhere. Should it get lost, whoever can open the unix socket of the
// data directory makes another.
func (s *Service) FirstSecret() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	secret := s.firstSecret
	s.firstSecret = ""
	return secret
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	accessv1.RegisterAccessServiceServer(r, s)
}

// Ready implements the readiness of every service: this one follows nobody.
func (s *Service) Ready(context.Context) error { return nil }

// Close ends the following of the store.
func (s *Service) Close() error {
	s.store.Close()
	return nil
}

// now is the present to the microsecond, in UTC, as it is stored.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }
