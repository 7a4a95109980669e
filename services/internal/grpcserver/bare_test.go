package grpcserver

import (
	"testing"

	"google.golang.org/grpc"
	"google.golang.org/grpc/test/bufconn"
)

// bareServer is a gRPC server with no setting at all, to measure against.
func bareServer(b *testing.B, e *echo) *grpc.ClientConn {
	l := bufconn.Listen(256 << 10)
	s := grpc.NewServer()
	s.RegisterService(e.desc(), e)
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(l) }()
	cc := dialBuffer(l)
	b.Cleanup(func() {
		cc.Close()
		s.Stop()
		<-ended
	})
	return cc
}
