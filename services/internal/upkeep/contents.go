package upkeep

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"runtime/debug"
	"slices"
	"time"

	bolt "go.etcd.io/bbolt"
	"go.etcd.io/etcd/api/v3/mvccpb"
	clientv3 "go.etcd.io/etcd/client/v3"
	"go.etcd.io/etcd/server/v3/storage/mvcc"
	"go.etcd.io/etcd/server/v3/storage/schema"
	"google.golang.org/protobuf/proto"

	"halfshaft/services/fault"
)

// contents is what a store holds at one revision. Two stores with equal
// contents answer every read at that revision alike.
type contents struct {
	revision int64
	keys     int
	digest   [sha256.Size]byte // over every key with its value, its revisions and its lease
}

// entry is the digest of one key, whatever the order it is met in.
type entry [sha256.Size]byte

// entryOf hashes all that a read tells of a key. Lengths go before what they
// measure, so that no two keys hash the same bytes.
func entryOf(e *mvccpb.KeyValue) entry {
	var head [48]byte
	for i, n := range []int64{
		int64(len(e.Key)), int64(len(e.Value)), e.CreateRevision, e.ModRevision, e.Version, e.Lease,
	} {
		binary.BigEndian.PutUint64(head[8*i:], uint64(n))
	}
	h := sha256.New()
	h.Write(head[:])
	h.Write(e.Key)
	h.Write(e.Value)
	return entry(h.Sum(nil))
}

func newContents(revision int64, entries []entry) contents {
	slices.SortFunc(entries, func(a, b entry) int { return bytes.Compare(a[:], b[:]) })
	h := sha256.New()
	for _, e := range entries {
		h.Write(e[:])
	}
	return contents{revision, len(entries), [sha256.Size]byte(h.Sum(nil))}
}

// A page of the live store holds so many keys that it comes to a few MiB. Small
// pages are dear: each counts all the keys behind it (300,000 keys took 15 s in
// pages of 256). Large ones of large values would not fit into memory.
const (
	fewestKeys = 256
	mostKeys   = 4096
	pageBytes  = 4 << 20
)

// liveContents reads a running store as it stood at a revision.
func liveContents(ctx context.Context, client *clientv3.Client, revision int64) (contents, error) {
	var entries []entry
	limit := fewestKeys
	for from := "\x00"; ; {
		page, err := client.Get(ctx, from, clientv3.WithFromKey(), clientv3.WithRev(revision), clientv3.WithLimit(int64(limit)))
		if err != nil {
			return contents{}, fmt.Errorf("read the store at revision %d: %w", revision, err)
		}
		size := 0
		for _, e := range page.Kvs {
			entries = append(entries, entryOf(e))
			size += len(e.Key) + len(e.Value)
			from = string(e.Key) + "\x00"
		}
		switch {
		case !page.More:
			return newContents(revision, entries), nil
		case size < pageBytes:
			limit = min(2*limit, mostKeys)
		default:
			limit = fewestKeys
		}
	}
}

// damaged refuses a snapshot.
func damaged(path, format string, args ...any) *fault.Error {
	return fault.New(fault.FailedPrecondition, "SNAPSHOT_DAMAGED",
		"the snapshot %s is damaged and must not be relied on: %s", path, fmt.Sprintf(format, args...))
}

// checksum compares a snapshot with the SHA-256 that etcd appended to it. That
// comes before anything opens the file.
func checksum(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("open the snapshot: %w", err)
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return fmt.Errorf("look at the snapshot: %w", err)
	}
	// A database is whole pages; etcd takes what is over for the checksum
	// (etcdutl/snapshot/v3_snapshot.go, hasChecksum).
	size := info.Size() - sha256.Size
	if size <= 0 || size%512 != 0 {
		return damaged(path, "its %d bytes are not whole pages and a checksum; it was cut short, or is no snapshot", info.Size())
	}
	h := sha256.New()
	if _, err := io.CopyN(h, file, size); err != nil {
		return fmt.Errorf("read the snapshot: %w", err)
	}
	want, err := io.ReadAll(file)
	if err != nil {
		return fmt.Errorf("read the snapshot: %w", err)
	}
	if !bytes.Equal(h.Sum(nil), want) {
		return damaged(path, "its checksum is not that of its content")
	}
	return nil
}

// fileContents reads a database file that no process uses. It does not start
// an etcd over it: that would end this process at the first record it cannot
// read (storage/mvcc, Fatal), and a bad copy must not take the good store down.
// What makes a reader of the file stumble is an error here.
func fileContents(ctx context.Context, path string) (c contents, err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true)) // a page number beyond the mapped file
	defer func() {
		if r := recover(); r != nil {
			err = damaged(path, "reading it failed: %v", r)
		}
	}()
	db, err := bolt.Open(path, 0o600, &bolt.Options{ReadOnly: true, Timeout: time.Second})
	if err != nil {
		return contents{}, damaged(path, "it does not open: %v", err)
	}
	defer func() { err = cmp.Or(err, db.Close()) }()
	err = db.View(func(tx *bolt.Tx) error {
		if err := readThrough(tx, path); err != nil {
			return damaged(path, "its pages do not hang together: %v", err)
		}
		bucket := tx.Bucket(schema.Key.Name())
		if bucket == nil {
			return damaged(path, "it has no keys of etcd")
		}
		c, err = newest(ctx, path, bucket)
		return err
	})
	return c, err
}

