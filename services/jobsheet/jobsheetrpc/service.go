// Package jobsheetrpc makes job sheets, prints them, and takes in what comes back
// on them.
//
// A return is one transaction over four services. It is looked over by all of
// them first (validate_only); then the sheet is written with it as TAKEN_IN, in
// one transaction of the store: from there on it is carried out, by the call that
// brought it or by whoever finds the mark. Each effect has a request id derived
// from the sheet, the attempt and the step, so that it happens once however often
// it is asked for. The service entry comes first, because it can be struck out
// again; all changes of the vehicle are one transaction of the build service, and
// where that refuses (somebody changed the vehicle in between), the entry is
// struck out, the sheet is open again with the reason, and the return stays on it
// to be mended. The steps of campaigns come last: they only say what is in the
// entry already, and one that the campaign wants no more is left out and said.
package jobsheetrpc

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	bulletinv1 "halfshaft/proto/halfshaft/bulletin/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/internal/projection"
	"halfshaft/services/jobsheet/jobsheetstore"
	"halfshaft/services/vehicle"
)

// Config is what the service needs. Logger may be nil.
type Config struct {
	Store     *kv.Store
	Group     *projection.Group
	Builds    buildv1.BuildServiceClient // all are asked for the caller
	Schedules schedulev1.ScheduleServiceClient
	Parts     partsv1.PartsServiceClient
	Bulletins bulletinv1.BulletinServiceClient
	Works     string // stands at the head of the paper
	Clock     func() time.Time
	Zone      *time.Location // whose midnight is the works'; nil: UTC
	Logger    *slog.Logger
}

// Service implements the JobSheetService.
type Service struct {
	jobsheetv1.UnimplementedJobSheetServiceServer
	Config
	store *jobsheetstore.Store
	wake  chan struct{} // holds one note at most
	end   context.CancelFunc
}

// New loads what is stored and follows it. ctx bounds the start; Close ends the
// service.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	life, end := context.WithCancel(context.WithoutCancel(ctx))
	store, err := jobsheetstore.Open(life, c.Store, c.Group, c.Logger)
	if err != nil {
		end()
		return nil, fmt.Errorf("open the job sheets: %w", err)
	}
	return &Service{Config: c, store: store, wake: make(chan struct{}, 1), end: end}, nil
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	jobsheetv1.RegisterJobSheetServiceServer(r, s)
}

// Ready implements the readiness of every service: this one follows nobody.
func (s *Service) Ready(context.Context) error { return nil }

// Close ends the following of the store.
func (s *Service) Close() error {
	s.end()
	s.store.Close()
	return nil
}

// now is the present to the microsecond, in UTC, as it is stored.
func (s *Service) now() time.Time { return s.Clock().UTC().Truncate(time.Microsecond) }

// today is the present day at the works.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.Clock().In(s.Zone)) }

// Name is the election's name.
const Name = "jobsheet"

// lookAgain is how long the leader waits before it looks at returns that could
// not be carried out: a service was away.
const lookAgain = 5 * time.Second

// Lead stands for election until ctx ends and, while it leads, carries on returns
// that a crash, or a service that was away, left unfinished.
func (s *Service) Lead(ctx context.Context, client *clientv3.Client) error {
	return leader.Run(ctx, client, leader.Config{Name: Name, Logger: s.Logger}, func(ctx context.Context, fence kv.Fence) error {
		tick := time.NewTicker(lookAgain)
		defer tick.Stop()
		for {
			s.carryAllOn(ctx, &fence)
			select {
			case <-ctx.Done():
				return ctx.Err()
			case <-tick.C:
			case <-s.wake:
			}
		}
	})
}

// carryAllOn carries on every return that is being put on record.
func (s *Service) carryAllOn(ctx context.Context, fence *kv.Fence) {
	for _, k := range s.store.Underway() {
		if _, err := s.carryOut(ctx, fence, k); err != nil && ctx.Err() == nil {
			s.Logger.Error("what came back on a job sheet is not on record yet, or not struck out; it will be tried again", "sheet", k.Message.GetJobSheet().GetName(), "error", err)
		}
	}
}
