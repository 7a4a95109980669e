package kv

import (
	"context"
	"errors"
	"slices"
	"time"

	"go.etcd.io/etcd/api/v3/etcdserverpb"
	"go.etcd.io/etcd/api/v3/mvccpb"
	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	"halfshaft/services/fault"
)

// ErrNotLeader says that the writer's election is lost: it must stop, not
// retry. errors.Is finds it in what Commit returns.
var ErrNotLeader = errors.New("the election is lost")

// Store commits transactions. It is safe for concurrent use.
type Store struct{ client *clientv3.Client }

// NewStore makes a store over a client, which stays the caller's to close.
func NewStore(c *clientv3.Client) *Store { return &Store{c} }

// Client gives the client underneath, for reads and watches.
func (s *Store) Client() *clientv3.Client { return s.client }

// Result is a commit's answer.
type Result struct {
	Revision int64  // the revision the effect was made at, also for a replay
	Replayed bool   // the request id was answered before; nothing was written now
	Answer   []byte // when Replayed: the answer stored then
}

// Read reads the answer that was stored when the request was first made.
func (r Result) Read(answer proto.Message) error {
	if err := proto.Unmarshal(r.Answer, answer); err != nil {
		return &fault.Error{Kind: fault.Internal, Reason: "RECORD_DAMAGED", Message: "an answer cannot be read", Cause: err}
	}
	return nil
}

// Commit runs the transaction once; it never retries, because a retry that
// does not read again loses updates. Its errors:
//
//   - Invalid REQUEST_ID_REUSED: the request id belongs to another payload
//   - ErrNotLeader (errors.Is), Aborted NOT_LEADER: the fence failed
//   - AlreadyExists ALREADY_EXISTS: an Absent failed
//   - Aborted CONFLICT: an Unchanged failed; read again and decide again
//   - Unavailable OUTCOME_UNKNOWN: it may have happened or not; asking again
//     with the same request id is safe
//   - Exhausted STORE_FULL: nothing was written; the operators must act
//   - Internal: a defect of the caller
//
// Under a context with a witness (WithWitness) that is not written yet, the
// transaction writes it too.
func (s *Store) Commit(ctx context.Context, t *Txn) (result Result, err error) {
	if err := t.ready(); err != nil {
		return Result{}, err
	}
	witness, leave, err := attend(ctx)
	if err != nil {
		return Result{}, err
	}
	defer func() { leave(result, err) }()
	t.askedBy(ctx)
	ops := t.ops
	if witness != nil {
		ops = append(slices.Clip(ops), clientv3.OpPut(witness.key, witness.value))
	}
	checks := t.checks
	if t.once != nil {
		checks = append([]check{{absent, t.once.key, 0}}, checks...)
	}
	cmps := make([]clientv3.Cmp, len(checks))
	asks := make([]clientv3.Op, len(checks))
	for i, c := range checks {
		cmps[i] = c.compare()
		if t.once != nil && i == 0 {
			asks[i] = clientv3.OpGet(c.key)
		} else {
			asks[i] = clientv3.OpGet(c.key, clientv3.WithKeysOnly())
		}
	}
	resp, err := s.client.Txn(ctx).If(cmps...).Then(ops...).Else(asks...).Commit()
	if err != nil {
		return Result{}, unknownOutcome(err)
	}
	if resp.Succeeded {
		return Result{Revision: resp.Header.Revision}, nil
	}
	return t.refused(checks, resp.Responses)
}

// refused finds which compare failed. The request id goes first: a repeated
// request must get its answer whatever has changed since.
func (t *Txn) refused(checks []check, found []*etcdserverpb.ResponseOp) (Result, error) {
	var first, fence *check
	for i := range checks {
		var e mvccpb.KeyValue
		if kvs := found[i].GetResponseRange().Kvs; len(kvs) > 0 {
			e = mvccpb.KeyValue{CreateRevision: kvs[0].CreateRevision, ModRevision: kvs[0].ModRevision, Value: kvs[0].Value}
		}
		c := &checks[i]
		if c.holds(e.CreateRevision, e.ModRevision) {
			continue
		}
		if t.once != nil && i == 0 {
			return t.once.replay(e.Value, e.ModRevision)
		}
		if c.kind == fenced {
			fence = c
		} else if first == nil {
			first = c
		}
	}
	switch {
	case fence != nil:
		f := fault.New(fault.Aborted, "NOT_LEADER", "this process no longer leads the job")
		f.Cause = ErrNotLeader
		return Result{}, f
	case first == nil:
		return Result{}, fault.New(fault.Internal, "COMPARE_UNEXPLAINED", "a transaction was refused and every compare holds")
	case first.kind == absent:
		return Result{}, about(fault.AlreadyExists, "ALREADY_EXISTS", "a %s record of this name is there already", first.key)
	}
	return Result{}, about(fault.Aborted, "CONFLICT", "the %s record changed since it was read; read it again", first.key)
}

