package accesssignin

import (
	"context"
	"crypto/rand"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/signin"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
)

// open adds a new session to a transaction.
func (s *Service) open(t *accessstore.SignInTxn, h *accessstore.Holder, way accessv1.SignInWay, network string) (*accessv1.SessionGrant, error) {
	secret, err := signin.NewSecret(signin.SessionMark, rand.Reader)
	if err != nil {
		return nil, err
	}
	digest, _ := signin.Digest(signin.SessionMark, secret)
	now := timestamppb.New(s.now())
	r := &accessv1.SessionRecord{Account: h.Name(), Way: way, CreateTime: now, LastUseTime: now, Network: network}
	t.While(h).PutSession(digest, r)
	return &accessv1.SessionGrant{Session: session(digest, r, h.Role), Secret: secret}, nil
}

// session writes a session for people.
func session(digest string, r *accessv1.SessionRecord, role access.Role) *accessv1.Session {
	return &accessv1.Session{
		Name: "sessions/" + signin.SessionID(digest), Account: r.GetAccount(), Way: r.GetWay(),
		CreateTime: r.GetCreateTime(), LastUseTime: r.GetLastUseTime(), Network: r.GetNetwork(),
		ExpireTime: timestamppb.New(times(r).Ends(role)),
	}
}

func times(r *accessv1.SessionRecord) signin.Session {
	return signin.Session{Created: r.GetCreateTime().AsTime(), LastUse: r.GetLastUseTime().AsTime()}
}

// current is a session that is good, and whose it is.
type current struct {
	*accessstore.StoredSession
	holder *accessstore.Holder
}

// current finds the session of a secret. One that is over goes.
func (s *Service) current(ctx context.Context, secret string) (*current, error) {
	digest, ok := signin.Digest(signin.SessionMark, secret)
	if !ok {
		return nil, signin.SessionOver()
	}
	r, err := s.Store.Session(ctx, digest)
	if err != nil {
		return nil, err
	}
	if r == nil {
		return nil, signin.SessionOver()
	}
	id, _ := access.AccountID(r.GetAccount())
	h, err := s.Store.Holder(ctx, id)
	if err != nil {
		return nil, err
	}
	if h == nil || !h.Admitted || !times(r.SessionRecord).Open(h.Role, s.now()) {
		if _, err := s.Store.Commit(aside(ctx), s.Store.Begin().EndSession(digest)); err != nil {
			return nil, err
		}
		return nil, signin.SessionOver()
	}
	return &current{r, h}, nil
}

// own finds the session of a secret and holds it to the account that the
// request names.
func (s *Service) own(ctx context.Context, account, secret string) (*current, error) {
	c, err := s.current(ctx, secret)
	if err != nil {
		return nil, err
	}
	if c.GetAccount() != account {
		return nil, signin.SessionOver()
	}
	return c, nil
}

// CheckSession implements the SignInService.
func (s *Service) CheckSession(ctx context.Context, r *accessv1.CheckSessionRequest) (*accessv1.CheckSessionResponse, error) {
	c, err := s.current(ctx, r.GetSecret())
	if err != nil {
		return nil, err
	}
	now := s.now()
	if times(c.SessionRecord).Touch(now) {
		c.LastUseTime = timestamppb.New(now)
		// Two pages at once both touch it, and one is enough.
		if _, err := s.Store.Commit(aside(ctx), s.Store.Begin().Touch(c.StoredSession)); err != nil && !fault.Is(err, fault.Aborted) {
			return nil, err
		}
	}
	return &accessv1.CheckSessionResponse{
		Session: session(c.Digest, c.SessionRecord, c.holder.Role), Account: s.account(c.holder),
		Fresh: times(c.SessionRecord).Fresh(now),
	}, nil
}

// SignOut implements the SignInService. A session that is over stays so.
func (s *Service) SignOut(ctx context.Context, r *accessv1.SignOutRequest) (*accessv1.SignOutResponse, error) {
	network, err := networkOf(r.GetNetwork())
	if err != nil {
		return nil, err
	}
	digest, ok := signin.Digest(signin.SessionMark, r.GetSecret())
	if !ok {
		return &accessv1.SignOutResponse{}, nil
	}
	found, err := s.Store.Session(ctx, digest)
	if err != nil {
		return nil, err
	}
	if found != nil && found.GetAccount() == r.GetAccount() {
		if err := s.leave(ctx, digest, found, network); err != nil {
			return nil, err
		}
	}
	return &accessv1.SignOutResponse{}, nil
}

// leave ends the session of who signs out.
func (s *Service) leave(ctx context.Context, digest string, r *accessstore.StoredSession, network string) error {
	id, _ := access.AccountID(r.GetAccount())
	h, err := s.Store.Holder(ctx, id)
	if err != nil {
		return err
	}
	if h != nil {
		ctx = s.witnessed(ctx, s.by("SignOut", h, "sessions/"+signin.SessionID(digest), network))
	}
	_, err = s.Store.Commit(ctx, s.Store.Begin().EndSession(digest))
	return err
}

// everybody is the parent that stands for every account.
const everybody = "accounts/-"

