// Package schedulerpc serves programmes, histories and schedules.
package schedulerpc

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/schedule/schedulestore"
	"halfshaft/services/vehicle"
)

// Config is what the service needs. Logger may be nil.
type Config struct {
	Store  *kv.Store
	Group  *projection.Group
	Builds buildv1.BuildServiceClient // followed with the client's own identity, asked with the caller's
	Clock  func() time.Time
	Zone   *time.Location // of the works, for "today"; nil: UTC
	Logger *slog.Logger
}

// Service implements the ScheduleService.
type Service struct {
	schedulev1.UnimplementedScheduleServiceServer

	store   *schedulestore.Store
	staging *staging.Log
	group   *projection.Group
	clock   func() time.Time
	zone    *time.Location
	logger  *slog.Logger
	builds  buildv1.BuildServiceClient
	fleet   *fleet
	plans   *plans
	urgency *urgencies
	seen    views
	listed  kept[*schedulev1.Schedule] // by lists
	near    kept[[]*schedulev1.MeasuredSeries]

	measured kept[[]*schedulev1.MeasuredSeries]

	planning kept[*schedulev1.VisitPlan]

	pasts  pasts
	doubts doubts
	habits habits

	partsUsed partsUsed
	warming   sync.WaitGroup
	end       context.CancelFunc

	// importing is held alone while an import is looked over and applied, and
	// together by all other writes: what the look found must still hold.
	importing sync.RWMutex
}

// New loads what is stored, carries committed imports to their end, and begins
// to follow the build service. ctx bounds the start; Close ends the service.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	compiler, err := predicate.NewCompiler()
	if err != nil {
		return nil, err
	}
	s := &Service{group: c.Group, clock: c.Clock, zone: c.Zone, logger: c.Logger, plans: newPlans(compiler, c.Logger), urgency: newUrgencies()}
	s.seen.bound()
	s.listed.most, s.near.most, s.planning.most, s.measured.most = mostListed, mostToDo, mostPlanned, mostWhole
	life, end := context.WithCancel(context.WithoutCancel(ctx))
	s.end = end
	late := context.AfterFunc(ctx, end)
	if s.store, err = schedulestore.Open(life, c.Store, c.Logger); err != nil {
		end()
		return nil, fmt.Errorf("open the histories: %w", err)
	}
	s.staging = s.store.Staging(s)
	if err := s.staging.Recover(ctx); err != nil {
		end()
		s.store.Close()
		return nil, fmt.Errorf("recover imports of histories: %w", err)
	}
	if !late() {
		end()
		s.store.Close()
		return nil, fmt.Errorf("open the histories: %w", ctx.Err())
	}
	s.builds = c.Builds
	s.fleet = follow(life, c.Builds, c.Logger)
	c.Group.Add(schedulestore.Service, s.store)
	c.Group.Add("build", s.fleet)
	s.warming.Go(func() { // so that the first who asks does not wait for the whole fleet
		if s.fleet.Synced(life) == nil {
			s.habitsOn(s.today())
		}
	})
	return s, nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	schedulev1.RegisterScheduleServiceServer(r, s)
}

// Ready returns nil once the vehicles are known.
func (s *Service) Ready(ctx context.Context) error { return s.fleet.Synced(ctx) }

// Close ends the following of store and build service.
func (s *Service) Close() error {
	s.end()
	s.warming.Wait()
	s.fleet.Close()
	s.store.Close()
	return nil
}

// now is the present to the microsecond, in UTC, as it is stored.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// today is the day by the works' clock.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.clock().In(s.zone)) }
