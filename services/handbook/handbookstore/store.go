// Package handbookstore keeps books and issued handbooks: what they are in etcd,
// and the files of issues in a directory, each under the digest of its bytes.
//
// Keys in etcd, and nobody else's:
//
//	/halfshaft/v1/handbook/books/<book>/<version, four digits>    halfshaft.handbook.v1.Book, written once
//	/halfshaft/v1/handbook/issues/<serial>/<number, four digits>  halfshaft.handbook.v1.HandbookIssue, written once
//
// Names and etags are never stored: a name is its key. Nobody's name is in the
// files, because they stay as long as the vehicle.
package handbookstore

import (
	"context"
	"fmt"
	"log/slog"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	handbookv1 "halfshaft/proto/halfshaft/handbook/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/internal/staging"
	"halfshaft/services/internal/wholefile"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys and their request ids stand.
const Service = "handbook"

var (
	prefix       = kv.Prefix(Service)
	booksPrefix  = prefix + "books/"
	issuesPrefix = prefix + "issues/"
)

func bookKey(id string, version int) string {
	return fmt.Sprintf("%s%s/%04d", booksPrefix, id, version)
}

func issueKey(serial vehicle.Serial, n int) string {
	return fmt.Sprintf("%s%s/%04d", issuesPrefix, serial, n)
}

// parse takes a key apart: a book's identifier or a serial, and a number.
func parse(key, under string) (of string, n int, err error) {
	of, digits, _ := strings.Cut(strings.TrimPrefix(key, under), "/")
	if n, err = strconv.Atoi(digits); err != nil || of == "" || n < 1 {
		return "", 0, fmt.Errorf("a key of the handbooks cannot be read")
	}
	return of, n, nil
}

// Store is the service's keys and files. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	group    *projection.Group
	follower *projection.Follower
	memory   *memory
	dir      string
}

// Config is what a store needs. Dir is where the files of issues are kept; empty:
// this process issues none.
type Config struct {
	Store  *kv.Store
	Group  *projection.Group
	Dir    string
	Logger *slog.Logger
}

// Open loads what is stored and follows it until ctx is done or Close is called.
func Open(ctx context.Context, c Config) (*Store, error) {
	if err := wholefile.Sweep(c.Dir); err != nil {
		return nil, err
	}
	m := newMemory()
	f, err := projection.Start(ctx, c.Store.Client(), prefix, m, c.Logger)
	if err != nil {
		return nil, err
	}
	c.Group.Add(Service, f)
	return &Store{kv: c.Store, group: c.Group, follower: f, memory: m, dir: c.Dir}, nil
}

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }

// Request identifies a caller's change, so that it happens once.
type Request struct {
	ID      string // UUID, or "" for none
	Payload proto.Message
}

// Lookup gives into answer the first answer of a request that was answered
// before.
func (s *Store) Lookup(ctx context.Context, q Request, answer proto.Message) (revision int64, found bool, err error) {
	r, found, err := s.kv.Lookup(ctx, Service, q.ID, q.Payload)
	if err != nil || !found {
		return 0, false, err
	}
	return r.Revision, true, unmarshal(r.Answer, answer)
}

// CatchUp waits until reads include all that is stored now.
func (s *Store) CatchUp(ctx context.Context) error {
	now, err := s.kv.Client().Get(ctx, prefix)
	if err != nil {
		return kv.OutOfReach(err)
	}
	return s.follower.Wait(ctx, now.Header.Revision)
}

// Staging makes the redo log of imports into this store.
func (s *Store) Staging(a staging.Applier) *staging.Log { return staging.New(s.kv, Service, a) }

// Record is a record of an import under its key.
type Record struct {
	Key     string
	Message proto.Message
}

// BookRecord is a version of a book under its key.
func BookRecord(id string, version int, b *handbookv1.Book) Record {
	return Record{bookKey(id, version), b}
}

// IssueRecord is an issue under its key; see BookRecord.
func IssueRecord(serial vehicle.Serial, n int, i *handbookv1.HandbookIssue) Record {
	return Record{issueKey(serial, n), i}
}

// Put writes the records of a chunk of an import, which are new: the import was
// looked over before. One that is there is an error.
func (s *Store) Put(ctx context.Context, records []Record) error {
	for chunk := range slices.Chunk(records, kv.MaxOps) {
		t := kv.NewTxn()
		for _, r := range chunk {
			t.Absent(r.Key).Put(r.Key, r.Message)
		}
		done, err := s.kv.Commit(ctx, t)
		if err != nil {
			return err
		}
		if err := s.group.Wait(ctx, Service, done.Revision); err != nil {
			return err
		}
	}
	return nil
}

// CreateBook writes a version of a book that is not there yet.
func (s *Store) CreateBook(ctx context.Context, q Request, id string, version int, b *handbookv1.Book) (int64, error) {
	return s.create(ctx, q, bookKey(id, version), b)
}

// CreateIssue writes an issue, whose files are kept already.
func (s *Store) CreateIssue(ctx context.Context, q Request, serial vehicle.Serial, n int, i *handbookv1.HandbookIssue) (int64, error) {
	return s.create(ctx, q, issueKey(serial, n), i)
}

// create writes a record once. It is durable and can be read when this returns.
// A replayed request leaves its first answer in the record.
func (s *Store) create(ctx context.Context, q Request, key string, record proto.Message) (int64, error) {
	t := kv.NewTxn().Absent(key).Put(key, record).Once(Service, q.ID, q.Payload, record)
	r, err := s.kv.Commit(ctx, t)
	if err != nil {
		return 0, err
	}
	if r.Replayed {
		if err := unmarshal(r.Answer, record); err != nil {
			return 0, err
		}
	}
	return r.Revision, s.group.Wait(ctx, Service, r.Revision)
}

func unmarshal(raw []byte, into proto.Message) error {
	if err := proto.Unmarshal(raw, into); err != nil {
		return &fault.Error{Kind: fault.Internal, Reason: "RECORD_DAMAGED", Message: "a record of the handbooks cannot be read", Cause: err}
	}
	return nil
}
