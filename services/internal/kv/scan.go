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

// A page begins small, because at 256 KiB a value it may be 64 MiB, and grows
// as long as it comes to little: etcd counts all the keys behind each page, so
// that 300,000 keys took 15 s in pages of 256, and 2 s in growing ones.
const (
	firstPageKeys = 256
	lastPageKeys  = 16 << 10
	pageBytes     = 4 << 20
)

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
	for limit := firstPageKeys; ; {
		resp, err := c.Get(ctx, from, clientv3.WithRange(end), clientv3.WithLimit(int64(limit)),
			clientv3.WithRev(rev), clientv3.WithSort(clientv3.SortByKey, clientv3.SortAscend))
		if err != nil {
			if isEtcd(err, rpctypes.ErrCompacted) {
				return 0, ErrCompacted
			}
			return 0, OutOfReach(err)
		}
		if rev == 0 {
			rev = resp.Header.Revision
			at(rev)
		}
		size := 0
		for _, e := range resp.Kvs {
			size += len(e.Key) + len(e.Value)
			if err := each(Entry{string(e.Key), e.Value, e.ModRevision, e.CreateRevision}); err != nil {
				return 0, err
			}
			from = string(e.Key) + "\x00"
		}
		if !resp.More {
			return rev, nil
		}
		limit = NextPage(limit, size)
	}
}

// NextPage gives how many keys to ask for after a page of so many that came to
// so many bytes.
func NextPage(keys, bytes int) int {
	switch {
	case bytes < pageBytes/2:
		return min(2*keys, lastPageKeys)
	case bytes > pageBytes:
		return max(keys/2, 1)
	}
	return keys
}
