// Package bulletinrpc serves bulletins, sets and the lists of campaigns.
package bulletinrpc

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/grpc"

	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/bulletin/bulletinjob"
	"halfshaft/services/bulletin/bulletinstore"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
)

// Config is what the service needs. Logger may be nil. Store and Job are closed
// with it.
type Config struct {
	Store     *bulletinstore.Store
	Job       *bulletinjob.Job
	Group     *projection.Group
	Schedules schedulev1.ScheduleServiceClient // asked for the caller, whether evidence is there
	Clock     func() time.Time
	Zone      *time.Location // of the works, for "today"; nil: UTC
	Logger    *slog.Logger
}

// Service implements the BulletinService.
type Service struct {
	bulletinv1.UnimplementedBulletinServiceServer
	Config

	staging   *staging.Log
	importing sync.Mutex // one import takes effect at a time
}

// New makes the service over an open store, and carries imports that were under
// way to their end. An error leaves store and job open.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	c.Group.Add(bulletinstore.Service, c.Store)
	s := &Service{Config: c}
	s.staging = c.Store.Staging(s)
	if err := s.staging.Recover(ctx); err != nil {
		return nil, fmt.Errorf("recover imports of bulletins: %w", err)
	}
	return s, nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	bulletinv1.RegisterBulletinServiceServer(r, s)
}

// Ready returns nil once the vehicles are known.
func (s *Service) Ready(ctx context.Context) error { return s.Job.Ready(ctx) }

// Close ends the following of the store and of other services.
func (s *Service) Close() error {
	s.Job.Close()
	s.Store.Close()
	return nil
}

// now is the present to the microsecond, in UTC, as it is stored.
func (s *Service) now() time.Time { return s.Clock().UTC().Truncate(time.Microsecond) }

// today is the day by the works' clock.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.now().In(s.Zone)) }
