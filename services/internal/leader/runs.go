package leader

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	clientv3 "go.etcd.io/etcd/client/v3"

	"halfshaft/services/internal/kv"
)

// LastRun is the newest launch of a job, as its ledger has it.
type LastRun struct {
	Job       string
	Scheduled time.Time // the time it was for
	Begun     time.Time // when it was first launched
	Finished  time.Time // when its pass was made; zero where it was not yet
	Tries     int
}

// LastRuns gives the newest launch of every job that was ever launched, by name.
func LastRuns(ctx context.Context, client *clientv3.Client) ([]LastRun, error) {
	prefix := kv.Prefix("launches")
	resp, err := client.Get(ctx, prefix, clientv3.WithPrefix(), clientv3.WithSort(clientv3.SortByKey, clientv3.SortAscend))
	if err != nil {
		return nil, fmt.Errorf("read the launches: %w", err)
	}
	newest := map[string]LastRun{}
	for _, e := range resp.Kvs {
		job, at, _ := strings.Cut(strings.TrimPrefix(string(e.Key), prefix), "/")
		scheduled, err := time.Parse(time.RFC3339, at)
		var r launch
		if err == nil {
			err = json.Unmarshal(e.Value, &r)
		}
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", e.Key, err)
		}
		newest[job] = LastRun{job, scheduled, r.Begun, r.Finished, r.Tries} // keys are in order of time
	}
	out := make([]LastRun, 0, len(newest))
	for _, r := range newest {
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b LastRun) int { return strings.Compare(a.Job, b.Job) })
	return out, nil
}
