package kv

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	"halfshaft/services/fault"
)

// once is the memory of one answered request.
type once struct {
	key         string
	fingerprint [sha256.Size]byte

	record []byte // to be stored; nil where it is only looked for
	op     int    // where in the transaction it is put
	bound  bool   // to its asker
}

type askerKey struct{}

// WithAsker gives a context whose requests are one asker's: what was answered to
// them is answered again to nobody else, not to somebody either who learnt the
// request id and sends the same. Without an asker, whoever asks is answered.
func WithAsker(ctx context.Context, who string) context.Context {
	return context.WithValue(ctx, askerKey{}, who)
}

// AskerFrom gives whose requests those of a context are; "" for no one's in
// particular.
func AskerFrom(ctx context.Context) string {
	who, _ := ctx.Value(askerKey{}).(string)
	return who
}

// asked gives a fingerprint as it is for the asker of the context.
func asked(ctx context.Context, sum [sha256.Size]byte) [sha256.Size]byte {
	who := AskerFrom(ctx)
	if who == "" {
		return sum
	}
	return sha256.Sum256(append(sum[:], who...))
}

// askedBy makes the memory of the transaction's request one of the asker's.
func (t *Txn) askedBy(ctx context.Context) {
	if t.once == nil || t.once.bound || AskerFrom(ctx) == "" {
		return
	}
	t.once.bound = true
	t.once.fingerprint = asked(ctx, t.once.fingerprint)
	copy(t.once.record[9:], t.once.fingerprint[:])
	t.ops[t.once.op] = clientv3.OpPut(t.once.key, string(t.once.record))
}

// A request record is fixed: one byte of version, eight of the Unix second
// (big-endian), the fingerprint, and the answer as it was marshalled.
const (
	recordVersion = 1
	recordHead    = 1 + 8 + sha256.Size
)

func requestsPrefix(service string) string { return Prefix("requests") + service + "/" }

// Once makes the transaction happen at most once for this request id: a
// fingerprint of the payload and the answer are stored in the same
// transaction. An empty request id asks for nothing.
//
// The answer cannot hold what only the commit decides (an etag, a revision):
// leave it empty and set it from Result.Revision, which is the same for the
// first answer and for its replays. Personal data in it must be sealed, like
// in any record. The payload is the request without its credentials.
func (t *Txn) Once(service, requestID string, payload proto.Message, answer proto.Message) *Txn {
	if requestID == "" {
		return t
	}
	if t.once != nil {
		return t.fail("REQUEST_ID_TWICE", "a transaction with two request ids")
	}
	if !validRequestID(requestID) {
		return t.fail("REQUEST_ID_MALFORMED", "a request id that nobody validated")
	}
	sum, err := fingerprint(payload)
	if err != nil {
		return t.fail("UNMARSHALLABLE", "the payload cannot be encoded: %v", err)
	}
	record := make([]byte, recordHead, recordHead+256)
	record[0] = recordVersion
	binary.BigEndian.PutUint64(record[1:], uint64(time.Now().Unix()))
	copy(record[9:], sum[:])
	if answer != nil {
		if record, err = deterministic.MarshalAppend(record, answer); err != nil {
			return t.fail("UNMARSHALLABLE", "the answer cannot be encoded: %v", err)
		}
	}
	key := requestsPrefix(service) + requestID
	t.once = &once{key: key, fingerprint: sum, record: record, op: len(t.ops)}
	return t.PutBytes(key, record)
}

// validRequestID is no more than what keeps a key in its place; that the id
// is a UUID is checked at the edge, where the field has a name.
func validRequestID(id string) bool {
	return len(id) <= 64 && !strings.ContainsFunc(id, func(r rune) bool { return r <= ' ' || r == '/' || r > '~' })
}

// fingerprint hashes the type and the content of a request. A message of nil
// is a request without content.
func fingerprint(m proto.Message) (sum [sha256.Size]byte, err error) {
	h := sha256.New()
	if m != nil {
		b, err := deterministic.Marshal(m)
		if err != nil {
			return sum, err
		}
		fmt.Fprintf(h, "%s\n", m.ProtoReflect().Descriptor().FullName())
		h.Write(b)
	}
	return [sha256.Size]byte(h.Sum(nil)), nil
}

