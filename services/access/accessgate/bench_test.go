package accessgate_test

import (
	"context"
	"net"
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessgate"
	"halfshaft/services/internal/grpcserver"
)

// openGate lets everybody in: the empty call to compare with.
type openGate struct{}

func (openGate) Unary() grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, _ *grpc.UnaryServerInfo, h grpc.UnaryHandler) (any, error) {
		return h(ctx, req)
	}
}

func (openGate) Stream() grpc.StreamServerInterceptor {
	return func(srv any, ss grpc.ServerStream, _ *grpc.StreamServerInfo, h grpc.StreamHandler) error {
		return h(srv, ss)
	}
}

// BenchmarkEmptyCall is one call in this process without any gate.
func BenchmarkEmptyCall(b *testing.B) {
	s := grpcserver.New(grpcserver.Config{Gate: openGate{}})
	accessv1.RegisterAccessServiceServer(s, &keyBook{})
	ctx, cancel := context.WithCancel(b.Context())
	done := make(chan error)
	go func() { done <- s.Serve(ctx) }()
	defer func() { cancel(); <-done; s.Close() }()
	client := accessv1.NewAccessServiceClient(s.InProcess())
	for b.Loop() {
		if _, err := client.WhoAmI(ctx, &accessv1.WhoAmIRequest{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkGatedCall is the same call through the gate, with a key.
func BenchmarkGatedCall(b *testing.B) {
	d := newDoor(b)
	client := accessv1.NewAccessServiceClient(presentInProcess(d, access.Support))
	for b.Loop() {
		if _, err := client.WhoAmI(b.Context(), &accessv1.WhoAmIRequest{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkGateAlone is the gate without the call around it: what it adds.
func BenchmarkGateAlone(b *testing.B) {
	d := newDoor(b)
	gate := d.gate.Unary()
	pass := func(context.Context, any) (any, error) { return nil, nil }
	info := &grpc.UnaryServerInfo{FullMethod: buildv1.BuildService_GetBuild_FullMethodName}
	request := &buildv1.GetBuildRequest{Name: "builds/" + string(ownSerial)}
	for _, role := range []access.Role{access.Support, access.Owner} {
		ctx := incoming(d, role)
		b.Run(role.String(), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := gate(ctx, request, info, pass); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func presentInProcess(d *door, role access.Role) grpc.ClientConnInterface {
	return accessgate.Present(d.server.InProcess(), d.secrets[role])
}

// incoming is the context of a call over TCP with the key of a role.
func incoming(d *door, role access.Role) context.Context {
	ctx := peer.NewContext(context.Background(), &peer.Peer{Addr: &net.TCPAddr{}})
	return metadata.NewIncomingContext(ctx, metadata.Pairs(
		":authority", "works.example", "content-type", "application/grpc", "user-agent", "test", "authorization", "Bearer "+d.secrets[role]))
}
