package accessgate_test

import (
	"context"
	"fmt"
	"net"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/access/audit"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/throttle"
)

// witnesses is a recorder that writes lines as the real one does, and keeps
// them nowhere.
type witnesses struct{ n atomic.Int64 }

func (w *witnesses) Witness(l audit.Line) *kv.Witness {
	return kv.NewWitness(fmt.Sprintf("/halfshaft/v1/access/pending/%d", w.n.Add(1)), []byte(l.Text()))
}

func (w *witnesses) Note(l audit.Line) { _ = l.Text() }

// wholeGate is a door with all there is: keys, ties, assignments, limits that
// count and never refuse, and the audit.
func wholeGate(b *testing.B) *door {
	never := throttle.Rate{Every: time.Nanosecond, Burst: 1 << 30}
	return newDoorOf(b, accessgate.Config{Recorder: &witnesses{}, Limits: accessgate.Limits{Key: never, Address: never, Failed: never, Changes: never}})
}

// benchmarked are the calls that are measured: who, what, about what.
var benchmarked = []struct {
	name, method string
	role         access.Role
	request      proto.Message
}{
	{"support reads", buildv1.BuildService_GetBuild_FullMethodName, access.Support, &buildv1.GetBuildRequest{Name: "builds/" + string(otherSerial)}},
	{"owner reads", buildv1.BuildService_GetBuild_FullMethodName, access.Owner, &buildv1.GetBuildRequest{Name: "builds/" + string(ownSerial)}},
	{"dealer reads", buildv1.BuildService_GetBuild_FullMethodName, access.Dealer, &buildv1.GetBuildRequest{Name: "builds/" + string(assignedSerial)}},
	{"support reads a person", ownerv1.OwnerService_GetPerson_FullMethodName, access.Support, &ownerv1.GetPersonRequest{Name: ownPerson}},
	{"engineer changes", buildv1.BuildService_AmendBuild_FullMethodName, access.Engineer,
		&buildv1.AmendBuildRequest{Build: &buildv1.Build{Name: "builds/" + string(ownSerial)}, Reason: "the release was misread"}},
}

// BenchmarkGatedCall is a call over TCP through the whole gate, turn by turn
// with an empty one: no gate, no limits. It prints how many times as long the
// one takes as the other.
func BenchmarkGatedCall(b *testing.B) {
	gated, empty := wholeGate(b), emptyServer(b)
	for _, c := range benchmarked {
		b.Run(c.name, func(b *testing.B) {
			over := gated.as(c.role)
			var with, without time.Duration
			for b.Loop() {
				begin := time.Now()
				if err := over.Invoke(b.Context(), c.method, c.request, &accessv1.WhoAmIResponse{}); status.Code(err) != codes.Unimplemented {
					b.Fatal(err)
				}
				between := time.Now()
				if err := empty.Invoke(b.Context(), c.method, c.request, &accessv1.WhoAmIResponse{}); status.Code(err) != codes.Unimplemented {
					b.Fatal(err)
				}
				with, without = with+between.Sub(begin), without+time.Since(between)
			}
			b.ReportMetric(float64(with)/float64(without), "x-empty-call")
		})
	}
}

// emptyServer is gRPC with nothing of ours around the same services.
func emptyServer(b *testing.B) *grpc.ClientConn {
	b.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	s := grpc.NewServer()
	registerTheRest(s)
	served := make(chan error, 1)
	go func() { served <- s.Serve(listener) }()
	b.Cleanup(func() {
		s.Stop()
		<-served
	})
	return dial(b, listener.Addr().String())
}

// BenchmarkGateAlone is the gate without the call around it: what it adds.
func BenchmarkGateAlone(b *testing.B) {
	d := wholeGate(b)
	gate := d.gate.Unary()
	pass := func(context.Context, any) (any, error) { return &buildv1.Build{}, nil }
	for _, c := range benchmarked {
		ctx := incoming(d, c.role)
		info := &grpc.UnaryServerInfo{FullMethod: c.method}
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := gate(ctx, c.request, info, pass); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// incoming is the context of a call over TCP with the key of a role.
func incoming(d *door, role access.Role) context.Context {
	ctx := peer.NewContext(context.Background(), &peer.Peer{Addr: &net.TCPAddr{IP: net.IPv4(192, 0, 2, 17)}})
	return metadata.NewIncomingContext(ctx, metadata.Pairs(
		":authority", "works.example", "content-type", "application/grpc", "user-agent", "test", "authorization", "Bearer "+d.secrets[role]))
}
