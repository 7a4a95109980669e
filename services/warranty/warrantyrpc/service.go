// Package warrantyrpc serves terms, cover and claims.
package warrantyrpc

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
	"halfshaft/services/warranty"
	"halfshaft/services/warranty/warrantystore"
)

// Builds is what this service asks of the build service: it follows all
// vehicles, with its own identity.
type Builds interface {
	WatchBuilds(context.Context, *buildv1.WatchBuildsRequest, ...grpc.CallOption) (grpc.ServerStreamingClient[buildv1.WatchBuildsResponse], error)
}

// Owners is what this service asks of the owner service: it follows the ties,
// and asks for the time zone of an owner, both with its own identity.
type Owners interface {
	WatchTies(context.Context, *ownerv1.WatchTiesRequest, ...grpc.CallOption) (grpc.ServerStreamingClient[ownerv1.WatchTiesResponse], error)
	GetPerson(context.Context, *ownerv1.GetPersonRequest, ...grpc.CallOption) (*ownerv1.Person, error)
}

// Schedules is what this service asks of the schedule service, each with the
// caller's identity.
type Schedules interface {
	ListReadings(context.Context, *schedulev1.ListReadingsRequest, ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error)
	ListServiceEntries(context.Context, *schedulev1.ListServiceEntriesRequest, ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error)
	ListComponentDistances(context.Context, *schedulev1.ListComponentDistancesRequest, ...grpc.CallOption) (*schedulev1.ListComponentDistancesResponse, error)
	GetSchedule(context.Context, *schedulev1.GetScheduleRequest, ...grpc.CallOption) (*schedulev1.Schedule, error)
}

// Config is what the service needs. Logger may be nil.
type Config struct {
	Store     *kv.Store
	Group     *projection.Group
	Builds    Builds
	Owners    Owners
	Schedules Schedules
	Zone      *time.Location    // the works' own; nil: UTC
	Contact   warranty.Contact  // where a customer turns to, in documents
	Appeals   warranty.Appeals  // the zero value: the standard
	Goodwill  warranty.Goodwill // the zero value: the standard
	Clock     func() time.Time
	Logger    *slog.Logger
}

// Service implements the WarrantyService.
type Service struct {
	warrantyv1.UnimplementedWarrantyServiceServer

	config Config
	store  *warrantystore.Store
	fleet  *fleet
	ties   *ties
	zones  *zones
	end    context.CancelFunc

	staging   *staging.Log
	importing sync.Mutex // one import takes effect at a time
}

// New loads what is stored, and begins to follow vehicles and ties. ctx bounds
// the start; Close ends the service.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	if c.Appeals == (warranty.Appeals{}) {
		c.Appeals = warranty.StandardAppeals()
	}
	if c.Goodwill == (warranty.Goodwill{}) {
		c.Goodwill = warranty.StandardGoodwill()
	}
	life, end := context.WithCancel(context.WithoutCancel(ctx))
	late := context.AfterFunc(ctx, end)
	s := &Service{config: c, end: end}
	var err error
	if s.store, err = warrantystore.Open(life, c.Store, c.Logger); err != nil {
		end()
		return nil, fmt.Errorf("open the warranties: %w", err)
	}
	s.staging = s.store.Staging(s)
	if err := s.staging.Recover(ctx); err != nil {
		end()
		s.store.Close()
		return nil, fmt.Errorf("recover imports of warranties: %w", err)
	}
	if !late() {
		end()
		s.store.Close()
		return nil, fmt.Errorf("open the warranties: %w", ctx.Err())
	}
	s.fleet = followBuilds(life, c.Builds, c.Logger)
	s.ties = followTies(life, c.Owners, c.Logger)
	s.zones = &zones{life, c.Owners, c.Logger}
	c.Group.Add(warrantystore.Service, s.store)
	c.Group.Add("build", s.fleet)
	c.Group.Add("owner", s.ties)
	return s, nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	warrantyv1.RegisterWarrantyServiceServer(r, s)
}

// Ready returns nil once vehicles and ties are known.
func (s *Service) Ready(ctx context.Context) error { return s.heard(ctx) }

// heard waits until the build service has told of all vehicles, and the owner
// service of all ties.
func (s *Service) heard(ctx context.Context) error {
	for _, f := range []interface{ Synced(context.Context) error }{s.fleet, s.ties} {
		if err := f.Synced(ctx); err != nil {
			return &fault.Error{
				Kind: fault.Unavailable, Reason: "RECORDS_OUT_OF_REACH", RetryAfter: time.Second, Cause: err,
				Message: "the build records or the ties are not here yet",
			}
		}
	}
	return nil
}

// Close ends the following.
func (s *Service) Close() error {
	s.end()
	s.fleet.Close()
	s.ties.Close()
	s.store.Close()
	return nil
}

// now is the present to the microsecond, in UTC, as it is stored.
func (s *Service) now() time.Time { return s.config.Clock().UTC().Truncate(time.Microsecond) }

// today is the present day in the works' zone.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.config.Clock().In(s.config.Zone)) }