func (c *check) holds(create, mod int64) bool {
	if c.kind == unchanged {
		return mod == c.want
	}
	return create == c.want
}

// about makes a refusal that names the kind of record and nothing more of
// the key.
func about(kind fault.Kind, reason, format, key string) *fault.Error {
	record := kindOf(key)
	f := fault.New(kind, reason, format, record)
	f.Meta = map[string]string{"record": record}
	return f
}

// retryAfter is the advice given when the store is out of reach: about the
// time a cluster takes to elect a leader.
const retryAfter = 2 * time.Second

// unknownOutcome explains a transaction that got no answer. Only etcd's own
// refusals before the log are certain to have written nothing.
func unknownOutcome(err error) error {
	switch {
	case isEtcd(err, rpctypes.ErrNoSpace):
		return &fault.Error{Kind: fault.Exhausted, Reason: "STORE_FULL", Message: "the store is full; nothing was written", Cause: err}
	case isEtcd(err, rpctypes.ErrRequestTooLarge), isEtcd(err, rpctypes.ErrTooManyOps), isEtcd(err, rpctypes.ErrDuplicateKey):
		return &fault.Error{Kind: fault.Internal, Reason: "TRANSACTION_TOO_LARGE", Message: "the store refused the transaction's form", Cause: err}
	}
	return &fault.Error{
		Kind: fault.Unavailable, Reason: reasonUnknown, RetryAfter: retryAfter, Cause: err,
		Message: "the store gave no answer; the change may have been made or not",
	}
}

// reasonUnknown is the reason of a commit that got no answer.
const reasonUnknown = "OUTCOME_UNKNOWN"

// isUnknown reports whether the commit that gave the error may have happened.
func isUnknown(err error) bool {
	var f *fault.Error
	return errors.As(err, &f) && f.Reason == reasonUnknown
}

// notSent explains a transaction that was given up before it was sent.
func notSent(err error) error {
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "NOT_SENT", RetryAfter: retryAfter, Cause: err,
		Message: "the change was given up before it reached the store; nothing was written",
	}
}

// OutOfReach explains a read that failed, also one through the client
// underneath.
func OutOfReach(err error) error {
	return &fault.Error{
		Kind: fault.Unavailable, Reason: "STORE_OUT_OF_REACH", RetryAfter: retryAfter, Cause: err,
		Message: "the store gave no answer",
	}
}

// isEtcd compares by message, since etcd gives one error in three types
// depending on the way it came.
func isEtcd(err error, want error) bool {
	return err.Error() == want.Error() || rpctypes.Error(err).Error() == want.Error()
}

// Get reads one record into m. found is false, with no error, when there is
// none.
func (s *Store) Get(ctx context.Context, key string, m proto.Message) (modRev int64, found bool, err error) {
	resp, err := s.client.Get(ctx, key)
	if err != nil {
		return 0, false, OutOfReach(err)
	}
	if len(resp.Kvs) == 0 {
		return 0, false, nil
	}
	if err := proto.Unmarshal(resp.Kvs[0].Value, m); err != nil {
		return 0, false, &fault.Error{
			Kind: fault.Internal, Reason: "RECORD_DAMAGED", Cause: err,
			Message: "a " + kindOf(key) + " record cannot be read",
		}
	}
	return resp.Kvs[0].ModRevision, true, nil
}

// There tells of each of these keys, however many, whether it has a record. It
// asks for MaxOps at a time, each at a revision of its own.
func (s *Store) There(ctx context.Context, keys []string) ([]bool, error) {
	var there []bool
	for some := range slices.Chunk(keys, MaxOps) {
		ops := make([]clientv3.Op, len(some))
		for i, key := range some {
			ops[i] = clientv3.OpGet(key, clientv3.WithCountOnly())
		}
		resp, err := s.client.Txn(ctx).Then(ops...).Commit()
		if err != nil {
			return nil, OutOfReach(err)
		}
		for _, r := range resp.Responses {
			there = append(there, r.GetResponseRange().Count > 0)
		}
	}
	return there, nil
}
