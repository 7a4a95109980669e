// Package accessauditrpc serves the audit for reading, and proves it.
package accessauditrpc

import (
	"context"
	"time"

	"google.golang.org/grpc"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accessaudit"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/vehicle"
)

// Config is what the service needs.
type Config struct {
	Store *kv.Store
	Clock func() time.Time
}

// Service implements the AuditService.
type Service struct {
	accessv1.UnimplementedAuditServiceServer
	store *accessaudit.Store
	clock func() time.Time
}

// New makes the service. It holds nothing in memory: lines are read from the
// store as they are asked for.
func New(c Config) *Service {
	return &Service{store: accessaudit.NewStore(c.Store), clock: c.Clock}
}

// RegisterService puts the service onto a server.
func (s *Service) RegisterService(r grpc.ServiceRegistrar) {
	accessv1.RegisterAuditServiceServer(r, s)
}

// Ready implements the readiness of every service: this one follows nobody.
func (s *Service) Ready(context.Context) error { return nil }

// Close implements the end of every service.
func (s *Service) Close() error { return nil }

// RetentionJob is the nightly pass that removes texts whose time is over.
func (s *Service) RetentionJob() leader.Job { return s.store.RetentionJob(s.clock) }

// now is the present to the microsecond, in UTC.
func (s *Service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// GetAuditCheckpoint implements the AuditService.
func (s *Service) GetAuditCheckpoint(ctx context.Context, _ *accessv1.GetAuditCheckpointRequest) (*accessv1.AuditCheckpoint, error) {
	st, err := s.store.State(ctx, 1)
	if err != nil {
		return nil, err
	}
	st.End.Time = s.now()
	return accesswire.CheckpointProto(st.End), nil
}

// mostCheckpoints bounds a request of CheckAudit.
const mostCheckpoints = 1000

// CheckAudit implements the AuditService.
func (s *Service) CheckAudit(ctx context.Context, r *accessv1.CheckAuditRequest) (*accessv1.CheckAuditResponse, error) {
	if n := len(r.GetCheckpoints()); n > mostCheckpoints {
		return nil, fault.InvalidField("checkpoints", "", "at most 1000 of them")
	}
	checkpoints, err := accesswire.Checkpoints("checkpoints", r.GetCheckpoints())
	if err != nil {
		return nil, err
	}
	proof, err := s.store.Prove(ctx, vehicle.DateOf(s.now()), checkpoints)
	if err != nil {
		return nil, err
	}
	proof.Last.Time = s.now()
	out := accesswire.ReportProto(proof.Report)
	out.PendingLines = proof.Pending
	return out, nil
}
