// Package partsrpc serves the catalogue and the answers over gRPC.
package partsrpc

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"time"

	"google.golang.org/grpc"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/resname"
	"halfshaft/services/internal/staging"
	"halfshaft/services/parts"
	"halfshaft/services/parts/partsstore"
	"halfshaft/services/parts/partswire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

const (
	standardPage = 50
	largestPage  = 500
	maxQuestion  = 200 // characters
)

// Config is what the service needs. Logger may be nil.
type Config struct {
	Store  *kv.Store
	Group  *projection.Group
	Builds buildv1.BuildServiceClient // followed with the client's own identity
	Clock  func() time.Time
	Logger *slog.Logger
}

// Service answers halfshaft.parts.v1.PartsService.
type Service struct {
	partsv1.UnimplementedPartsServiceServer

	group   *projection.Group
	clock   func() time.Time
	store   *partsstore.Store
	fleet   *fleet
	staging *staging.Log
	end     context.CancelFunc

	importing sync.Mutex // one import is examined and applied at a time
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
	store, err := partsstore.Open(life, c.Store, c.Logger)
	if err != nil {
		end()
		return nil, fmt.Errorf("open the catalogue: %w", err)
	}
	s := &Service{group: c.Group, clock: c.Clock, store: store, end: end}
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
	return s, nil
}

// RegisterService puts the service on a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) { partsv1.RegisterPartsServiceServer(r, s) }

// Ready returns nil once the vehicles are known.
func (s *Service) Ready(ctx context.Context) error { return s.fleet.Synced(ctx) }

// Close ends the following of store and build service.
func (s *Service) Close() error {
	s.end()
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

// ListParts implements the API.
func (s *Service) ListParts(_ context.Context, req *partsv1.ListPartsRequest) (*partsv1.ListPartsResponse, error) {
	size, last, err := pageOf(req.GetPageSize(), func() (string, error) { return page.After(req, req.GetPageToken()) })
	if err != nil {
		return nil, err
	}
	var found []*parts.Part
	s.store.Read(func(c *parts.Catalogue) { found = c.PartsAfter(last, size+1) })
	resp := &partsv1.ListPartsResponse{}
	for _, p := range found[:min(size, len(found))] {
		resp.Parts = append(resp.Parts, partsstore.PartProto(p))
	}
	if len(found) > size {
		resp.NextPageToken = page.Token(req, found[size-1].Number)
	}
	return resp, nil
}

// ListSupersessions implements the API.
func (s *Service) ListSupersessions(_ context.Context, req *partsv1.ListSupersessionsRequest) (*partsv1.ListSupersessionsResponse, error) {
	size, last, err := pageOf(req.GetPageSize(), func() (string, error) { return page.After(req, req.GetPageToken()) })
	if err != nil {
		return nil, err
	}
	var found []*parts.Supersession
	s.store.Read(func(c *parts.Catalogue) { found = c.SupersessionsAfter(last, size+1) })
	resp := &partsv1.ListSupersessionsResponse{}
	for _, n := range found[:min(size, len(found))] {
		resp.Supersessions = append(resp.Supersessions, partsstore.SupersessionProto(n))
	}
	if len(found) > size {
		resp.NextPageToken = page.Token(req, found[size-1].ID)
	}
	return resp, nil
}

func pageOf(asked int32, after func() (string, error)) (size int, last string, err error) {
	if size, err = page.Size(asked, standardPage, largestPage); err != nil {
		return 0, "", err
	}
	last, err = after()
	return size, last, err
}

// AnswerPart implements the API.
func (s *Service) AnswerPart(ctx context.Context, req *partsv1.AnswerPartRequest) (*partsv1.PartAnswer, error) {
	serial, _, err := resname.Serial("build", "builds/{serial}", req.GetBuild())
	if err != nil {
		return nil, err
	}
	question := strings.Join(strings.Fields(req.GetQuestion()), " ")
	if n := len([]rune(question)); n == 0 || n > maxQuestion {
		return nil, fault.InvalidField("question", req.GetQuestion(),
			fmt.Sprintf("a position, a part number or words, at most %d characters", maxQuestion))
	}
	on, err := vehiclewire.Date(req.GetOnDate())
	if err != nil {
		f := fault.FieldsOf("", err)[0]
		return nil, fault.InvalidField("on_date", f.Got, f.Want)
	}
	if on.IsZero() {
		on = vehicle.DateOf(s.clock().UTC())
	}
	if err := s.fleet.Synced(ctx); err != nil {
		return nil, outOfReach(err)
	}
	v, places, err := s.fleet.vehicle(serial, on)
	switch {
	case err != nil:
		return nil, err
	case v == nil:
		return nil, fault.New(fault.NotFound, "BUILD_NOT_FOUND", "There is no vehicle %s here.", serial)
	}
	var answer *partsv1.PartAnswer
	s.store.Read(func(c *parts.Catalogue) {
		answerer := parts.Answerer{Catalogue: c, Places: places}
		a := answerer.Answer(v, question)
		answer = partswire.AnswerProto(&a, partsstore.PartProto, partsstore.SupersessionProto)
	})
	return answer, nil
}

func outOfReach(err error) error {
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "BUILDS_OUT_OF_REACH", RetryAfter: time.Second, Cause: err,
		Message: "the build records are not here yet",
	}
}
