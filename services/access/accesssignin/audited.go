package accesssignin

import (
	"context"

	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/audit"
	"halfshaft/services/access/signin"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/rpcerr"
)

// Recorder keeps the audit. Who signs in is known here only, when they are let
// in, and so is their network, which the pages tell: the methods of that are
// bookkeeping to the gate. Of all others the gate writes the lines, and is told
// here for whom the pages call.
type Recorder interface {
	Witness(line audit.Line) *kv.Witness
	Note(line audit.Line)
}

const signInMethod = "/halfshaft.access.v1.SignInService/"

// by begins the line of what an account did by a session.
func (s *Service) by(method string, h *accessstore.Holder, session, network string) audit.Line {
	line := audit.Line{
		Time: s.now(), Actor: h.ID, Role: h.Role, Credential: session, Through: "desk", Method: signInMethod + method,
		Objects: []string{h.Name()}, Outcome: audit.Changed, Network: network,
	}
	if h.Role == access.Dealer {
		line.Party = h.Organisation
	}
	return line
}

// byInvitation is what shows who somebody is before they have a session.
const byInvitation = "invitation"

// onBehalf tells the gate for whom the pages call: its line names them, the
// session that they showed, and their network.
func onBehalf(ctx context.Context, h *accessstore.Holder, credential, network string) context.Context {
	p := audit.Principal{Actor: h.ID, Role: h.Role, Credential: credential, Network: network}
	if h.Role == access.Dealer {
		p.Party = h.Organisation
	}
	return audit.OnBehalf(ctx, p)
}

// name is how the audit names a session.
func (c *current) name() string { return "sessions/" + signin.SessionID(c.Digest) }

// witnessed gives a context whose first transaction carries a line.
func (s *Service) witnessed(ctx context.Context, line audit.Line) context.Context {
	if s.Recorder == nil {
		return ctx
	}
	return kv.WithWitness(ctx, s.Recorder.Witness(line))
}

// notLetIn notes who was refused a sign-in. account is that of an account that
// is there, or empty: what was typed for a name may be a password.
func (s *Service) notLetIn(ctx context.Context, method, account, network string, err error) {
	if s.Recorder == nil || err == nil {
		return
	}
	f := rpcerr.FromHandler(err)
	caller := access.CallerFrom(ctx)
	line := audit.Line{
		Time: s.now(), Actor: caller.Bearer, Role: caller.Role, Credential: caller.Credential, Method: signInMethod + method,
		Outcome: audit.Refused, ErrorReason: f.Reason, Network: network,
	}
	if f.Kind == fault.Internal || f.Kind == fault.Unavailable {
		line.Outcome = audit.Failed
	}
	if account != "" {
		line.Objects = []string{account}
	}
	s.Recorder.Note(line)
}