// ListSessions implements the SignInService.
func (s *Service) ListSessions(ctx context.Context, r *accessv1.ListSessionsRequest) (*accessv1.ListSessionsResponse, error) {
	size, err := page.Size(r.GetPageSize(), 50, 500)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	if r.GetParent() != everybody {
		if _, err := s.holder(ctx, "parent", r.GetParent()); err != nil {
			return nil, err
		}
	}
	all, err := s.Store.Sessions(ctx, "")
	if err != nil {
		return nil, err
	}
	roles := map[string]*accessstore.Holder{}
	out := &accessv1.ListSessionsResponse{}
	for _, x := range all {
		if x.Digest <= after || r.GetParent() != everybody && x.GetAccount() != r.GetParent() {
			continue
		}
		h, known := roles[x.GetAccount()]
		if !known {
			id, _ := access.AccountID(x.GetAccount())
			if h, err = s.Store.Holder(ctx, id); err != nil {
				return nil, err
			}
			roles[x.GetAccount()] = h
		}
		if h == nil || !h.Admitted || !times(x.SessionRecord).Open(h.Role, s.now()) {
			continue
		}
		out.Sessions = append(out.Sessions, session(x.Digest, x.SessionRecord, h.Role))
		if len(out.Sessions) > size {
			break
		}
	}
	// A session's identifier begins its digest, so that the order is the same.
	out.Sessions, out.NextPageToken = page.Cut(r, out.Sessions, size, func(x *accessv1.Session) string {
		return strings.TrimPrefix(x.GetName(), "sessions/") + "~"
	})
	return out, nil
}

// whoEnds finds out who ends an account's sessions: administrators as
// themselves, pages only for the account's own somebody, who shows a session.
func (s *Service) whoEnds(ctx context.Context, account, secret, from string) (context.Context, error) {
	network, err := networkOf(from)
	if err != nil {
		return nil, err
	}
	if access.CallerFrom(ctx).Role != access.Service {
		return ctx, nil
	}
	c, err := s.own(ctx, account, secret)
	if err != nil {
		return nil, err
	}
	return onBehalf(ctx, c.holder, c.name(), network), nil
}

// EndSession implements the SignInService.
func (s *Service) EndSession(ctx context.Context, r *accessv1.EndSessionRequest) (*accessv1.EndSessionResponse, error) {
	id, ok := strings.CutPrefix(r.GetName(), "sessions/")
	if !ok || !signin.ValidSessionID(id) {
		return nil, fault.InvalidField("name", r.GetName(), "sessions/{session}")
	}
	_, err := accesswire.AccountID("account", r.GetAccount())
	if err != nil {
		return nil, err
	}
	if ctx, err = s.whoEnds(ctx, r.GetAccount(), r.GetSession(), r.GetNetwork()); err != nil {
		return nil, err
	}
	found, err := s.Store.Sessions(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, x := range found {
		if x.GetAccount() == r.GetAccount() {
			_, err := s.Store.Commit(ctx, s.Store.Begin().EndSession(x.Digest))
			return &accessv1.EndSessionResponse{}, err
		}
	}
	return nil, fault.New(fault.NotFound, "SESSION_NOT_FOUND", "There is no session %s here, or it is over.", id)
}

// EndSessions implements the SignInService.
func (s *Service) EndSessions(ctx context.Context, r *accessv1.EndSessionsRequest) (*accessv1.EndSessionsResponse, error) {
	h, err := s.holder(ctx, "account", r.GetAccount())
	if err != nil {
		return nil, err
	}
	if ctx, err = s.whoEnds(ctx, r.GetAccount(), r.GetSession(), r.GetNetwork()); err != nil {
		return nil, err
	}
	except, ok := strings.CutPrefix(r.GetExcept(), "sessions/")
	if r.GetExcept() != "" && (!ok || !signin.ValidSessionID(except)) {
		return nil, fault.InvalidField("except", r.GetExcept(), "sessions/{session}, or nothing")
	}
	ended, err := s.endAll(ctx, h.ID, except)
	return &accessv1.EndSessionsResponse{Ended: int32(ended)}, err
}

// endAll ends the sessions of an account but one.
func (s *Service) endAll(ctx context.Context, account, except string) (int, error) {
	ended := 0
	for {
		txn := s.Store.Begin()
		n, err := s.end(ctx, txn, account, except)
		if err != nil || n == 0 {
			return ended, err
		}
		if _, err := s.Store.Commit(ctx, txn); err != nil {
			return ended, err
		}
		ended += n
	}
}

// mostSessions bounds how many sessions one transaction ends.
const mostSessions = kv.MaxOps - 16

// end adds the end of an account's sessions but one to a transaction, as many
// as fit, and says how many.
func (s *Service) end(ctx context.Context, t *accessstore.SignInTxn, account, except string) (int, error) {
	all, err := s.Store.Sessions(ctx, "")
	if err != nil {
		return 0, err
	}
	n := 0
	for _, x := range all {
		if x.GetAccount() == "accounts/"+account && signin.SessionID(x.Digest) != except && t.Len() < mostSessions {
			t.EndSession(x.Digest)
			n++
		}
	}
	return n, nil
}
