package reminderjob

import (
	"context"
	"fmt"
	"net"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/reminder"
)

// The town's services over gRPC, as far as a pass asks when nothing is due.
type (
	scheduleServer struct {
		schedulev1.UnimplementedScheduleServiceServer
		of schedules
	}
	ownerServer struct {
		ownerv1.UnimplementedOwnerServiceServer
		of owners
	}
)

func (s scheduleServer) ListDue(ctx context.Context, r *schedulev1.ListDueRequest) (*schedulev1.ListDueResponse, error) {
	return s.of.ListDue(ctx, r)
}

func (s ownerServer) ListTies(ctx context.Context, r *ownerv1.ListTiesRequest) (*ownerv1.ListTiesResponse, error) {
	return s.of.ListTies(ctx, r)
}

func (s ownerServer) ListStandings(ctx context.Context, r *ownerv1.ListStandingsRequest) (*ownerv1.ListStandingsResponse, error) {
	return s.of.ListStandings(ctx, r)
}

// overGRPC lets an office ask the town over gRPC, in memory.
func overGRPC(b *testing.B, o *office) {
	listener := bufconn.Listen(1 << 20)
	server := grpc.NewServer()
	schedulev1.RegisterScheduleServiceServer(server, scheduleServer{of: schedules{town: o.town}})
	ownerv1.RegisterOwnerServiceServer(server, ownerServer{of: owners{town: o.town}})
	go func() { _ = server.Serve(listener) }()
	b.Cleanup(server.Stop)
	conn, err := grpc.NewClient("passthrough:///town", grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { conn.Close() })
	o.Schedules, o.Owners = schedulev1.NewScheduleServiceClient(conn), ownerv1.NewOwnerServiceClient(conn)
}

// BenchmarkPassNothingDue prints what a pass costs that has nothing to do, as a
// ratio to asking what is due, in turn on the same connection.
func BenchmarkPassNothingDue(b *testing.B) {
	o := newOffice(b)
	for n := range 1000 {
		o.town.owner(serial(n), fmt.Sprintf("p%d", n))
	}
	overGRPC(b, o)
	fence := o.elect(b)
	var asking, passing time.Duration
	n := 0
	for b.Loop() {
		n++
		begin := time.Now()
		if _, err := o.Schedules.ListDue(b.Context(), &schedulev1.ListDueRequest{WithinDays: reminder.Horizon}); err != nil {
			b.Fatal(err)
		}
		asking += time.Since(begin)
		begin = time.Now()
		r, err := o.pass(b.Context(), fence)
		if err != nil || counts(r) != "" {
			b.Fatalf("%s, %v", counts(r), err)
		}
		passing += time.Since(begin)
	}
	b.ReportMetric(float64(passing)/float64(asking), "x-ListDue")
	b.ReportMetric(float64(passing.Microseconds())/float64(n), "µs/pass")
}
