// Package jobsheetstore keeps job sheets, and what came back on them, in etcd.
//
// Keys in etcd, and nobody else's:
//
//	/halfshaft/v1/jobsheet/sheets/<serial>/<number, six digits>   halfshaft.jobsheet.v1.KeptJobSheet
//
// A sheet that is TAKEN_IN is the mark of a return that is being carried out, and
// holds all that is still to be done: whoever finds it carries it on.
package jobsheetstore

import (
	"context"
	"fmt"
	"log/slog"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/vehicle"
)

// Service is the name under which the keys and their request ids stand.
const Service = "jobsheet"

var (
	prefix       = kv.Prefix(Service)
	sheetsPrefix = prefix + "sheets/"
)

func sheetKey(serial vehicle.Serial, n int) string {
	return fmt.Sprintf("%s%s/%06d", sheetsPrefix, serial, n)
}

// parse takes a key apart.
func parse(key string) (serial vehicle.Serial, n int, err error) {
	of, digits, _ := strings.Cut(strings.TrimPrefix(key, sheetsPrefix), "/")
	if n, err = strconv.Atoi(digits); err != nil || of == "" || n < 1 {
		return "", 0, fmt.Errorf("a key of the job sheets cannot be read")
	}
	return vehicle.Serial(of), n, nil
}

// Store is the service's keys. It is safe for concurrent use.
type Store struct {
	kv       *kv.Store
	group    *projection.Group
	follower *projection.Follower
	memory   *memory
}

// Open loads what is stored and follows it until ctx is done or Close is called.
func Open(ctx context.Context, store *kv.Store, group *projection.Group, logger *slog.Logger) (*Store, error) {
	m := newMemory()
	f, err := projection.Start(ctx, store.Client(), prefix, m, logger)
	if err != nil {
		return nil, err
	}
	group.Add(Service, f)
	return &Store{kv: store, group: group, follower: f, memory: m}, nil
}

// Close ends the following.
func (s *Store) Close() { s.follower.Close() }

// Request identifies a caller's change, so that it happens once.
type Request struct {
	ID      string // UUID, or "" for none
	Payload proto.Message
}

// Kept is a sheet as it is stored.
type Kept struct {
	Serial   vehicle.Serial
	Number   int
	Message  *jobsheetv1.KeptJobSheet // not to be changed
	Revision int64
}

// Sheet is a copy of the sheet with its etag.
func (k Kept) Sheet() *jobsheetv1.JobSheet {
	p := proto.CloneOf(k.Message.GetJobSheet())
	p.Etag = kv.Etag(k.Revision)
	return p
}

// Put writes a sheet over the one read at a revision; 0: a new one. A sheet that
// changed meanwhile, or a number that was taken, is Aborted CONFLICT. A replayed
// request gives what was written then.
func (s *Store) Put(ctx context.Context, q Request, k Kept) (Kept, error) {
	return s.put(ctx, nil, q, k)
}

// PutFenced is Put for the one that leads.
func (s *Store) PutFenced(ctx context.Context, fence *kv.Fence, k Kept) (Kept, error) {
	return s.put(ctx, fence, Request{}, k)
}

func (s *Store) put(ctx context.Context, fence *kv.Fence, q Request, k Kept) (Kept, error) {
	key := sheetKey(k.Serial, k.Number)
	t := kv.NewTxn().Unchanged(key, k.Revision).Put(key, k.Message).Once(Service, q.ID, q.Payload, k.Message)
	if fence != nil {
		t.Fence(*fence)
	}
	r, err := s.kv.Commit(ctx, t)
	if err != nil {
		return Kept{}, err
	}
	if r.Replayed {
		return answered(r)
	}
	k.Revision = r.Revision
	return k, s.group.Wait(ctx, Service, r.Revision)
}

// Replay gives what was written for a request that was answered before.
func (s *Store) Replay(ctx context.Context, q Request) (Kept, bool, error) {
	r, found, err := s.kv.Lookup(ctx, Service, q.ID, q.Payload)
	if err != nil || !found {
		return Kept{}, false, err
	}
	k, err := answered(r)
	return k, err == nil, err
}

// answered reads a stored answer; it knows its place by its name.
func answered(r kv.Result) (Kept, error) {
	k := Kept{Message: &jobsheetv1.KeptJobSheet{}, Revision: r.Revision}
	if err := unmarshal(r.Answer, k.Message); err != nil {
		return Kept{}, err
	}
	parts := strings.Split(k.Message.GetJobSheet().GetName(), "/")
	if len(parts) != 4 {
		return Kept{}, damaged(nil)
	}
	var err error
	k.Serial = vehicle.Serial(parts[1])
	if k.Number, err = strconv.Atoi(parts[3]); err != nil {
		return Kept{}, damaged(err)
	}
	return k, nil
}

func unmarshal(raw []byte, into proto.Message) error {
	if err := proto.Unmarshal(raw, into); err != nil {
		return damaged(err)
	}
	return nil
}

func damaged(err error) error {
	return &fault.Error{Kind: fault.Internal, Reason: "RECORD_DAMAGED", Message: "a job sheet cannot be read", Cause: err}
}
