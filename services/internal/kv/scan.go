package kv

import (
	"context"
	"errors"

	"go.etcd.io/etcd/api/v3/v3rpc/rpctypes"
	clientv3 "go.etcd.io/etcd/client/v3"
)

// Entry is one key as it stood at the revision of a scan.
type Entry struct {
	Key            string
	Value          []byte
	ModRevision    int64
	CreateRevision int64
}

// pageKeys bounds a page's memory: at 256 KiB a value, 64 MiB; in practice
// well under one.
const pageKeys = 256

// ErrCompacted says that the revision of a scan was compacted away under it:
// begin again.
var ErrCompacted = errors.New("the revision of the scan was compacted")

// Scan calls each for every key under the prefix, in order of keys, all as
// they stood at one revision, which it returns. An error of each ends it.
func Scan(ctx context.Context, c *clientv3.Client, prefix string, each func(Entry) error) (int64, error) {
	return ScanAt(ctx, c, prefix, func(int64) {}, each)
}

// ScanAt is Scan that tells the revision before the first key.
func ScanAt(ctx context.Context, c *clientv3.Client, prefix string, at func(revision int64), each func(Entry) error) (int64, error) {
	end, from, rev := clientv3.GetPrefixRangeEnd(prefix), prefix, int64(0)
	for {
		resp, err := c.Get(ctx, from, clientv3.WithRange(end), clientv3.WithLimit(pageKeys),
			clientv3.WithRev(rev), clientv3.WithSort(clientv3.SortByKey, clientv3.SortAscend))
		if err != nil {
			if isEtcd(err, rpctypes.ErrCompacted) {
				return 0, ErrCompacted
			}
			return 0, outOfReach(err)
		}
		if rev == 0 {
			rev = resp.Header.Revision
			at(rev)
		}
		for _, e := range resp.Kvs {
			if err := each(Entry{string(e.Key), e.Value, e.ModRevision, e.CreateRevision}); err != nil {
				return 0, err
			}
			from = string(e.Key) + "\x00"
		}
		if !resp.More {
			return rev, nil
		}
	}
}
