// Package partsrpc serves the catalogue and the answers over gRPC.
package partsrpc

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"time"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/staging"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partsstore"
	"halfshaft/services/parts/partswire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const maxQuestion = 200 // characters

// Config is what the service needs. Logger may be nil.
type Config struct {
	Store     *kv.Store
	Group     *projection.Group
	Builds    buildv1.BuildServiceClient       // followed with the client's own identity
	Schedules schedulev1.ScheduleServiceClient // asked for the caller, of parts used in service
	Clock     func() time.Time
	Logger    *slog.Logger
}

// Service answers halfshaft.parts.v1.PartsService.
type Service struct {
	partsv1.UnimplementedPartsServiceServer

	group     *projection.Group
	clock     func() time.Time
	store     *partsstore.Store
	builds    buildv1.BuildServiceClient
	schedules schedulev1.ScheduleServiceClient
	fleet     *fleet
	staging   *staging.Log
	warming   sync.WaitGroup
	end       context.CancelFunc

	searches slots // for packs of shims

	importing sync.Mutex // one catalogue is examined, and one import applied, at a time
	applied   int64      // revision of the last chunk applied
}

// New loads the catalogue, carries interrupted imports to their end, and
// begins to follow the build service. ctx bounds the start; Close ends the
// service.
func New(ctx context.Context, c Config) (*Service, error) {
	if c.Logger == nil {
		c.Logger = slog.New(slog.DiscardHandler)
	}
	life, end := context.WithCancel(context.WithoutCancel(ctx))
	late := context.AfterFunc(ctx, end)
	compiler, err := predicate.NewCompiler()
	if err != nil {
		end()
		return nil, err
	}
	store, err := partsstore.Open(life, c.Store, compiler, c.Logger)
	if err != nil {
		end()
		return nil, fmt.Errorf("open the catalogue: %w", err)
	}
	s := &Service{group: c.Group, clock: c.Clock, store: store, builds: c.Builds, schedules: c.Schedules, end: end, searches: make(slots, searchesAtOnce)}
	s.staging = staging.New(c.Store, partsstore.Service, s)
	if err := s.staging.Recover(ctx); err != nil {
		end()
		store.Close()
		return nil, fmt.Errorf("recover imports of parts: %w", err)
	}
	if !late() {
		end()
		store.Close()
		return nil, fmt.Errorf("open the catalogue: %w", ctx.Err())
	}
	s.fleet = follow(life, c.Builds, c.Logger)
	c.Group.Add(partsstore.Service, store)
	c.Group.Add("build", s.fleet)
	s.warming.Go(func() { // so that the first who asks where something is used does not wait for the whole fleet
		if s.fleet.Synced(life) == nil {
			s.fleet.uses.warm(c.Logger)
		}
	})
	return s, nil
}

// RegisterService puts the service on a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) { partsv1.RegisterPartsServiceServer(r, s) }

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

// GetPart implements the API.
func (s *Service) GetPart(_ context.Context, req *partsv1.GetPartRequest) (*partsv1.Part, error) {
	number, ok := strings.CutPrefix(req.GetName(), "parts/")
	if !ok || parts.NormalNumber(number) == "" || len(number) > resname.MaxSegment {
		return nil, fault.InvalidField("name", req.GetName(), "parts/{part}")
	}
	var found *parts.Part
	s.store.Read(func(c *parts.Catalogue) { found = c.Find(number) })
	if found == nil {
		return nil, fault.New(fault.NotFound, "PART_NOT_FOUND", "There is no part %s in the catalogue.", number)
	}
	return partsstore.PartProto(found), nil
}

// AnswerPart implements the API.
func (s *Service) AnswerPart(ctx context.Context, req *partsv1.AnswerPartRequest) (*partsv1.PartAnswer, error) {
	question, err := words("question", req.GetQuestion(), "a position, a part number or words")
	if err != nil {
		return nil, err
	}
	var answer *partsv1.PartAnswer
	err = s.about(ctx, req.GetBuild(), req.GetOnDate(), func(r *parts.Ready) error {
		a := r.Answer(question)
		answer = partswire.AnswerProto(&a, records(r))
		return nil
	})
	return answer, err
}

// records gives what an answer writes records with.
func records(r *parts.Ready) partswire.Records {
	return partswire.Records{
		Part: partsstore.PartProto, Supersession: partsstore.SupersessionProto, Capacity: partsstore.CapacityProto,
		Setting: partsstore.SettingProto, Find: r.Catalogue.Part,
	}
}

// words reads a question.
func words(field, text, want string) (string, error) {
	question := strings.Join(strings.Fields(text), " ")
	if n := len([]rune(question)); n == 0 || n > maxQuestion {
		return "", fault.InvalidField(field, text, want+", "+fault.AtMost(maxQuestion))
	}
	return question, nil
}

// about makes a vehicle ready for questions on a day, and gives it to f while
// the catalogue stands still.
func (s *Service) about(ctx context.Context, name string, day *date.Date, f func(*parts.Ready) error) error {
	v, err := s.visit(ctx, name, day)
	if err != nil {
		return err
	}
	s.store.ReadVersion(func(c *parts.Catalogue, version int64) { err = f(v.with(c, version)) })
	return err
}

// visit gives a vehicle on a day.
func (s *Service) visit(ctx context.Context, name string, day *date.Date) (*visit, error) {
	serial, _, err := resname.Serial("build", "builds/{serial}", name)
	if err != nil {
		return nil, err
	}
	on, err := s.day("on_date", day)
	if err != nil {
		return nil, err
	}
	if err := s.fleet.Synced(ctx); err != nil {
		return nil, outOfReach(err)
	}
	v, err := s.fleet.vehicle(serial, on)
	if err == nil && v == nil {
		err = fault.New(fault.NotFound, "BUILD_NOT_FOUND", "There is no vehicle %s here.", serial)
	}
	return v, err
}

// day reads a date of a request; unset means today.
func (s *Service) day(field string, d *date.Date) (vehicle.Date, error) {
	on, err := vehiclewire.Date(d)
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return vehicle.Date{}, fault.InvalidField(field, f.Got, f.Want)
	}
	if on.IsZero() {
		on = vehicle.DateOf(s.clock().UTC())
	}
	return on, nil
}

func outOfReach(err error) error {
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "BUILDS_OUT_OF_REACH", RetryAfter: time.Second, Cause: err,
		Message: "the build records are not here yet",
	}
}
