package leader

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/internal/kv"
)

// keptLaunches is how many records of a job are kept for the operators.
const keptLaunches = 100

// launches is the ledger in etcd. Its keys, in order of time:
//
//	/halfshaft/v1/launches/<job>/2030-06-01T06:00:00Z
type launches struct{ store *kv.Store }

// launch is one record, as JSON.
type launch struct {
	Begun    time.Time `json:"begun"`             // when it was first launched
	Tries    int       `json:"tries"`             // launches of this scheduled time, failures included
	Finished time.Time `json:"finished,omitzero"` // when its pass was made
}

func launchPrefix(job string) string { return kv.Prefix("launches") + job + "/" }

func launchKey(job string, scheduled time.Time) string {
	return launchPrefix(job) + scheduled.UTC().Format(time.RFC3339)
}

func (l *launches) last(ctx context.Context, job string) (time.Time, error) {
	resp, err := l.store.Client().Get(ctx, launchPrefix(job), clientv3.WithPrefix(),
		clientv3.WithSort(clientv3.SortByKey, clientv3.SortDescend))
	if err != nil {
		return time.Time{}, err
	}
	for _, e := range resp.Kvs {
		var r launch
		if err := json.Unmarshal(e.Value, &r); err != nil {
			return time.Time{}, fmt.Errorf("read %s: %w", e.Key, err)
		}
		if !r.Finished.IsZero() {
			return time.Parse(time.RFC3339, string(e.Key[len(launchPrefix(job)):]))
		}
	}
	return time.Time{}, nil
}

func (l *launches) begin(ctx context.Context, job string, scheduled, now time.Time, fence kv.Fence) error {
	return l.update(ctx, job, scheduled, fence, func(r *launch) {
		if r.Tries == 0 {
			r.Begun = now.UTC()
		}
		r.Tries++
	})
}

func (l *launches) finish(ctx context.Context, job string, scheduled, now time.Time, fence kv.Fence) error {
	if err := l.update(ctx, job, scheduled, fence, func(r *launch) { r.Finished = now.UTC() }); err != nil {
		return err
	}
	return l.trim(ctx, job, fence)
}

func (l *launches) update(ctx context.Context, job string, scheduled time.Time, fence kv.Fence, change func(*launch)) error {
	key := launchKey(job, scheduled)
	resp, err := l.store.Client().Get(ctx, key)
	if err != nil {
		return err
	}
	var r launch
	var rev int64
	if len(resp.Kvs) > 0 {
		rev = resp.Kvs[0].ModRevision
		if err := json.Unmarshal(resp.Kvs[0].Value, &r); err != nil {
			return fmt.Errorf("read %s: %w", key, err)
		}
	}
	change(&r)
	b, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("encode a launch: %w", err)
	}
	_, err = l.store.Commit(ctx, kv.NewTxn().Fence(fence).Unchanged(key, rev).PutBytes(key, b))
	return err
}

// trim drops the oldest records beyond those kept.
func (l *launches) trim(ctx context.Context, job string, fence kv.Fence) error {
	resp, err := l.store.Client().Get(ctx, launchPrefix(job), clientv3.WithPrefix(), clientv3.WithKeysOnly(),
		clientv3.WithSort(clientv3.SortByKey, clientv3.SortAscend))
	if err != nil {
		return err
	}
	surplus := len(resp.Kvs) - keptLaunches
	if surplus <= 0 {
		return nil
	}
	t := kv.NewTxn().Fence(fence)
	for _, e := range resp.Kvs[:min(surplus, kv.MaxOps)] {
		t.Delete(string(e.Key))
	}
	_, err = l.store.Commit(ctx, t)
	return err
}
