package accessaudit

import (
	"context"
	"strings"
	"time"

	"go.etcd.io/etcd/api/v3/mvccpb"
	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/leader"
	"halfshaft/services/vehicle"
)

// RetentionJob is the job that removes texts whose time is over, once a night.
// clock says which day it is.
func (s *Store) RetentionJob(clock func() time.Time) leader.Job {
	return leader.Job{Name: "audit-retention", Spec: "37 2 * * *", Pass: func(ctx context.Context, _ time.Time, fence kv.Fence) error {
		_, err := s.Trim(ctx, vehicle.DateOf(clock().UTC()), fence)
		return err
	}}
}

// Trim removes the texts that were to be kept until before today, and gives
// their number. Numbers, hashes and digests stay, so that the chain can still
// be proved. What a crash leaves undone, the next call does.
func (s *Store) Trim(ctx context.Context, today vehicle.Date, fence kv.Fence) (int, error) {
	resp, err := s.kv.Client().Get(ctx, keptPrefix, clientv3.WithRange(keptKey(today)))
	if err != nil {
		return 0, kv.OutOfReach(err)
	}
	trimmed := 0
	for _, day := range resp.Kvs {
		n, err := s.trimDay(ctx, day, fence)
		trimmed += n
		if err != nil {
			return trimmed, err
		}
	}
	return trimmed, nil
}

// trimDay removes the texts that were kept until one day, and then the note of
// that day, unless more lines came to it meanwhile.
func (s *Store) trimDay(ctx context.Context, day *mvccpb.KeyValue, fence kv.Fence) (int, error) {
	until, err := vehicle.ParseDate(strings.TrimPrefix(string(day.Key), keptPrefix))
	if err != nil {
		return 0, err
	}
	r, err := readNumbers(day.Value)
	if err != nil {
		return 0, err
	}
	trimmed := 0
	txn := kv.NewTxn().Fence(fence)
	flush := func() error {
		if txn.Len() == 0 {
			return nil
		}
		_, err := s.kv.Commit(ctx, txn)
		txn = kv.NewTxn().Fence(fence)
		return err
	}
	for e, err := range s.after(ctx, 0, r.first-1) {
		if err != nil {
			return trimmed, err
		}
		if numberIn(e.Key) > r.last {
			break
		}
		line := sealed(e)
		if line.Text == "" || line.KeptUntil != until || line.Sequence != numberIn(e.Key) {
			continue
		}
		if txn.Len()+1+audit.MaxObjects > kv.MaxOps/2 {
			if err := flush(); err != nil {
				return trimmed, err
			}
		}
		dropText(txn, e, line)
		trimmed++
	}
	if err := flush(); err != nil {
		return trimmed, err
	}
	_, err = s.kv.Commit(ctx, kv.NewTxn().Fence(fence).Unchanged(string(day.Key), day.ModRevision).Delete(string(day.Key)))
	if kv.IsConflict(err) {
		return trimmed, nil // the next call removes what came
	}
	return trimmed, err
}

// dropText takes the text of a line away, and it out of the index.
func dropText(txn *kv.Txn, e *mvccpb.KeyValue, line audit.Sealed) {
	txn.Unchanged(string(e.Key), e.ModRevision).Put(string(e.Key), accesswire.SealedProto(line.WithoutText()))
	if l, err := audit.Parse(line.Text); err == nil {
		for _, root := range l.Roots() {
			txn.Delete(objectKey(root, line.Sequence))
		}
	}
}
