// Package buildrpc serves build records and specification releases.
package buildrpc

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/build/buildstore"
	"halfshaft/services/internal/feed"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
)

// Config is what the service needs.
type Config struct {
	Store  *kv.Store
	Group  *projection.Group
	Clock  func() time.Time
	Logger *slog.Logger
	// Bulletins is asked, as this service, before a vehicle leaves the works;
	// nil: nothing holds one back.
	Bulletins Bulletins
}

// Service implements the BuildService.
type Service struct {
	buildv1.UnimplementedBuildServiceServer
	store   *buildstore.Store
	staging *staging.Log
	group   *projection.Group
	clock   func() time.Time
	hub     *feed.Hub[topic]
	holds   *holds

	// importing is held alone while an import is looked over and applied, and
	// together by all other writes: what the look found must still hold.
	importing sync.RWMutex

	life context.Context
	end  context.CancelFunc
	warm sync.WaitGroup
}

// New loads what is stored and carries committed imports to their end. ctx
// bounds the start; Close ends the service.
func New(ctx context.Context, c Config) (*Service, error) {
	s := &Service{group: c.Group, clock: c.Clock, hub: feed.NewHub[topic]()}
	s.holds = &holds{bulletins: c.Bulletins, now: s.clock}
	s.life, s.end = context.WithCancel(context.WithoutCancel(ctx))
	late := context.AfterFunc(ctx, s.end)
	var err error
	if s.store, err = buildstore.Open(s.life, c.Store, s.publish, c.Logger); err != nil {
		s.end()
		return nil, fmt.Errorf("open the build records: %w", err)
	}
	s.staging = s.store.Staging(s)
	if err := s.staging.Recover(ctx); err != nil {
		s.Close()
		return nil, fmt.Errorf("recover imports of build records: %w", err)
	}
	if !late() {
		s.Close()
		return nil, fmt.Errorf("open the build records: %w", ctx.Err())
	}
	c.Group.Add(buildstore.Service, s.store)
	s.warm.Go(func() { s.store.Warm(func() bool { return s.life.Err() == nil }) })
	return s, nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) { buildv1.RegisterBuildServiceServer(r, s) }

// Ready implements the readiness of every service: this one follows nobody.
func (s *Service) Ready(context.Context) error { return nil }

// Close ends the following of the store.
func (s *Service) Close() error {
	s.end()
	s.warm.Wait()
	s.store.Close()
	return nil
}

// now is the present to the microsecond, in UTC, as it is stored.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// today is the present day in UTC.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.clock().UTC()) }
