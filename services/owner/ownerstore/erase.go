package ownerstore

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"google.golang.org/protobuf/proto"

	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// Deleting a person's key from etcd leaves it, wrapped, in etcd's log, in its
// snapshots and in every backup. So an erasure replaces the master key, too:
//
//  1. A new master key is written beside the old one and down to the disk.
//  2. One transaction decides: the person's record and key go, their ties and
//     offers end, the erasure is on record, and a mark says from which master
//     key to which. From here on nothing turns back; a start after an
//     interruption goes on from wherever it was.
//  3. The keys of everybody else are kept in a file, sealed under the new master
//     key, for snapshots from before.
//  4. They are wrapped anew in the store, some at a time.
//  5. What else was kept of the person goes: consents, documents.
//  6. One transaction names the new master key and takes the mark away.
//  7. The old master key is overwritten, the new one takes its place, and the
//     file of the old one's kept keys goes.
//
// Whoever then has the new master key, the store, its log and every snapshot
// and backup of it has the person's key only wrapped by a key that is no more.

// Erase is what erases a person.
type Erase struct {
	Erasure owner.Erasure // without the master keys
	Etag    int64         // revision of the person's record that it is based on
	EndTies bool          // end the ties that still last; else they are refused
}

// mostEnded keeps the deciding transaction within kv.MaxOps.
const mostEnded = 40

// Erase erases a person and gives the erasure as it is on record. Nothing may
// stage or commit an import meanwhile (staging.Log.Pause).
func (s *Store) Erase(ctx context.Context, e Erase, requestID string, request proto.Message) (owner.Erasure, error) {
	list := []Erase{e}
	err := s.erase(ctx, list, func(txn *kv.Txn) { txn.Once(Service, requestID, request, ownerwire.ErasureProto(list[0].Erasure)) })
	if err != nil {
		return owner.Erasure{}, err
	}
	return list[0].Erasure, nil
}

// MostErased is how many people one replacement of the master key erases: each
// takes three operations of its deciding transaction.
const MostErased = 30

// EraseExpired erases people whose time is over, at most MostErased, with one
// replacement of the master key, while the fence holds. Their ties have ended.
// Nobody of them is erased when one of their records changed meanwhile.
func (s *Store) EraseExpired(ctx context.Context, fence kv.Fence, list []Erase) error {
	if len(list) > MostErased {
		return fault.New(fault.Internal, "TOO_MANY_ERASED", "at most %d people are erased at once", MostErased)
	}
	return s.erase(ctx, list, func(txn *kv.Txn) { txn.Fence(fence) })
}

// erase erases people together, and puts the new master key into the list. with
// adds to the transaction that decides.
func (s *Store) erase(ctx context.Context, list []Erase, with func(*kv.Txn)) error {
	s.rotation.Lock()
	defer s.rotation.Unlock()
	unlock, err := s.lockFiles(ctx)
	if err != nil {
		return err
	}
	defer unlock()
	// What is decided is carried out, even if whoever asked goes away.
	ctx = context.WithoutCancel(ctx)
	if err := s.resume(ctx); err != nil { // of an erasure that this process could not end
		s.noteUnended(err)
		return err
	}
	old, _, err := s.current()
	if err != nil {
		return err
	}
	// Nobody ties the people to anything meanwhile: that is done under rotation.
	ended := make([][]TieRecord, len(list))
	for i, e := range list {
		ended[i] = s.tiesToEnd(e.Erasure)
		if err := mayEnd(ended[i], e.EndTies); err != nil {
			return err
		}
	}
	if err := destroy(s.nextPath()); err != nil {
		return fmt.Errorf("clear away a new master key that was never used: %w", err)
	}
	next, err := CreateMasterKey(s.nextPath())
	if err != nil {
		return err
	}
	for i := range list {
		list[i].Erasure.Destroyed, list[i].Erasure.New = old.ID(), next.ID()
	}
	s.ring.hold(old, next)
	if err := s.reached("new key written"); err != nil {
		return err
	}
	if err := s.decide(ctx, list, ended, with); err != nil {
		if fault.Is(err, fault.Unavailable) {
			s.noteUnended(err) // it may have been decided: the file stays for whoever goes on
			return err
		}
		s.ring.hold(old)
		return errors.Join(err, destroy(s.nextPath()))
	}
	err = s.resume(ctx)
	s.noteUnended(err)
	return err
}

