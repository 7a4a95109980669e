// Package kv writes to etcd the way every service here does: one transaction
// per effect, guarded by compares, answered once per request id, and fenced
// when a job writes it.
//
// Keys are /halfshaft/v1/<service>/<kind>/…; request ids stand apart under
// /halfshaft/v1/requests/<service>/, so that following a service's own prefix
// does not read them.
package kv

import (
	"strings"

	clientv3 "go.etcd.io/etcd/client/v3"
	"google.golang.org/protobuf/proto"

	"halfshaft/services/fault"
)

const root = "/halfshaft/v1/"

// MaxOps is the most operations one transaction may hold, the request id's
// record among them: one fewer than etcd's default limit
// (embed.DefaultMaxTxnOps), which leaves room for a witness.
const MaxOps = 127

// MaxValueBytes is the largest value a key may have. Longer things are files
// or several keys.
const MaxValueBytes = 256 << 10

// Prefix gives where the keys of a service stand, "/halfshaft/v1/build/".
func Prefix(service string) string { return root + service + "/" }

// Fence is the proof of an election won: the key the winner holds, and the
// revision that made it. Another winner's key has another revision.
type Fence struct {
	Key            string
	CreateRevision int64
}

// check is one compare, with what is needed to say why it failed.
type check struct {
	kind checkKind
	key  string
	want int64
}

type checkKind int

const (
	absent checkKind = iota
	unchanged
	fenced
)

func (c check) compare() clientv3.Cmp {
	switch c.kind {
	case unchanged:
		return clientv3.Compare(clientv3.ModRevision(c.key), "=", c.want)
	case fenced:
		return clientv3.Compare(clientv3.CreateRevision(c.key), "=", c.want)
	}
	return clientv3.Compare(clientv3.CreateRevision(c.key), "=", 0)
}

// Txn collects the parts of one transaction. Its methods give back the Txn
// itself, so that it reads as one sentence; a wrong part is reported by
// Store.Commit. A Txn is used once and by one goroutine.
type Txn struct {
	checks []check
	ops    []clientv3.Op
	keys   map[string]bool // written so far; etcd refuses a key twice
	once   *once
	err    error // the first thing wrong
}

// NewTxn begins an empty transaction.
func NewTxn() *Txn { return &Txn{keys: map[string]bool{}} }

// Absent lets the transaction through only if there is no such key.
func (t *Txn) Absent(key string) *Txn { return t.check(check{absent, key, 0}) }

// Unchanged lets the transaction through only if the key was last written at
// modRev. Zero means that the key must not exist, as for a record read as
// missing, and its failure is a conflict, not AlreadyExists.
func (t *Txn) Unchanged(key string, modRev int64) *Txn {
	return t.check(check{unchanged, key, modRev})
}

// Fence lets the transaction through only while the election is still won.
// Every write of a job carries it: a leader that slept through the end of its
// session wakes up believing.
func (t *Txn) Fence(f Fence) *Txn {
	if f.Key == "" || f.CreateRevision <= 0 {
		// A zero fence would compare equal to a missing key and fence nothing.
		return t.fail("FENCE_EMPTY", "a fence without an election key")
	}
	return t.check(check{fenced, f.Key, f.CreateRevision})
}

func (t *Txn) check(c check) *Txn {
	t.checks = append(t.checks, c)
	return t
}

// Put writes a message. Equal messages give equal bytes within one build of
// the program.
func (t *Txn) Put(key string, m proto.Message) *Txn {
	b, err := deterministic.Marshal(m)
	if err != nil {
		t.fail("UNMARSHALLABLE", "the %s record cannot be encoded: %v", kindOf(key), err)
		return t
	}
	return t.PutBytes(key, b)
}

// PutBytes writes a value as it is.
func (t *Txn) PutBytes(key string, b []byte) *Txn {
	if len(b) > MaxValueBytes {
		return t.fail("VALUE_TOO_LARGE", "the %s record has %d bytes, at most %d fit", kindOf(key), len(b), MaxValueBytes)
	}
	return t.op(key, clientv3.OpPut(key, string(b)))
}

// Delete removes a key; one that is not there is no error.
func (t *Txn) Delete(key string) *Txn { return t.op(key, clientv3.OpDelete(key)) }

// Len gives the number of operations so far, to keep below MaxOps.
func (t *Txn) Len() int { return len(t.ops) }

func (t *Txn) op(key string, op clientv3.Op) *Txn {
	if t.keys[key] {
		return t.fail("KEY_TWICE", "one transaction writes a %s record twice", kindOf(key))
	}
	t.keys[key] = true
	t.ops = append(t.ops, op)
	return t
}

func (t *Txn) fail(reason, format string, args ...any) *Txn {
	if t.err == nil {
		t.err = fault.New(fault.Internal, reason, format, args...)
	}
	return t
}

// ready reports what is wrong with the transaction as a whole.
func (t *Txn) ready() error {
	switch {
	case t.err != nil:
	case len(t.ops) == 0:
		t.fail("TRANSACTION_EMPTY", "a transaction that writes nothing")
	case len(t.ops) > MaxOps || len(t.checks) > MaxOps:
		t.fail("TRANSACTION_TOO_LARGE", "a transaction of %d operations and %d compares, at most %d fit",
			len(t.ops), len(t.checks), MaxOps)
	}
	return t.err
}

// deterministic makes equal messages equal bytes, which fingerprints need.
var deterministic = proto.MarshalOptions{Deterministic: true}

// kindOf names the kind of record a key holds, for messages: the segment
// after the service. Serials and other identifiers come later in the key and
// are never named.
func kindOf(key string) string {
	parts := strings.Split(strings.TrimPrefix(key, root), "/")
	if len(parts) < 2 {
		return "unknown"
	}
	return parts[0] + "/" + parts[1]
}
