package accessstore

import (
	"context"
	"encoding/hex"
	"iter"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
)

// StoredSession is a session with where it stands.
type StoredSession struct {
	*accessv1.SessionRecord
	Digest      string
	ModRevision int64
}

// Session reads the session with a digest; nil when there is none.
func (s *SignIns) Session(ctx context.Context, digest string) (*StoredSession, error) {
	var r accessv1.SessionRecord
	revision, found, err := s.kv.Get(ctx, sessionsPrefix+digest, &r)
	if err != nil || !found {
		return nil, err
	}
	return &StoredSession{&r, digest, revision}, nil
}

// Sessions gives the sessions whose digests begin with something, in their
// order: all of them for "". There are as many as people at work.
func (s *SignIns) Sessions(ctx context.Context, begin string) ([]StoredSession, error) {
	var all []StoredSession
	_, err := kv.Scan(ctx, s.kv.Client(), sessionsPrefix+begin, func(e kv.Entry) error {
		var r accessv1.SessionRecord
		if err := proto.Unmarshal(e.Value, &r); err != nil {
			return fault.New(fault.Internal, "RECORD_DAMAGED", "a session's record cannot be read")
		}
		all = append(all, StoredSession{&r, strings.TrimPrefix(e.Key, sessionsPrefix), e.ModRevision})
		return nil
	})
	return all, err
}

// SignInTxn is one transaction of signing in. Its methods give back the SignInTxn
// itself, so that it reads as one sentence.
type SignInTxn struct{ txn *kv.Txn }

// Begin begins a transaction.
func (s *SignIns) Begin() *SignInTxn { return &SignInTxn{kv.NewTxn()} }

// Commit commits it, and waits until lists say what it says.
func (s *SignIns) Commit(ctx context.Context, t *SignInTxn) (kv.Result, error) {
	done, err := s.kv.Commit(ctx, t.txn)
	if err != nil {
		return done, err
	}
	return done, s.Wait(ctx, done.Revision)
}

// Once makes it happen at most once for a request id.
func (t *SignInTxn) Once(requestID string, payload, answer proto.Message) *SignInTxn {
	t.txn.Once(Service, requestID, payload, answer)
	return t
}

// Answered gives the answer of a request that was answered before.
func (s *SignIns) Answered(ctx context.Context, requestID string, payload proto.Message) (kv.Result, bool, error) {
	return s.kv.Lookup(ctx, Service, requestID, payload)
}

// While lets it through only while an account is as it was read: of a closing
// and a sign-in side by side, one sees the other.
func (t *SignInTxn) While(h *Holder) *SignInTxn {
	t.txn.Unchanged(accountKey(h.ID), h.ModRevision)
	return t
}

// PutCredentials writes an account's credentials over those read at a revision,
// 0 for none.
func (t *SignInTxn) PutCredentials(account string, c *accessv1.CredentialRecord, revision int64) *SignInTxn {
	t.txn.Unchanged(credentialsKey(account), revision).Put(credentialsKey(account), c)
	return t
}

// PutHandle says whose handle it is.
func (t *SignInTxn) PutHandle(handle []byte, account string) *SignInTxn {
	t.txn.PutBytes(handlesPrefix+hex.EncodeToString(handle), []byte(account))
	return t
}

// PutSession writes a new session.
func (t *SignInTxn) PutSession(digest string, r *accessv1.SessionRecord) *SignInTxn {
	t.txn.Absent(sessionsPrefix+digest).Put(sessionsPrefix+digest, r)
	return t
}

// Touch writes a session that was used over the one that was read.
func (t *SignInTxn) Touch(r *StoredSession) *SignInTxn {
	t.txn.Unchanged(sessionsPrefix+r.Digest, r.ModRevision).Put(sessionsPrefix+r.Digest, r.SessionRecord)
	return t
}

// EndSession removes a session.
func (t *SignInTxn) EndSession(digest string) *SignInTxn {
	t.txn.Delete(sessionsPrefix + digest)
	return t
}

// PutInvitation writes an invitation over the one read at a revision, 0 for
// none, and voids that one.
func (t *SignInTxn) PutInvitation(account string, i, former *accessv1.InvitationRecord, revision int64) *SignInTxn {
	t.txn.Unchanged(invitationsPrefix+account, revision).Put(invitationsPrefix+account, i).
		PutBytes(invitedPrefix+hex.EncodeToString(i.GetSecretSha256()), []byte(account))
	if revision != 0 {
		t.txn.Delete(invitedPrefix + hex.EncodeToString(former.GetSecretSha256()))
	}
	return t
}