// reached is called after each step of a replacement of the master key.
func (s *Store) reached(step string) error {
	if s.cut == nil {
		return nil
	}
	return s.cut(step)
}

// Finish carries an erasure that was decided to its end, if one is under way.
func (s *Store) Finish(ctx context.Context) error {
	err := s.finish(ctx, context.WithoutCancel(ctx))
	s.noteUnended(err)
	return err
}

// finish waits for its turn as long as asking lasts, and then works as long as
// working does.
func (s *Store) finish(asking, working context.Context) error {
	s.rotation.Lock()
	defer s.rotation.Unlock()
	unlock, err := s.lockFiles(asking)
	if err != nil {
		return err
	}
	defer unlock()
	return s.resume(working)
}

// mayEnd refuses to erase somebody who is tied to a vehicle, unless their ties
// are to end with it.
func mayEnd(ended []TieRecord, endTies bool) error {
	switch {
	case len(ended) > 0 && !endTies:
		return fault.New(fault.FailedPrecondition, "PERSON_TIED",
			"The person still is something to vehicles, %d in all: end that first, or say that it ends with the erasure (end_ties).", len(ended))
	case len(ended) > mostEnded:
		return fault.New(fault.FailedPrecondition, "TOO_MANY_TIES", "The person has more than %d ties that last: end some of them first.", mostEnded)
	}
	return nil
}

// decide is step 2.
func (s *Store) decide(ctx context.Context, list []Erase, ended [][]TieRecord, with func(*kv.Txn)) error {
	_, masterRevision, err := s.current()
	if err != nil {
		return err
	}
	from := list[0].Erasure.Destroyed
	mark, err := json.Marshal(change{From: from, To: list[0].Erasure.New})
	if err != nil {
		return err
	}
	txn := kv.NewTxn().
		Absent(masterChangeMark).PutBytes(masterChangeMark, mark).
		// Written over itself, so that nobody new is taken in under the old key.
		Unchanged(masterRecord, masterRevision).PutBytes(masterRecord, []byte(from))
	with(txn)
	for i, e := range list {
		person := e.Erasure.Person
		_, keyRevision, err := s.keyAt(person)
		if err != nil {
			return err
		}
		txn.Unchanged(peoplePrefix+person, e.Etag).Delete(peoplePrefix+person).
			Unchanged(keysPrefix+person, keyRevision).Delete(keysPrefix+person).
			Absent(erasuresPrefix+person).Put(erasuresPrefix+person, ownerwire.ErasureProto(e.Erasure))
		s.endTies(txn, ended[i])
		s.closeOffersOf(txn, person, e.Erasure)
	}
	return s.commit(ctx, txn)
}

// endTies adds ties as they now read to the transaction.
func (s *Store) endTies(txn *kv.Txn, ended []TieRecord) {
	guarded := map[string]bool{}
	for _, t := range ended {
		txn.Unchanged(tieKey(t.Tie), t.ModRevision).Put(tieKey(t.Tie), ownerwire.TieProto(t.Tie))
		if guard := vehicleKey(t.Serial); !guarded[guard] {
			txn.PutBytes(guard, []byte(t.ID))
			guarded[guard] = true
		}
	}
}

// closeOffersOf calls the open offers of a person off; there are few, one for a
// vehicle at most.
func (s *Store) closeOffersOf(txn *kv.Txn, person string, e owner.Erasure) {
	for _, serial := range s.TransferSerials() {
		if open, ok := s.OpenOffer(serial, e.At); ok && open.OfferedBy == person && txn.Len() < kv.MaxOps {
			s.closeOffer(txn, serial, e.At)
		}
	}
}

// Erasures gives who was erased, by identifier.
func (s *Store) Erasures() []owner.Erasure {
	s.mu.RLock()
	defer s.mu.RUnlock()
	var out []owner.Erasure
	for _, person := range sorted(s.state.erasures) {
		out = append(out, s.state.erasures[person].Erasure)
	}
	return out
}

// tiesToEnd gives the ties of a person that an erasure on a day ends, as they
// will read.
func (s *Store) tiesToEnd(e owner.Erasure) []TieRecord {
	on := vehicle.DateOf(e.At.UTC())
	var out []TieRecord
	for _, t := range s.TiesOf(map[string]bool{e.Person: true})[e.Person] {
		if cut := t.Cut(on); cut != t.Tie {
			out = append(out, TieRecord{cut, t.ModRevision})
		}
	}
	return out
}
