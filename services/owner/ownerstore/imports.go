package ownerstore

import (
	"bytes"
	"cmp"
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

// Row is one record of an import, the others nil.
type Row struct {
	Person   *owner.Person // Created zero: keep what stands, else it is made now
	Tie      *owner.Tie
	Consent  *owner.Consent  // Created zero: made now, by By
	Standing *owner.Standing // Updated zero: made now, by By
	Erasure  *owner.Erasure
	By       string // whoever imports
}

// StageChunk seals a chunk of an import and hands it to stage, with the
// identifier under which it is staged: another one with each master key, since
// what an older one sealed cannot be opened any more. The same chunk gives the
// same bytes. The identifier stands in front in clear, for OpenChunk.
func (s *Store) StageChunk(importID string, chunk []byte, stage func(stagedID string, sealed []byte) error) error {
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	id, master, err := s.stagedID(importID)
	if err != nil {
		return err
	}
	sealed, err := master.sealChunk(id, chunk)
	if err != nil {
		return err
	}
	return stage(id, sealed)
}

// StagedID gives the identifier under which an import is staged now.
func (s *Store) StagedID(importID string) (string, error) {
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	id, _, err := s.stagedID(importID)
	return id, err
}

func (s *Store) stagedID(importID string) (string, *MasterKey, error) {
	master, _, err := s.current()
	if err != nil {
		return "", nil, err
	}
	return importID + "@" + master.ID(), master, nil
}

func (m *MasterKey) sealChunk(stagedID string, chunk []byte) ([]byte, error) {
	seal, err := m.importSeal(stagedID)
	if err != nil {
		return nil, err
	}
	return append(append([]byte(stagedID), 0), seal.seal(chunk)...), nil
}

// ErrChunkLost says that a chunk was sealed under a master key that is no more.
var ErrChunkLost = errors.New("the chunk was sealed under a master key that was destroyed")

// OpenChunk decrypts what StageChunk sealed.
func (s *Store) OpenChunk(staged []byte) ([]byte, error) {
	id, sealed, found := bytes.Cut(staged, []byte{0})
	at := bytes.LastIndexByte(id, '@')
	if !found || at < 0 {
		return nil, fault.New(fault.Internal, "CHUNK_DAMAGED", "a staged chunk without its import's identifier")
	}
	master, err := s.masterKey(string(id[at+1:]))
	if err != nil {
		return nil, ErrChunkLost
	}
	seal, err := master.importSeal(string(id))
	if err != nil {
		return nil, err
	}
	return seal.open(sealed)
}

// Staging makes the redo log of imports into this store.
func (s *Store) Staging(a staging.Applier) *staging.Log { return staging.New(s.kv, Service, a) }

// Unchanged reports whether the row says what is there already.
func (s *Store) Unchanged(r Row) (bool, error) {
	switch {
	case r.Tie != nil:
		old, ok := s.Tie(r.Tie.Serial, r.Tie.ID)
		return ok && old.Tie == *r.Tie, nil
	case r.Erasure != nil:
		old, ok := s.Erasure(r.Erasure.Person)
		return ok && old == *r.Erasure, nil
	case r.Standing != nil:
		old := s.Standing(r.Standing.Serial)
		dated := r.Standing.Updated.IsZero() || r.Standing.Updated.Equal(old.Updated)
		signed := r.Standing.RecordedBy == "" || r.Standing.RecordedBy == old.RecordedBy
		return old.Same(*r.Standing) && dated && signed, nil
	case r.Consent != nil:
		_, there := s.consent(r.Consent.Person, r.Consent.ID)
		return there, nil // what is there is never changed; see owner.Consent
	}
	old, err := s.bare(r.Person.ID)
	if fault.Is(err, fault.NotFound) {
		return false, nil
	}
	kept := r.Person.Created.IsZero() || r.Person.Created.Equal(old.Created)
	return err == nil && kept && old.Same(*r.Person), err
}

// Differs reports whether there is a consent of the row's name that says
// something else.
func (s *Store) Differs(c owner.Consent) (bool, error) {
	if _, there := s.consent(c.Person, c.ID); !there {
		return false, nil
	}
	list, err := s.Consents(c.Person)
	for _, old := range list {
		if old.ID == c.ID {
			return old.Purpose != c.Purpose || old.Way != c.Way || old.Given != c.Given || old.Wording != c.Wording ||
				old.Language != c.Language || !old.Said.Equal(c.Said) || old.Source != c.Source, err
		}
	}
	return false, err
}

func (s *Store) consent(person, id string) (record, bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	r, ok := s.state.consents[person][id]
	return r, ok
}

// rowsPerTxn keeps a transaction of new rows, two or three operations each,
// within kv.MaxOps.
const rowsPerTxn = 30

// Put writes the rows that say something new. Doing it twice is the same as
// once. It reads again when somebody else wrote in between.
func (s *Store) Put(ctx context.Context, rows []Row, now time.Time) error {
	for len(rows) > 0 {
		n := min(len(rows), rowsPerTxn)
		taken, err := s.putSome(ctx, rows[:n], now)
		switch {
		case err == nil:
			rows = rows[taken:]
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
func (s *Store) putSome(ctx context.Context, rows []Row, now time.Time) (taken int, err error) {
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	b := batch{store: s, now: now, txn: kv.NewTxn(), done: map[string]bool{}}
	for _, r := range rows {
		if err := b.add(r); errors.Is(err, errAgain) {
			break // the record is in the batch already: the rest comes next
		} else if err != nil {
			return 0, err
		}
	}
	if b.txn.Len() == 0 {
		return b.rows, nil
	}
	return b.rows, s.commit(ctx, b.txn)
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
	switch {
	case r.Tie != nil:
		err = b.addTie(*r.Tie, same)
	case r.Standing != nil:
		err = b.addStanding(r, same)
	case r.Erasure != nil:
		err = b.addErasure(*r.Erasure)
	case r.Consent != nil:
		err = b.addConsent(r, same)
	default:
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
	if same || b.store.Erased(p.ID) {
		return nil // erased since the import was looked at as a whole
	}
	old, err := b.store.bare(p.ID)
	if err != nil && !fault.Is(err, fault.NotFound) {
		return err
	}
	b.done[key] = true
	if fault.Is(err, fault.NotFound) {
		if p.Created.IsZero() {
			p.Created = b.now
		}
		aead, err := b.store.newKey(b.txn, p.ID)
		if err != nil {
			return err
		}
		sealed, err := sealPerson(aead, p.Keeping(owner.Person{}))
		b.txn.Absent(key).PutBytes(key, sealed)
		return err
	}
	aead, err := b.store.key(p.ID)
	if err != nil {
		return err
	}
	if p.Created.IsZero() {
		p.Created = old.Created
	}
	if p.Hold == "" { // files say nothing of holds
		p.Hold = old.Hold
	}
	sealed, err := sealPerson(aead, p.Keeping(old.Person))
	b.txn.Unchanged(key, old.ModRevision).PutBytes(key, sealed)
	return err
}

func (b *batch) addConsent(r Row, same bool) error {
	c := *r.Consent
	if b.done[peoplePrefix+c.Person] || b.done[consentKey(c)] {
		return errAgain // the person's key comes with the batch before
	}
	if same || !b.store.HasPerson(c.Person) {
		return nil // erased since the import was looked at as a whole
	}
	key, revision, err := b.store.keyAt(c.Person)
	if err != nil {
		return err
	}
	if c.Created.IsZero() {
		c.Created = b.now
	}
	c.RecordedBy = cmp.Or(c.RecordedBy, r.By)
	b.done[consentKey(c)] = true
	if !b.done[keysPrefix+c.Person] {
		b.txn.Unchanged(keysPrefix+c.Person, revision)
		b.done[keysPrefix+c.Person] = true
	}
	return addConsent(b.txn, key, c)
}

func (b *batch) addStanding(r Row, same bool) error {
	n, key := *r.Standing, standingKey(r.Standing.Serial)
	if b.done[key] {
		return errAgain
	}
	if same {
		return nil
	}
	if n.Updated.IsZero() {
		n.Updated = b.now
	}
	n.RecordedBy = cmp.Or(n.RecordedBy, r.By)
	b.done[key] = true
	b.txn.Unchanged(key, b.store.Standing(n.Serial).ModRevision).Put(key, ownerwire.StandingProto(n))
	return nil
}

// addErasure keeps who was erased elsewhere. One that is here already is never
// changed.
func (b *batch) addErasure(e owner.Erasure) error {
	key := erasuresPrefix + e.Person
	if b.done[key] {
		return errAgain
	}
	if b.store.Erased(e.Person) || b.store.HasPerson(e.Person) {
		return nil // since the import was looked at as a whole
	}
	b.done[key] = true
	b.txn.Absent(key).Absent(peoplePrefix+e.Person).Absent(keysPrefix+e.Person).Put(key, ownerwire.ErasureProto(e))
	return nil
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
