// Package handbookrpc serves the HandbookService: books, and the handbook of each
// vehicle as it would be now and as it was issued.
package handbookrpc

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/access"
	"halfshaft/services/handbook"
	"halfshaft/services/handbook/handbookstore"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/vehicle"
)

// Builds are what is asked of the build service, for the caller.
type Builds interface {
	GetBuild(ctx context.Context, in *buildv1.GetBuildRequest, opts ...grpc.CallOption) (*buildv1.Build, error)
	GetConfiguration(ctx context.Context, in *buildv1.GetConfigurationRequest, opts ...grpc.CallOption) (*buildv1.Configuration, error)
	GetDriveLine(ctx context.Context, in *buildv1.GetDriveLineRequest, opts ...grpc.CallOption) (*buildv1.VehicleDriveLine, error)
}

// Parts are what is asked of the parts service, for the caller.
type Parts interface {
	GetTechnicalSheet(ctx context.Context, in *partsv1.GetTechnicalSheetRequest, opts ...grpc.CallOption) (*partsv1.TechnicalSheet, error)
}

// Schedules are what is asked of the schedule service: for the caller, but for
// the programme, which is nobody's.
type Schedules interface {
	GetSchedule(ctx context.Context, in *schedulev1.GetScheduleRequest, opts ...grpc.CallOption) (*schedulev1.Schedule, error)
	GetProgramme(ctx context.Context, in *schedulev1.GetProgrammeRequest, opts ...grpc.CallOption) (*schedulev1.Programme, error)
	ListServiceEntries(ctx context.Context, in *schedulev1.ListServiceEntriesRequest, opts ...grpc.CallOption) (*schedulev1.ListServiceEntriesResponse, error)
	ListReadings(ctx context.Context, in *schedulev1.ListReadingsRequest, opts ...grpc.CallOption) (*schedulev1.ListReadingsResponse, error)
	ListMeasuredSeries(ctx context.Context, in *schedulev1.ListMeasuredSeriesRequest, opts ...grpc.CallOption) (*schedulev1.ListMeasuredSeriesResponse, error)
}

// Warranties are what is asked of the warranty service, for the caller.
type Warranties interface {
	ListCovers(ctx context.Context, in *warrantyv1.ListCoversRequest, opts ...grpc.CallOption) (*warrantyv1.ListCoversResponse, error)
}

// Config is what the service needs. Logger may be nil.
type Config struct {
	Store      *kv.Store
	Group      *projection.Group
	Dir        string // where the files of issues are kept
	Builds     Builds
	Parts      Parts
	Schedules  Schedules
	Warranties Warranties
	Works      handbook.ContactPlace
	Zone       *time.Location // of the works, for "today"; nil: UTC
	Clock      func() time.Time
	Logger     *slog.Logger
}

// Service implements the HandbookService.
type Service struct {
	handbookv1.UnimplementedHandbookServiceServer
	Config
	store    *handbookstore.Store
	staging  *staging.Log
	compiler *predicate.Compiler

	mu       sync.Mutex
	compiled map[string]*handbook.Compiled // by name; a version never changes

	read readTexts

	// importing is held alone while an import is looked over and applied, and
	// shared while anything else is written: what an import has found to be new
	// stays so until it is there.
	importing sync.RWMutex
}

// New loads what is stored. ctx is the life of the process.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Clock == nil {
		c.Clock = time.Now
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	compiler, err := predicate.NewCompiler()
	if err != nil {
		return nil, err
	}
	store, err := handbookstore.Open(ctx, handbookstore.Config{Store: c.Store, Group: c.Group, Dir: c.Dir, Logger: c.Logger})
	if err != nil {
		return nil, fmt.Errorf("open the handbooks: %w", err)
	}
	if n := store.Absent(); n > 0 {
		c.Logger.Error("files of issued handbooks are missing: copy the directory of handbooks from the backup", "files", n)
	}
	s := &Service{Config: c, store: store, compiler: compiler, compiled: map[string]*handbook.Compiled{}}
	s.staging = store.Staging(s)
	if err := s.staging.Recover(ctx); err != nil {
		store.Close()
		return nil, fmt.Errorf("carry imports of handbooks to their end: %w", err)
	}
	return s, nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	handbookv1.RegisterHandbookServiceServer(r, s)
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

// today is the day by the works' clock.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.now().In(s.Zone)) }

// asService gives a context whose calls to other services are made by this one
// and not by whoever asked: the programme is nobody's, and owners cannot ask for
// it.
func asService(ctx context.Context) context.Context {
	return access.NewContext(ctx, access.Caller{Role: access.Service, Bearer: "handbook"})
}
