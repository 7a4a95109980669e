package ownerstore

import (
	"context"
	"errors"
	"time"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/staging"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// Row is one record of an import: a person or a tie, the other nil.
type Row struct {
	Person *owner.Person // Created zero: keep what stands, else it is made now
	Tie    *owner.Tie
}

// SealChunk encrypts a chunk of an import for staging; the same chunk gives
// the same bytes. The import's identifier stands in front in clear, for
// OpenChunk.
func (s *Store) SealChunk(importID string, chunk []byte) ([]byte, error) {
	seal, err := s.master.importSeal(importID)
	if err != nil {
		return nil, err
	}
	return append(append([]byte(importID), 0), seal.seal(chunk)...), nil
}

// OpenChunk decrypts what SealChunk made.
func (s *Store) OpenChunk(staged []byte) ([]byte, error) {
	for i, c := range staged {
		if c != 0 {
			continue
		}
		seal, err := s.master.importSeal(string(staged[:i]))
		if err != nil {
			return nil, err
		}
		return seal.open(staged[i+1:])
	}
	return nil, fault.New(fault.Internal, "CHUNK_DAMAGED", "a staged chunk without its import's identifier")
}

// Staging makes the redo log of imports into this store.
func (s *Store) Staging(a staging.Applier) *staging.Log { return staging.New(s.kv, Service, a) }

// Unchanged reports whether the row says what is there already.
func (s *Store) Unchanged(r Row) (bool, error) {
	if r.Tie != nil {
		old, ok := s.Tie(r.Tie.Serial, r.Tie.ID)
		return ok && old.Tie == *r.Tie, nil
	}
	old, err := s.Person(r.Person.ID)
	if fault.Is(err, fault.NotFound) {
		return false, nil
	}
	kept := r.Person.Created.IsZero() || r.Person.Created.Equal(old.Created)
	return err == nil && kept && old.Same(*r.Person), err
}

// rowsPerTxn keeps a transaction of new rows, two or three operations each,
// within kv.MaxOps.
const rowsPerTxn = 40

// Put writes the rows that say something new. Doing it twice is the same as
// once. It reads again when somebody else wrote in between.
func (s *Store) Put(ctx context.Context, rows []Row, now time.Time) error {
	for len(rows) > 0 {
		n := min(len(rows), rowsPerTxn)
		err := s.putSome(ctx, rows[:n], now)
		switch {
		case err == nil:
			rows = rows[n:]
		case fault.Is(err, fault.Aborted) || fault.Is(err, fault.AlreadyExists):
			if err := s.catchUp(ctx); err != nil {
				return err
			}
		default:
			return err
		}
	}
	return nil
}

// putSome writes a few rows in one transaction and waits for memory to have
// them, so that the next few are decided on them.
func (s *Store) putSome(ctx context.Context, rows []Row, now time.Time) error {
	b := batch{store: s, now: now, txn: kv.NewTxn(), done: map[string]bool{}}
	for _, r := range rows {
		if err := b.add(r); errors.Is(err, errAgain) {
			break // the record is in the batch already: the rest comes next
		} else if err != nil {
			return err
		}
	}
	if b.txn.Len() == 0 {
		return nil
	}
	done, err := s.kv.Commit(ctx, b.txn)
	if err != nil {
		return err
	}
	if err := s.follower.Wait(ctx, done.Revision); err != nil {
		return err
	}
	if b.rows < len(rows) {
		return s.putSome(ctx, rows[b.rows:], now)
	}
	return nil
}

// batch is a transaction under way.
type batch struct {
	store *Store
	now   time.Time
	txn   *kv.Txn
	done  map[string]bool // keys written in it
	rows  int             // taken in
}

var errAgain = errors.New("the transaction writes this record already")

func (b *batch) add(r Row) error {
	same, err := b.store.Unchanged(r)
	if err != nil {
		return err
	}
	if r.Tie != nil {
		err = b.addTie(*r.Tie, same)
	} else {
		err = b.addPerson(*r.Person, same)
	}
	if err == nil {
		b.rows++
	}
	return err
}

func (b *batch) addPerson(p owner.Person, same bool) error {
	key := peoplePrefix + p.ID
	if b.done[key] {
		return errAgain
	}
	if same {
		return nil
	}
	b.done[key] = true
	old, err := b.store.Person(p.ID)
	if err != nil && !fault.Is(err, fault.NotFound) {
		return err
	}
	if fault.Is(err, fault.NotFound) {
		if p.Created.IsZero() {
			p.Created = b.now
		}
		aead, wrapped, err := b.store.master.newPersonKey(p.ID)
		if err != nil {
			return err
		}
		sealed, err := sealPerson(aead, p, forRecord)
		b.txn.Absent(keysPrefix+p.ID).Absent(key).PutBytes(keysPrefix+p.ID, wrapped).PutBytes(key, sealed)
		return err
	}
	aead, err := b.store.key(p.ID)
	if err != nil {
		return err
	}
	if p.Created.IsZero() {
		p.Created = old.Created
	}
	sealed, err := sealPerson(aead, p, forRecord)
	b.txn.Unchanged(key, old.ModRevision).PutBytes(key, sealed)
	return err
}

func (b *batch) addTie(t owner.Tie, same bool) error {
	guard := vehicleKey(t.Serial)
	if b.done[tieKey(t)] {
		return errAgain
	}
	if same {
		return nil
	}
	old, _ := b.store.Tie(t.Serial, t.ID) // revision 0 when there is none
	b.txn.Unchanged(tieKey(t), old.ModRevision).Put(tieKey(t), ownerwire.TieProto(t))
	if !b.done[guard] {
		b.txn.Unchanged(guard, b.guard(t.Serial)).PutBytes(guard, []byte(t.ID))
	}
	b.done[tieKey(t)], b.done[guard] = true, true
	return nil
}

func (b *batch) guard(serial vehicle.Serial) int64 {
	_, guard := b.store.Ties(serial)
	return guard
}
