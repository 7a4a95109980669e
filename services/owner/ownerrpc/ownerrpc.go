// Package ownerrpc serves people and their ties to vehicles.
package ownerrpc

import (
	"cmp"
	"context"
	"fmt"
	"log/slog"
	"time"

	"google.golang.org/grpc"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/vehicle"
)

// Config is what the service needs.
type Config struct {
	Store         *kv.Store
	MasterKeyPath string // file of the master key: outside etcd's directory and its backups
	Documents     string // directory of the sealed documents; empty: none are kept
	Group         *projection.Group
	FormerYears   int // how long people who are nothing to any vehicle are kept; 0: owner.UsualYears
	Clock         func() time.Time
	Logger        *slog.Logger
}

// Service implements the OwnerService.
type Service struct {
	ownerv1.UnimplementedOwnerServiceServer
	store   *ownerstore.Store
	staging *staging.Log
	group   *projection.Group
	years   int // Config.FormerYears
	clock   func() time.Time
	logger  *slog.Logger
	drawing chan struct{} // held by the one picture that is drawn anew
}

// New loads what is stored, unlocks it with the master key, and carries
// committed imports to their end.
func New(ctx context.Context, c Config) (*Service, error) {
	store, err := ownerstore.Open(ctx, ownerstore.Config{
		Store: c.Store, MasterKeyPath: c.MasterKeyPath, Documents: c.Documents, Clock: c.Clock, Logger: c.Logger,
	})
	if err != nil {
		return nil, fmt.Errorf("open the people: %w", err)
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	s := &Service{store: store, group: c.Group, years: cmp.Or(c.FormerYears, owner.UsualYears), clock: c.Clock, logger: c.Logger, drawing: make(chan struct{}, 1)}
	s.staging = store.Staging(s)
	if err := s.staging.Recover(ctx); err != nil {
		store.Close()
		return nil, fmt.Errorf("recover imports of people: %w", err)
	}
	c.Group.Add(ownerstore.Service, store.Follower())
	return s, nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) { ownerv1.RegisterOwnerServiceServer(r, s) }

// Ready implements the readiness of every service: this one follows nobody.
func (s *Service) Ready(context.Context) error { return nil }

// Close ends the following of the store.
func (s *Service) Close() error {
	s.store.Close()
	return nil
}

// now is the present to the microsecond, in UTC, as it is stored.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// today is the day in UTC, as the gate counts ties.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.now()) }