// replay reads a stored record against the fingerprint of the request at hand.
func (o *once) replay(value []byte, modRev int64) (Result, error) {
	if len(value) < recordHead || value[0] != recordVersion {
		return Result{}, fault.New(fault.Internal, "REQUEST_RECORD_DAMAGED", "a request record cannot be read")
	}
	if [sha256.Size]byte(value[9:recordHead]) != o.fingerprint {
		return Result{}, &fault.Error{
			Kind: fault.Invalid, Reason: "REQUEST_ID_REUSED",
			Message: "this request id was used before for another request",
			Fields: []fault.Field{{
				Name: "request_id", Got: o.key[strings.LastIndexByte(o.key, '/')+1:],
				Want: "a fresh UUID for each new request",
			}},
		}
	}
	return Result{Revision: modRev, Replayed: true, Answer: value[recordHead:]}, nil
}

// Replay asks, before doing any work, whether the request id was answered
// already. Another payload under the same id is refused with
// REQUEST_ID_REUSED. A false found promises nothing: Once decides.
func (s *Store) Replay(ctx context.Context, service, requestID string, payload proto.Message) (answer []byte, found bool, err error) {
	r, found, err := s.Lookup(ctx, service, requestID, payload)
	return r.Answer, found, err
}

// Lookup is Replay with the revision of the first commit, for answers that
// carry an etag.
func (s *Store) Lookup(ctx context.Context, service, requestID string, payload proto.Message) (Result, bool, error) {
	if requestID == "" {
		return Result{}, false, nil
	}
	if !validRequestID(requestID) {
		return Result{}, false, fault.InvalidField("request_id", requestID, "a UUID")
	}
	sum, err := fingerprint(payload)
	if err != nil {
		return Result{}, false, fmt.Errorf("encode the payload: %w", err)
	}
	o := &once{key: requestsPrefix(service) + requestID, fingerprint: asked(ctx, sum)}
	resp, err := s.client.Get(ctx, o.key)
	if err != nil {
		return Result{}, false, OutOfReach(err)
	}
	if len(resp.Kvs) == 0 {
		return Result{}, false, nil
	}
	r, err := o.replay(resp.Kvs[0].Value, resp.Kvs[0].ModRevision)
	return r, err == nil, err
}

// Peek gives the answer of a request id whatever its payload was: for a service
// whose fingerprints are keyed by what only the answer tells. Ask Lookup before
// giving it to anybody.
func (s *Store) Peek(ctx context.Context, service, requestID string) (Result, bool, error) {
	if requestID == "" {
		return Result{}, false, nil
	}
	if !validRequestID(requestID) {
		return Result{}, false, fault.InvalidField("request_id", requestID, "a UUID")
	}
	resp, err := s.client.Get(ctx, requestsPrefix(service)+requestID)
	if err != nil {
		return Result{}, false, OutOfReach(err)
	}
	if len(resp.Kvs) == 0 {
		return Result{}, false, nil
	}
	if e := resp.Kvs[0]; len(e.Value) >= recordHead && e.Value[0] == recordVersion {
		return Result{Revision: e.ModRevision, Replayed: true, Answer: e.Value[recordHead:]}, true, nil
	}
	return Result{}, false, fault.New(fault.Internal, "REQUEST_RECORD_DAMAGED", "a request record cannot be read")
}

// TrimRequests forgets the request ids of a service that were answered before
// a moment, and gives their number. After that a late retry would act again:
// keep them for longer than any client retries, a week or more.
func (s *Store) TrimRequests(ctx context.Context, service string, before time.Time) (int, error) {
	var stale []string
	_, err := Scan(ctx, s.client, requestsPrefix(service), func(e Entry) error {
		if len(e.Value) >= recordHead && int64(binary.BigEndian.Uint64(e.Value[1:9])) < before.Unix() {
			stale = append(stale, e.Key)
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	return len(stale), s.DeleteAll(ctx, stale)
}

// DeleteAll removes keys, however many, in transactions of MaxOps. It is for
// housekeeping where a half-done deletion does no harm.
func (s *Store) DeleteAll(ctx context.Context, keys []string) error {
	for len(keys) > 0 {
		n := min(len(keys), MaxOps)
		ops := make([]clientv3.Op, n)
		for i, k := range keys[:n] {
			ops[i] = clientv3.OpDelete(k)
		}
		if _, err := s.client.Txn(ctx).Then(ops...).Commit(); err != nil {
			return OutOfReach(err)
		}
		keys = keys[n:]
	}
	return nil
}