// readThrough follows every page of every bucket. bbolt has a check of its own,
// but that works in a goroutine where a bad page is the end of the process.
func readThrough(tx *bolt.Tx, path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	t := tree{file: file, pageSize: int64(tx.DB().Info().PageSize), seen: map[uint64]bool{}}
	if err := t.follow(uint64(tx.Cursor().Bucket().Root())); err != nil {
		return err
	}
	return tx.ForEach(func(_ []byte, b *bolt.Bucket) error {
		return b.ForEach(func(_, _ []byte) error { return nil })
	})
}

// tree looks for a page that is below itself, or below two others: bbolt goes
// round in such a circle, and takes more and more memory, until the machine has
// none. Of a page it reads which ones are below it, and leaves the rest to bbolt.
type tree struct {
	file     *os.File
	pageSize int64
	seen     map[uint64]bool
	below    []uint64 // pages to be looked at
}

// How bbolt writes a page (bbolt, internal/common): a head with what it is and how
// many items there are, and the items. That of a branch ends in the number of a page
// below it; that of a leaf has flags, where its key is, and the sizes of key and
// value. The value of a bucket begins with the number of its page, or has one within
// itself, which is a leaf.
const (
	pageHead   = 16
	pageItem   = 16
	leafPage   = 0x02 // whatever is none, bbolt takes for a branch
	bucketItem = 0x01
	bucketHead = 16
)

func (t *tree) follow(root uint64) error {
	for t.below = append(t.below, root); len(t.below) > 0; {
		id := t.below[len(t.below)-1]
		t.below = t.below[:len(t.below)-1]
		if t.seen[id] {
			return fmt.Errorf("page %d stands in two places", id)
		}
		t.seen[id] = true
		if id > math.MaxInt64/2/uint64(t.pageSize) {
			return fmt.Errorf("there is no page %d", id)
		}
		if err := t.page(int64(id) * t.pageSize); err != nil {
			return fmt.Errorf("page %d: %w", id, err)
		}
	}
	return nil
}

// page notes what is below the page that begins at a place.
func (t *tree) page(at int64) error {
	var head [pageHead]byte
	if _, err := t.file.ReadAt(head[:], at); err != nil {
		return err
	}
	items := make([]byte, pageItem*int(binary.NativeEndian.Uint16(head[10:])))
	if _, err := t.file.ReadAt(items, at+pageHead); err != nil {
		return err
	}
	leaf := binary.NativeEndian.Uint16(head[8:]) == leafPage
	for n := 0; n < len(items); n += pageItem {
		item := items[n : n+pageItem]
		if !leaf {
			t.below = append(t.below, binary.NativeEndian.Uint64(item[8:]))
			continue
		}
		if binary.NativeEndian.Uint32(item)&bucketItem == 0 {
			continue
		}
		value := at + pageHead + int64(n) + int64(binary.NativeEndian.Uint32(item[4:])) + int64(binary.NativeEndian.Uint32(item[8:]))
		if err := t.bucket(value); err != nil {
			return err
		}
	}
	return nil
}

// bucket notes the page of the bucket whose value begins at a place.
func (t *tree) bucket(at int64) error {
	var value [bucketHead + pageHead]byte
	if n, err := t.file.ReadAt(value[:], at); n < bucketHead {
		return err
	}
	switch root := binary.NativeEndian.Uint64(value[:]); {
	case root != 0:
		t.below = append(t.below, root)
	case binary.NativeEndian.Uint16(value[bucketHead+8:]) != leafPage:
		return errors.New("a bucket within it is no leaf")
	}
	return nil
}

// revisionBytes is the shortest key of a revision: two numbers and a mark
// between them (storage/mvcc/revision.go).
const revisionBytes = 17

// newest finds what is there at the newest revision. The bucket holds what was
// written in the order it was written in, so that the last word on a key wins.
func newest(ctx context.Context, path string, bucket *bolt.Bucket) (contents, error) {
	var revision int64
	last := map[entry]entry{} // by the hash of the key
	err := bucket.ForEach(func(at, value []byte) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		if len(at) < revisionBytes {
			return damaged(path, "a revision of %d bytes", len(at))
		}
		revision = mvcc.BytesToRev(at).Main
		if len(value) == 0 {
			return nil // the mark that a restore leaves at its lifted revision
		}
		var e mvccpb.KeyValue
		if err := proto.Unmarshal(value, &e); err != nil {
			return damaged(path, "the record of revision %d cannot be read", revision)
		}
		if key := entry(sha256.Sum256(e.Key)); mvcc.IsTombstone(at) {
			delete(last, key)
		} else {
			last[key] = entryOf(&e)
		}
		return nil
	})
	if err != nil {
		return contents{}, err
	}
	if revision == 0 {
		// Nobody wants a copy of nothing; one is a sign of the wrong file.
		return contents{}, damaged(path, "it holds nothing at all")
	}
	entries := make([]entry, 0, len(last))
	for _, e := range last {
		entries = append(entries, e)
	}
	return newContents(revision, entries), nil
}

// equal refuses a snapshot that does not hold what it should.
func (c contents) equal(want contents, path, where string) error {
	if c == want {
		return nil
	}
	return damaged(path, "%s holds %v, want %v", where, c, want)
}

func (c contents) String() string {
	return fmt.Sprintf("%d keys at revision %d (digest %x)", c.keys, c.revision, c.digest[:4])
}