// UseInvitation removes an invitation that was read at a revision.
func (t *SignInTxn) UseInvitation(account string, i *accessv1.InvitationRecord, revision int64) *SignInTxn {
	t.txn.Unchanged(invitationsPrefix+account, revision).Delete(invitationsPrefix + account).
		Delete(invitedPrefix + hex.EncodeToString(i.GetSecretSha256()))
	return t
}

// PutCeremony writes a new ceremony.
func (t *SignInTxn) PutCeremony(digest string, c *accessv1.CeremonyRecord) *SignInTxn {
	t.txn.Absent(ceremoniesPrefix+digest).Put(ceremoniesPrefix+digest, c)
	return t
}

// UseCeremony removes a ceremony that was read at a revision: of two second
// steps at once, one fails.
func (t *SignInTxn) UseCeremony(digest string, revision int64) *SignInTxn {
	t.txn.Unchanged(ceremoniesPrefix+digest, revision).Delete(ceremoniesPrefix + digest)
	return t
}

// PutAttempts writes failures over those read at a revision, 0 for none.
func (t *SignInTxn) PutAttempts(of []byte, a *accessv1.AttemptsRecord, revision int64) *SignInTxn {
	key := attemptsPrefix + hex.EncodeToString(of)
	t.txn.Unchanged(key, revision).Put(key, a)
	return t
}

// ForgetAttempts removes failures.
func (t *SignInTxn) ForgetAttempts(of []byte) *SignInTxn {
	t.txn.Delete(attemptsPrefix + hex.EncodeToString(of))
	return t
}

// Len gives the number of operations so far, to keep below kv.MaxOps.
func (t *SignInTxn) Len() int { return t.txn.Len() }

// Swept says how old what is swept must be.
type Swept struct {
	Now          time.Time
	SessionsFrom time.Time // sessions that were begun before
	AttemptsFrom time.Time // failures the last of which came before
}

// Sweep forgets what is over: ceremonies and invitations past their end, old
// sessions and old failures.
func (s *SignIns) Sweep(ctx context.Context, c Swept) (int, error) {
	var stale []string
	for _, k := range []struct {
		prefix string
		over   func([]byte) bool
	}{
		{ceremoniesPrefix, func(b []byte) bool {
			var r accessv1.CeremonyRecord
			return proto.Unmarshal(b, &r) == nil && r.GetExpireTime().AsTime().Before(c.Now)
		}},
		{sessionsPrefix, func(b []byte) bool {
			var r accessv1.SessionRecord
			return proto.Unmarshal(b, &r) == nil && r.GetCreateTime().AsTime().Before(c.SessionsFrom)
		}},
		{attemptsPrefix, func(b []byte) bool {
			var r accessv1.AttemptsRecord
			return proto.Unmarshal(b, &r) == nil && r.GetLastTime().AsTime().Before(c.AttemptsFrom)
		}},
		{invitationsPrefix, func(b []byte) bool {
			var r accessv1.InvitationRecord
			over := proto.Unmarshal(b, &r) == nil && r.GetExpireTime().AsTime().Before(c.Now)
			if over {
				stale = append(stale, invitedPrefix+hex.EncodeToString(r.GetSecretSha256()))
			}
			return over
		}},
	} {
		if _, err := kv.Scan(ctx, s.kv.Client(), k.prefix, func(e kv.Entry) error {
			if k.over(e.Value) {
				stale = append(stale, e.Key)
			}
			return nil
		}); err != nil {
			return 0, err
		}
	}
	return len(stale), s.kv.DeleteAll(ctx, stale)
}

// FollowClosings calls closed for each account that is or becomes closed, one
// after the other, until ctx is done. Of one that was told it may tell again.
func (s *SignIns) FollowClosings(ctx context.Context, closed func(account string)) error {
	f, err := projection.Start(ctx, s.kv.Client(), doorPrefix+accountKind, closings(closed), s.logger)
	if err != nil {
		return err
	}
	defer f.Close()
	<-ctx.Done()
	return ctx.Err()
}

// closings is told which accounts are closed, and keeps nothing.
type closings func(account string)

// Apply implements projection.Handler.
func (closed closings) Apply(events []projection.Event, _ int64) error {
	for _, e := range events {
		var a accessv1.Account
		if !e.Deleted && proto.Unmarshal(e.Value, &a) == nil && a.GetCloseTime() != nil {
			closed(strings.TrimPrefix(e.Key, doorPrefix+accountKind))
		}
	}
	return nil
}

// Known implements projection.Handler: each comes again with a relist.
func (closings) Known() iter.Seq2[string, int64] { return func(func(string, int64) bool) {} }
