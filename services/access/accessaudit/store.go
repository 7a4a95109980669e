// Package accessaudit keeps the audit: it takes lines in, puts them into the
// chain, reads them, and removes the texts whose time is over.
//
// Keys in etcd. Every process writes below pending; the rest is written by the
// one that leads the chain:
//
//	/halfshaft/v1/audit/pending/<uuid>               text of a line that has no place in the chain yet
//	/halfshaft/v1/audit/head                         halfshaft.access.v1.AuditCheckpoint: where the chain has come to
//	/halfshaft/v1/audit/lines/<number>               halfshaft.access.v1.AuditLine: number, hash, text, its digest, its day
//	/halfshaft/v1/audit/objects/<root>/<number>      name of the outcome: the lines about an object, while they have their text
//	/halfshaft/v1/audit/kept/<day>                   "<first> <last>": among these numbers are all lines with a text that is kept until this day
//
// A number has 16 digits, so that keys are in the order of the chain. A root is
// "vehicles/AM0147P" or "people/p0031": see audit.Root.
package accessaudit

import (
	"context"
	"fmt"
	"iter"
	"slices"
	"strconv"
	"strings"

	"go.etcd.io/etcd/api/v3/mvccpb"
	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
)

// Service is the name under which the audit stands.
const Service = "audit"

var (
	pendingPrefix = kv.Prefix(Service) + "pending/"
	headKey       = kv.Prefix(Service) + "head"
	linesPrefix   = kv.Prefix(Service) + "lines/"
	objectsPrefix = kv.Prefix(Service) + "objects/"
	keptPrefix    = kv.Prefix(Service) + "kept/"
)

func number(n int64) string { return fmt.Sprintf("%016d", n) }

func lineKey(n int64) string { return linesPrefix + number(n) }

func objectKey(root string, n int64) string { return objectsPrefix + root + "/" + number(n) }

// numberIn reads the number at the end of a key; 0 for a key that has none.
func numberIn(key []byte) int64 {
	text := string(key)
	n, err := strconv.ParseInt(text[strings.LastIndexByte(text, '/')+1:], 10, 64)
	if err != nil {
		return 0
	}
	return n
}

// Store reads and writes the audit. It is safe for concurrent use.
type Store struct{ kv *kv.Store }

// NewStore makes a store.
func NewStore(store *kv.Store) *Store { return &Store{store} }

// Pending is a line without a place in the chain.
type Pending struct {
	Text        string
	key         string
	modRevision int64
}

// State is where the audit stands at one revision of the store.
type State struct {
	Revision int64
	End      audit.Checkpoint
	Pending  []Pending // in the order in which they will be put into the chain

	headRevision int64
}

// State reads the end of the chain and what is to follow it; at most so many
// pending lines, the oldest first; 0 means all.
func (s *Store) State(ctx context.Context, most int) (State, error) {
	resp, err := s.kv.Client().Txn(ctx).Then(
		clientv3.OpGet(headKey),
		clientv3.OpGet(pendingPrefix, clientv3.WithPrefix(), clientv3.WithLimit(int64(most)),
			clientv3.WithSort(clientv3.SortByModRevision, clientv3.SortAscend)),
	).Commit()
	if err != nil {
		return State{}, kv.OutOfReach(err)
	}
	st := State{Revision: resp.Header.Revision}
	if kvs := resp.Responses[0].GetResponseRange().Kvs; len(kvs) > 0 {
		if st.End, err = readHead(kvs[0].Value); err != nil {
			return State{}, err
		}
		st.headRevision = kvs[0].ModRevision
	}
	for _, e := range resp.Responses[1].GetResponseRange().Kvs {
		st.Pending = append(st.Pending, Pending{string(e.Value), string(e.Key), e.ModRevision})
	}
	return st, nil
}

func readHead(value []byte) (audit.Checkpoint, error) {
	var p accessv1.AuditCheckpoint
	err := proto.Unmarshal(value, &p)
	if err == nil {
		var c audit.Checkpoint
		if c, err = accesswire.Checkpoint("head", &p); err == nil {
			return c, nil
		}
	}
	return audit.Checkpoint{}, &fault.Error{
		Kind: fault.Internal, Reason: "RECORD_DAMAGED", Message: "the end of the audit's chain cannot be read", Cause: err,
	}
}

// Waiting counts the pending lines at a revision.
func (s *Store) Waiting(ctx context.Context, revision int64) (int64, error) {
	resp, err := s.kv.Client().Get(ctx, pendingPrefix, clientv3.WithPrefix(), clientv3.WithCountOnly(), clientv3.WithRev(revision))
	if err != nil {
		return 0, kv.OutOfReach(err)
	}
	return resp.Count, nil
}

// pageLines is how many lines are read at first: some 100 KB. Whoever goes on
// gets them in larger pages, as by kv.Scan.
const pageLines = 250

// Span is a way through the chain as it stood at a revision of the store, 0 for
// now: the lines after a number in their order, or those before it the latest
// first.
type Span struct {
	Revision, From int64
	Latest         bool
}

