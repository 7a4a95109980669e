package accessgate

import (
	"context"
	"log/slog"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/access"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/internal/throttle"
)

// Recorder keeps the audit.
type Recorder interface {
	// Witness gives the line of a change, to be written with its effect.
	Witness(line audit.Line) *kv.Witness
	// Note takes in a line that goes with no effect. It is written soon, folded
	// with its like.
	Note(line audit.Line)
}

// record is the audit of one call that was let in. Its zero value records
// nothing.
type record struct {
	gate    *Gate
	visit   visit
	witness *kv.Witness // of a change

	principal audit.Principal // for whom the handler says it is
	detail    audit.Detail    // what the handler says that it changes
}

// begin prepares the audit of a call. The line of a change goes with the
// context, into the first transaction that is committed under it.
func (g *Gate) begin(ctx context.Context, v visit, req any) (context.Context, *record) {
	if g.recorder == nil {
		return ctx, &record{}
	}
	r := &record{gate: g, visit: v}
	if access.Changes(v.method) && !v.rule.Bookkeeping {
		line := g.line(v, req)
		line.Outcome = audit.Changed
		r.witness = g.recorder.Witness(line)
		ctx = r.detailable(kv.WithWitness(ctx, r.witness), req)
	}
	if v.caller.Role == access.Service {
		ctx = r.nameable(ctx, req)
	}
	return ctx, r
}

// nameable lets the handler of a service's call say for whom it is, before its
// first effect and in its own goroutine.
func (r *record) nameable(ctx context.Context, req any) context.Context {
	return audit.WithNaming(ctx, func(ctx context.Context, p audit.Principal) context.Context {
		r.principal = p
		return r.anew(ctx, req)
	})
}

// detailable lets the handler of a change say what only it knows of it, before
// its first effect and in its own goroutine.
func (r *record) detailable(ctx context.Context, req any) context.Context {
	return audit.WithDetailing(ctx, func(ctx context.Context, d audit.Detail) context.Context {
		r.detail = d
		return r.anew(ctx, req)
	})
}

// anew makes the witness of a change again, with what the handler said.
func (r *record) anew(ctx context.Context, req any) context.Context {
	if r.witness == nil {
		return ctx
	}
	line := r.line(req)
	line.Outcome = audit.Changed
	r.witness = r.gate.recorder.Witness(line)
	return kv.WithWitness(ctx, r.witness)
}

// line begins the line of the call, with what the handler said.
func (r *record) line(req any) audit.Line {
	return r.principal.For(r.gate.line(r.visit, req)).With(r.detail)
}

// end notes what came of the call, as far as its witness does not say it.
func (r *record) end(req any, err error) {
	if r.gate == nil {
		return
	}
	outcome := r.outcome(err)
	if outcome == audit.Unsaid {
		return
	}
	line := r.line(req)
	line.Outcome, line.ErrorReason = outcome, reasonOf(err)
	r.gate.recorder.Note(line)
}

// outcome decides whether a call needs a line beside that of its witness.
func (r *record) outcome(err error) audit.Outcome {
	if r.witness == nil {
		return r.outcomeOfRead(err)
	}
	written := r.witness.Written()
	switch {
	case err == nil && written:
		return audit.Unsaid // the witness says it
	case err == nil:
		return audit.Unchanged
	case !written && !r.witness.Doubtful() && refuses(err):
		return audit.Refused
	}
	return audit.Failed
}

// outcomeOfRead decides about a call that changes nothing: staff and dealers
// who read personal data leave a line, and so does who is turned away.
func (r *record) outcomeOfRead(err error) audit.Outcome {
	role := r.visit.caller.Role
	watched := r.visit.rule.Personal && (r.visit.caller.Staff() || role == access.Dealer)
	switch kind := kindOf(err); {
	case err == nil && watched:
		return audit.Read
	case err == nil:
		return audit.Unsaid
	case kind == fault.Denied || kind == fault.NotFound && role.Limited():
		return audit.Refused
	case watched && refuses(err):
		return audit.Refused
	case watched:
		return audit.Failed
	}
	return audit.Unsaid
}

// turnedAway logs and notes whom the gate did not let in: neither the secret
// nor, in the log, what was asked about or by whom.
func (g *Gate) turnedAway(ctx context.Context, v visit, req any, err error) {
	level, reason := slog.LevelInfo, reasonOf(err)
	if fault.Is(err, fault.Unauthenticated) {
		level = slog.LevelWarn
	}
	g.logger.LogAttrs(ctx, level, "turned away", slog.String("method", v.method),
		slog.String("role", v.caller.Role.String()), slog.String("reason", reason))
	if g.recorder == nil {
		return
	}
	line := g.line(v, req)
	line.Outcome, line.ErrorReason = audit.Refused, reason
	if !refuses(err) {
		line.Outcome = audit.Failed
	}
	g.recorder.Note(line)
}

// line begins the line of a call. Of somebody we do not know it says no more
// than whence: what they asked about may be anything.
func (g *Gate) line(v visit, req any) audit.Line {
	line := audit.Line{
		Time: g.clock().UTC(), Method: v.method, Through: v.through,
		Actor: v.caller.Bearer, Role: v.caller.Role, Credential: v.caller.Credential,
		Network: throttle.NetworkText(v.network),
	}
	switch v.caller.Role {
	case access.Nobody:
		return line
	case access.Owner:
		line.Party = v.caller.Person
	case access.Dealer:
		line.Party = v.caller.Organisation
	}
	if m, ok := req.(proto.Message); ok {
		line.Objects, line.Because = v.rule.objectsOf(m), v.rule.becauseOf(m)
	}
	return line
}

// kindOf gives the kind of a handler's error, also of one that came as a status
// from another service; nil is of none.
func kindOf(err error) fault.Kind {
	if err == nil {
		return -1
	}
	return rpcerr.FromHandler(err).Kind
}

func reasonOf(err error) string {
	if err == nil {
		return ""
	}
	return rpcerr.FromHandler(err).Reason
}

// refuses reports whether an error says that what was asked cannot be, rather
// than that something broke.
func refuses(err error) bool {
	kind := kindOf(err)
	return kind != fault.Internal && kind != fault.Unavailable
}
