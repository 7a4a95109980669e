package grpcserver

import (
	"context"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"

	"halfshaft/services/fault"
	"halfshaft/services/internal/rpcerr"
)

// interceptors is what every call passes, from the outside in: log, error
// mapping, recover, deadline, gate, recover, handler. They are one function
// each and not a chain, which saves a closure per step and call. The inner
// recover lets the gate's audit see a panic as an error; the outer one guards
// the gate.
type interceptors struct {
	logger     *slog.Logger
	cap        time.Duration
	caps       map[string]time.Duration
	gateUnary  grpc.UnaryServerInterceptor
	gateStream grpc.StreamServerInterceptor
	stopping   context.Context
}

func newInterceptors(c Config, stopping context.Context) *interceptors {
	i := &interceptors{
		logger: c.Logger, cap: c.DeadlineCap, caps: c.Deadlines, stopping: stopping,
		gateUnary: closedUnary, gateStream: closedStream,
	}
	if c.Gate != nil {
		i.gateUnary, i.gateStream = c.Gate.Unary(), c.Gate.Stream()
	}
	return i
}

func (i *interceptors) unary(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
	begin := time.Now()
	patienceOf(ctx).arrived()
	limit := i.cap
	if own, ok := i.caps[info.FullMethod]; ok {
		limit = own
	}
	ctx, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	resp, err := i.guardUnary(ctx, req, info, handler)
	code := codes.OK
	if err != nil {
		st := rpcerr.Status(ctx, i.logger, err)
		code, err = st.Code(), st.Err()
	}
	i.log(ctx, info.FullMethod, code, begin)
	if err != nil {
		return nil, err
	}
	return resp, nil
}

func (i *interceptors) guardUnary(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (resp any, err error) {
	defer recovered(&err)
	return i.gateUnary(ctx, req, info, func(ctx context.Context, req any) (resp any, err error) {
		defer recovered(&err)
		return handler(ctx, req)
	})
}

func (i *interceptors) stream(srv any, ss grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
	begin := time.Now()
	ctx, cancel := context.WithCancel(ss.Context())
	defer cancel()
	stop := context.AfterFunc(i.stopping, cancel)
	defer stop()
	err := i.guardStream(srv, &stoppableStream{ss, ctx, patienceOf(ctx)}, info, handler)
	code := codes.OK
	if err != nil {
		if i.stopping.Err() != nil && ss.Context().Err() == nil {
			err = fault.New(fault.Unavailable, "SERVER_STOPPING", "the server is stopping")
		}
		st := rpcerr.Status(ctx, i.logger, err)
		code, err = st.Code(), st.Err()
	}
	i.log(ctx, info.FullMethod, code, begin)
	return err
}

func (i *interceptors) guardStream(srv any, ss grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) (err error) {
	defer recovered(&err)
	return i.gateStream(srv, ss, info, func(srv any, ss grpc.ServerStream) (err error) {
		defer recovered(&err)
		return handler(srv, ss)
	})
}

// stoppableStream is a stream whose context ends with the server, and with the
// patience for its client.
type stoppableStream struct {
	grpc.ServerStream
	ctx    context.Context
	client *patience
}

// RecvMsg implements grpc.ServerStream.
func (s *stoppableStream) RecvMsg(m any) error {
	err := s.ServerStream.RecvMsg(m)
	s.client.arrived()
	return err
}

// SendMsg implements grpc.ServerStream.
func (s *stoppableStream) SendMsg(m any) error {
	s.client.sending()
	defer s.client.arrived()
	return s.ServerStream.SendMsg(m)
}

// Context implements grpc.ServerStream.
func (s *stoppableStream) Context() context.Context { return s.ctx }

// recovered turns a panic into an Internal error, which is logged with the
// stack where it happened and an id.
func recovered(err *error) {
	if p := recover(); p != nil {
		*err = &fault.Error{
			Kind: fault.Internal, Reason: "PANIC", Message: "a panic in a handler",
			Cause: fmt.Errorf("panic: %v\n%s", p, debug.Stack()),
		}
	}
}

// log writes one line per call, never its content: the server's own failures
// as warnings, refusals at Info, answers at Debug.
func (i *interceptors) log(ctx context.Context, method string, code codes.Code, begin time.Time) {
	level := slog.LevelInfo
	switch code {
	case codes.OK:
		level = slog.LevelDebug
	case codes.Unavailable:
		if i.stopping.Err() == nil { // the end of a stream at a stop is no failure
			level = slog.LevelWarn
		}
	case codes.Internal, codes.Unknown, codes.DataLoss, codes.DeadlineExceeded:
		level = slog.LevelWarn
	}
	if !i.logger.Enabled(ctx, level) {
		return
	}
	i.logger.LogAttrs(ctx, level, "call", slog.String("method", method), slog.String("code", code.String()),
		slog.Duration("duration", time.Since(begin)), slog.String("transport", Transport(ctx)))
}

// A server that nobody gave a gate lets nobody in.
func closedUnary(context.Context, any, *grpc.UnaryServerInfo, grpc.UnaryHandler) (any, error) {
	return nil, errNoGate()
}

func closedStream(any, grpc.ServerStream, *grpc.StreamServerInfo, grpc.StreamHandler) error {
	return errNoGate()
}

func errNoGate() error {
	return fault.New(fault.Denied, "NO_GATE", "this server has no access control")
}
