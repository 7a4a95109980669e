// Package enquiryrpc serves the EnquiryService: what was asked and answered,
// and the page for the telephone.
package enquiryrpc

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/enquiry/enquirystore"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
)

// Builds are what is asked of the build service, for the caller.
type Builds interface {
	GetBuild(ctx context.Context, in *buildv1.GetBuildRequest, opts ...grpc.CallOption) (*buildv1.Build, error)
	GetConfiguration(ctx context.Context, in *buildv1.GetConfigurationRequest, opts ...grpc.CallOption) (*buildv1.Configuration, error)
	FindBuilds(ctx context.Context, in *buildv1.FindBuildsRequest, opts ...grpc.CallOption) (*buildv1.FindBuildsResponse, error)
}

// Schedules are what is asked of the schedule service, for the caller.
type Schedules interface {
	GetSchedule(ctx context.Context, in *schedulev1.GetScheduleRequest, opts ...grpc.CallOption) (*schedulev1.Schedule, error)
	ListServiceEntries(ctx context.Context, in *schedulev1.ListServiceEntriesRequest, opts ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error)
	ListReadings(ctx context.Context, in *schedulev1.ListReadingsRequest, opts ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error)
	ListUseFacts(ctx context.Context, in *schedulev1.ListUseFactsRequest, opts ...grpc.CallOption) (*schedulev1.ListUseFactsResponse, error)
	ListMeasuredSeries(ctx context.Context, in *schedulev1.ListMeasuredSeriesRequest, opts ...grpc.CallOption) (*schedulev1.ListMeasuredSeriesResponse, error)
}

// Owners are what is asked of the owner service: people for the caller, and
// sealing and opening as this service.
type Owners interface {
	ListTies(ctx context.Context, in *ownerv1.ListTiesRequest, opts ...grpc.CallOption) (*ownerv1.ListTiesResponse, error)
	GetPerson(ctx context.Context, in *ownerv1.GetPersonRequest, opts ...grpc.CallOption) (*ownerv1.Person, error)
	GetStanding(ctx context.Context, in *ownerv1.GetStandingRequest, opts ...grpc.CallOption) (*ownerv1.Standing, error)
	SealForPerson(ctx context.Context, in *ownerv1.SealForPersonRequest, opts ...grpc.CallOption) (*ownerv1.SealForPersonResponse, error)
	OpenForPerson(ctx context.Context, in *ownerv1.OpenForPersonRequest, opts ...grpc.CallOption) (*ownerv1.OpenForPersonResponse, error)
}

// Warranties are what is asked of the warranty service, for the caller.
type Warranties interface {
	ListCovers(ctx context.Context, in *warrantyv1.ListCoversRequest, opts ...grpc.CallOption) (*warrantyv1.ListCoversResponse, error)
	ListClaims(ctx context.Context, in *warrantyv1.ListClaimsRequest, opts ...grpc.CallOption) (*warrantyv1.ListClaimsResponse, error)
}

// Bulletins are what is asked of the bulletin service, for the caller.
type Bulletins interface {
	ListVehicleBulletins(ctx context.Context, in *bulletinv1.ListVehicleBulletinsRequest, opts ...grpc.CallOption) (*bulletinv1.ListVehicleBulletinsResponse, error)
	GetBulletin(ctx context.Context, in *bulletinv1.GetBulletinRequest, opts ...grpc.CallOption) (*bulletinv1.Bulletin, error)
}

// Access is what is asked of the access service: assignments for the caller, and
// which organisations there are as this service.
type Access interface {
	ListOrganisations(ctx context.Context, in *accessv1.ListOrganisationsRequest, opts ...grpc.CallOption) (*accessv1.ListOrganisationsResponse, error)
	ListAssignments(ctx context.Context, in *accessv1.ListAssignmentsRequest, opts ...grpc.CallOption) (*accessv1.ListAssignmentsResponse, error)
}

// Config is what the service needs. Logger may be nil.
type Config struct {
	Store      *kv.Store
	Group      *projection.Group
	Builds     Builds
	Schedules  Schedules
	Owners     Owners
	Warranties Warranties
	Bulletins  Bulletins
	Access     Access
	Works      string         // how the works is called, as who did a visit
	Zone       *time.Location // of the works, for "today"; nil: UTC
	Clock      func() time.Time
	Logger     *slog.Logger
}

// Service implements the EnquiryService.
type Service struct {
	enquiryv1.UnimplementedEnquiryServiceServer
	Config
	store *enquirystore.Store

	staging   *staging.Log
	importing sync.Mutex // one import takes effect at a time
}

// New loads what is stored. ctx is the life of the service.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	store, err := enquirystore.Open(ctx, c.Store, c.Group, c.Logger)
	if err != nil {
		return nil, fmt.Errorf("open the enquiries: %w", err)
	}
	s := &Service{Config: c, store: store}
	s.staging = store.Staging(s)
	if err := s.staging.Recover(ctx); err != nil {
		store.Close()
		return nil, fmt.Errorf("recover imports of enquiries: %w", err)
	}
	return s, nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	enquiryv1.RegisterEnquiryServiceServer(r, s)
}

// Ready implements the readiness of every service: this one follows nobody.
func (s *Service) Ready(context.Context) error { return nil }

// Close ends the following of the store.
func (s *Service) Close() error {
	s.store.Close()
	return nil
}

// now is the present as it is stored.
func (s *Service) now() time.Time { return s.Clock().UTC().Truncate(time.Microsecond) }

// here is the present by the works' clock.
func (s *Service) here() time.Time { return s.now().In(s.Zone) }

// today is the day by the works' clock.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.here()) }

// asService gives a context whose calls to other services are made by this one
// and not by whoever asked: sealing and opening are for services only.
func asService(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "enquiry"})
}

// readsPeople reports whether a caller may read people and what they said: the
// desk may, as the access table has it for people.
func readsPeople(c access.Caller) bool {
	return c.Role == access.Support || c.Role == access.Administrator
}
