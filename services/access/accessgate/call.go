package accessgate

import (
	"context"
	"errors"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/proto"

	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/privacy"
)

// Unary implements grpcserver.Gate.
func (g *Gate) Unary() grpc.UnaryServerInterceptor {
	return func(ctx context.Context, req any, info *grpc.UnaryServerInfo, handler grpc.UnaryHandler) (any, error) {
		v, err := g.enter(ctx, info.FullMethod)
		if err == nil {
			err = g.own(ctx, v, req)
		}
		if err != nil {
			g.turnedAway(ctx, v, req, err)
			return nil, redacted(req, err)
		}
		ctx, r := g.begin(v.context(ctx), v, req)
		answer, err := handler(ctx, req)
		r.end(req, err)
		if err != nil {
			return nil, redacted(req, err)
		}
		return masked(v.caller, answer)
	}
}

// context gives the context in which a method runs for its caller. What an owner
// or a dealer asked for under a request id is answered again to them alone: the
// method may not look at what it gave once to somebody who might see it.
func (v visit) context(ctx context.Context) context.Context {
	ctx = access.NewContext(ctx, v.caller)
	switch v.caller.Role {
	case access.Owner:
		ctx = kv.WithAsker(ctx, v.caller.Person)
	case access.Dealer:
		ctx = kv.WithAsker(ctx, v.caller.Organisation)
	}
	return ctx
}

// Stream implements grpcserver.Gate.
func (g *Gate) Stream() grpc.StreamServerInterceptor {
	return func(srv any, ss grpc.ServerStream, info *grpc.StreamServerInfo, handler grpc.StreamHandler) error {
		v, err := g.enter(ss.Context(), info.FullMethod)
		if err != nil {
			g.turnedAway(ss.Context(), v, nil, err)
			return err
		}
		// A stream of ours reads (the protos are held to it); one that changed
		// something would have its line without objects.
		ctx, r := g.begin(v.context(ss.Context()), v, nil)
		s := &guarded{ServerStream: ss, ctx: ctx, gate: g, visit: v}
		err = handler(srv, s)
		if s.refusal == nil { // what the gate refused is noted already
			r.end(s.request, err)
		}
		return redacted(s.request, err)
	}
}

// guarded is a stream that knows its caller, checks each request before the
// method sees it, and masks each answer.
type guarded struct {
	grpc.ServerStream
	ctx     context.Context
	gate    *Gate
	visit   visit
	request any   // the first, for the audit
	refusal error // of the gate
}

// Context implements grpc.ServerStream.
func (s *guarded) Context() context.Context { return s.ctx }

// RecvMsg implements grpc.ServerStream.
func (s *guarded) RecvMsg(m any) error {
	if err := s.ServerStream.RecvMsg(m); err != nil {
		return err
	}
	if s.request == nil {
		s.request = m
	}
	if err := s.gate.own(s.ctx, s.visit, m); err != nil {
		s.refusal = err
		s.gate.turnedAway(s.ctx, s.visit, m, err)
		return err
	}
	return nil
}

// SendMsg implements grpc.ServerStream.
func (s *guarded) SendMsg(m any) error {
	m, err := masked(s.visit.caller, m)
	if err != nil {
		return err
	}
	return s.ServerStream.SendMsg(m)
}

// masked gives an answer as the caller may see it. What a method answers may be
// shared with others, so a dealer gets a copy.
func masked(c access.Caller, answer any) (any, error) {
	if c.Role != access.Dealer {
		return answer, nil
	}
	m, ok := answer.(proto.Message)
	if !ok {
		return nil, fault.New(fault.Internal, "ANSWER_UNREADABLE", "an answer in which the gate cannot look")
	}
	m = proto.Clone(m)
	privacy.MaskForDealer(m)
	return m, nil
}

// redacted gives a refusal without what it repeats of personal fields of the
// request.
func redacted(req any, err error) error {
	var f *fault.Error
	m, ok := req.(proto.Message)
	if !ok || !errors.As(err, &f) || len(f.Fields) == 0 {
		return err
	}
	safe := *f
	safe.Fields = privacy.Redact(m, f.Fields)
	return &safe
}