// Lines gives the lines of a span. It ends with an error where the store cannot
// be read.
func (s *Store) Lines(ctx context.Context, sp Span) iter.Seq2[audit.Sealed, error] {
	records := s.after
	if sp.Latest {
		records = s.before
	}
	return func(yield func(audit.Sealed, error) bool) {
		for e, err := range records(ctx, sp.Revision, sp.From) {
			if err != nil {
				yield(audit.Sealed{}, err)
				return
			}
			if !yield(sealed(e), nil) {
				return
			}
		}
	}
}

// after gives the lines after a number as they are stored.
func (s *Store) after(ctx context.Context, revision, number int64) iter.Seq2[*mvccpb.KeyValue, error] {
	return func(yield func(*mvccpb.KeyValue, error) bool) {
		from, end := lineKey(number+1), clientv3.GetPrefixRangeEnd(linesPrefix)
		for limit := pageLines; ; {
			resp, err := s.kv.Client().Get(ctx, from, clientv3.WithRange(end), clientv3.WithLimit(int64(limit)), clientv3.WithRev(revision),
				clientv3.WithSort(clientv3.SortByKey, clientv3.SortAscend))
			if err != nil {
				yield(nil, kv.OutOfReach(err))
				return
			}
			size := 0
			for _, e := range resp.Kvs {
				if !yield(e, nil) {
					return
				}
				size += len(e.Key) + len(e.Value)
				from = string(e.Key) + "\x00"
			}
			if !resp.More {
				return
			}
			limit = kv.NextPage(limit, size)
		}
	}
}

// before gives the lines before a number, the latest first, as they are stored.
// The numbers have no gaps, so it asks by number: to give the last few keys of
// many, etcd would read them all.
func (s *Store) before(ctx context.Context, revision, number int64) iter.Seq2[*mvccpb.KeyValue, error] {
	return func(yield func(*mvccpb.KeyValue, error) bool) {
		for end := number; end > 1; {
			from := max(end-pageLines, 1)
			resp, err := s.kv.Client().Get(ctx, lineKey(from), clientv3.WithRange(lineKey(end)), clientv3.WithRev(revision))
			if err != nil {
				yield(nil, kv.OutOfReach(err))
				return
			}
			for _, e := range slices.Backward(resp.Kvs) {
				if !yield(e, nil) {
					return
				}
			}
			end = from
		}
	}
}

// sealed reads a line. Of one that cannot be read, the number in its key is all
// there is to say; the proof finds the rest missing.
func sealed(e *mvccpb.KeyValue) audit.Sealed {
	var p accessv1.AuditLine
	if err := proto.Unmarshal(e.Value, &p); err == nil {
		if line, err := accesswire.Sealed(&p); err == nil {
			return line
		}
	}
	return audit.Sealed{Sequence: numberIn(e.Key)}
}

// Get gives the lines of these numbers as they stood at a revision, those that
// are there, in the order asked. It ends with an error where the store cannot be
// read.
func (s *Store) Get(ctx context.Context, revision int64, numbers []int64) iter.Seq2[audit.Sealed, error] {
	return func(yield func(audit.Sealed, error) bool) {
		for some := range slices.Chunk(numbers, kv.MaxOps) {
			ops := make([]clientv3.Op, len(some))
			for i, number := range some {
				ops[i] = clientv3.OpGet(lineKey(number), clientv3.WithRev(revision))
			}
			resp, err := s.kv.Client().Txn(ctx).Then(ops...).Commit()
			if err != nil {
				yield(audit.Sealed{}, kv.OutOfReach(err))
				return
			}
			for _, r := range resp.Responses {
				if kvs := r.GetResponseRange().Kvs; len(kvs) > 0 && !yield(sealed(kvs[0]), nil) {
					return
				}
			}
		}
	}
}

// Indexed is a line as the index of an object has it.
type Indexed struct {
	Number  int64
	Outcome string
}

// About gives the first lines of a span that are about an object or what shares
// its root, as the index has them.
func (s *Store) About(ctx context.Context, sp Span, object string, most int) ([]Indexed, error) {
	prefix := objectsPrefix + audit.Root(object) + "/"
	low, high, order := prefix+number(sp.From+1), clientv3.GetPrefixRangeEnd(prefix), clientv3.SortAscend
	if sp.Latest {
		low, high, order = prefix, prefix+number(sp.From), clientv3.SortDescend
	}
	resp, err := s.kv.Client().Get(ctx, low, clientv3.WithRange(high), clientv3.WithLimit(int64(most)), clientv3.WithRev(sp.Revision),
		clientv3.WithSort(clientv3.SortByKey, order))
	if err != nil {
		return nil, kv.OutOfReach(err)
	}
	out := make([]Indexed, len(resp.Kvs))
	for i, e := range resp.Kvs {
		out[i] = Indexed{numberIn(e.Key), string(e.Value)}
	}
	return out, nil
}
