package accessaudit

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"time"

	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/vehicle"
)

// What one transaction of the chain takes: so many lines have two compares
// each, and a request to etcd is at most 1.5 MiB.
const (
	batchLines = 40
	batchBytes = 512 << 10
)

// Seal puts the oldest pending lines to the end of the chain in one
// transaction, and gives their number and whether there were more than it took.
// What it read decides what it writes: when anything of it changed meanwhile,
// it writes nothing and says so with an Aborted fault.
func (s *Store) Seal(ctx context.Context, now time.Time, fence kv.Fence) (sealed int, more bool, st State, err error) {
	if st, err = s.State(ctx, batchLines+1); err != nil || len(st.Pending) == 0 {
		return 0, false, st, err
	}
	b := batch{
		txn: kv.NewTxn().Fence(fence).Unchanged(headKey, st.headRevision), end: st.End,
		ranges: map[vehicle.Date]numbers{}, room: batchBytes,
	}
	taken := 0
	for _, p := range st.Pending[:min(len(st.Pending), batchLines)] {
		if !b.take(p, now) {
			break
		}
		taken++
	}
	if err := s.keep(ctx, b.txn, b.ranges); err != nil {
		return 0, false, st, err
	}
	b.txn.Put(headKey, accesswire.CheckpointProto(b.end))
	if _, err := s.kv.Commit(ctx, b.txn); err != nil {
		return 0, false, st, err
	}
	return taken, taken < len(st.Pending), st, nil
}

// batch is a transaction of the chain in the making.
type batch struct {
	txn    *kv.Txn
	end    audit.Checkpoint
	ranges map[vehicle.Date]numbers
	room   int
}

// take adds a pending line; false when there is no room for it any more.
func (b *batch) take(p Pending, now time.Time) bool {
	text := p.Text
	line, err := audit.Parse(text)
	if err != nil {
		// It must neither hold up the others nor vanish.
		line = unreadable(text, now)
		text = line.Text()
	}
	roots := line.Roots()
	// Beside the line itself, its days and the head come at the end.
	needed := 2 + len(roots) + len(b.ranges) + 1 + 1
	if b.txn.Len()+needed > kv.MaxOps || len(text) > b.room {
		return false
	}
	s, err := audit.Seal(b.end, text)
	if err != nil {
		return false // it was parsed above
	}
	b.txn.Unchanged(p.key, p.modRevision).Delete(p.key)
	b.txn.Absent(lineKey(s.Sequence)).Put(lineKey(s.Sequence), accesswire.SealedProto(s))
	for _, root := range roots {
		b.txn.PutBytes(objectKey(root, s.Sequence), []byte(line.Outcome.String()))
	}
	b.ranges[s.KeptUntil] = b.ranges[s.KeptUntil].with(s.Sequence)
	b.end = s.Checkpoint()
	b.room -= len(text)
	return true
}

// unreadable is the line for a pending record that is none.
func unreadable(text string, now time.Time) audit.Line {
	return audit.Line{
		Time: now, Actor: "halfshaft", Role: access.Service, Credential: "process", Outcome: audit.Failed,
		ErrorReason: "LINE_UNREADABLE", Because: text,
	}
}

// numbers is a run of line numbers; the zero value is none.
type numbers struct{ first, last int64 }

func (r numbers) with(n int64) numbers {
	if r.first == 0 {
		return numbers{n, n}
	}
	return numbers{min(r.first, n), max(r.last, n)}
}

func (r numbers) bytes() []byte { return fmt.Appendf(nil, "%d %d", r.first, r.last) }

func readNumbers(value []byte) (r numbers, err error) {
	if _, err = fmt.Sscanf(string(value), "%d %d", &r.first, &r.last); err != nil {
		err = &fault.Error{Kind: fault.Internal, Reason: "RECORD_DAMAGED", Message: "a day of the audit cannot be read", Cause: err}
	}
	return r, err
}

func keptKey(until vehicle.Date) string { return keptPrefix + until.String() }

// keep notes until when the lines of a batch are kept.
func (s *Store) keep(ctx context.Context, txn *kv.Txn, ranges map[vehicle.Date]numbers) error {
	for _, until := range slices.SortedFunc(maps.Keys(ranges), vehicle.Date.Compare) {
		r, key := ranges[until], keptKey(until)
		resp, err := s.kv.Client().Get(ctx, key)
		if err != nil {
			return kv.OutOfReach(err)
		}
		if len(resp.Kvs) == 0 {
			txn.Absent(key).PutBytes(key, r.bytes())
			continue
		}
		had, err := readNumbers(resp.Kvs[0].Value)
		if err != nil {
			return err
		}
		txn.Unchanged(key, resp.Kvs[0].ModRevision).PutBytes(key, had.with(r.first).with(r.last).bytes())
	}
	return nil
}
