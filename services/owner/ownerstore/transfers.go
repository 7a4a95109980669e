package ownerstore

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"hash/fnv"
	"slices"
	"strconv"
	"time"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

// Transfers gives the transfers of a vehicle, the oldest first. The list is
// shared: do not change it.
func (s *Store) Transfers(serial vehicle.Serial) []TransferRecord {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.state.transfers[serial]
}

// TransferSerials gives all vehicles that have or had transfers, sorted.
func (s *Store) TransferSerials() []vehicle.Serial {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return sorted(s.state.transfers)
}

// Transfer gives one transfer.
func (s *Store) Transfer(serial vehicle.Serial, id string) (TransferRecord, bool) {
	list := s.Transfers(serial)
	if i := slices.IndexFunc(list, func(t TransferRecord) bool { return t.ID == id }); i >= 0 {
		return list[i], true
	}
	return TransferRecord{}, false
}

// OpenOffer gives the offer of a vehicle whose code works at a moment.
func (s *Store) OpenOffer(serial vehicle.Serial, now time.Time) (TransferRecord, bool) {
	list := s.Transfers(serial)
	if i := slices.IndexFunc(list, func(t TransferRecord) bool { return t.Open(now) }); i >= 0 {
		return list[i], true
	}
	return TransferRecord{}, false
}

func transferKey(t owner.Transfer) string { return transfersPrefix + string(t.Serial) + "/" + t.ID }

func codeKey(serial vehicle.Serial) string { return codesPrefix + string(serial) }

// codeMAC is what is kept of a code: a digest keyed by the person who offered,
// so that nobody who reads the store can find the code by trying.
func codeMAC(key personKey, t owner.Transfer, code string) ([]byte, error) {
	return key.mac("transfer codes", string(t.Serial), t.ID, code)
}

// closeOffer adds to the transaction that an open offer of the vehicle is
// called off.
func (s *Store) closeOffer(txn *kv.Txn, serial vehicle.Serial, now time.Time) {
	if open, ok := s.OpenOffer(serial, now); ok {
		closed, _ := open.Closed(now)
		txn.Unchanged(transferKey(open.Transfer), open.ModRevision).Put(transferKey(closed), ownerwire.TransferProto(closed))
	}
}

// OfferTransfer writes an offer with its code, and calls an earlier one off. It
// is decided on the vehicle's ties at the guard's revision.
func (s *Store) OfferTransfer(ctx context.Context, t owner.Transfer, code string, guard int64, requestID string, request proto.Message) (kv.Result, error) {
	key, keyRevision, err := s.keyAt(t.OfferedBy)
	if err != nil {
		return kv.Result{}, err
	}
	mac, err := codeMAC(key, t, code)
	if err != nil {
		return kv.Result{}, err
	}
	s.mu.RLock()
	old := s.state.codes[t.Serial]
	s.mu.RUnlock()
	// The record of the code is written with every offer, so that of two at
	// once one is refused.
	txn := kv.NewTxn().
		Unchanged(vehicleKey(t.Serial), guard).Unchanged(keysPrefix+t.OfferedBy, keyRevision).
		Unchanged(codeKey(t.Serial), old.modRevision).PutBytes(codeKey(t.Serial), append(mac, t.ID...)).
		Absent(transferKey(t)).Put(transferKey(t), ownerwire.TransferProto(t))
	s.closeOffer(txn, t.Serial, t.Created)
	return s.kv.Commit(ctx, txn.Once(Service, requestID, request, ownerwire.TransferProto(t)))
}

// IsCode reports whether a code is that of an offer. It takes as long whether
// there is an offer or not.
func (s *Store) IsCode(t owner.Transfer, code string) bool {
	s.mu.RLock()
	kept := s.state.codes[t.Serial].value
	s.mu.RUnlock()
	key, err := s.key(t.OfferedBy)
	if err != nil { // nobody offered it, or they are no more
		key, _ = newPersonKey(make([]byte, keyBytes))
		kept = nil
	}
	mac, merr := codeMAC(key, t, code)
	if len(kept) != sha256.Size+len(t.ID) || string(kept[min(sha256.Size, len(kept)):]) != t.ID {
		kept = make([]byte, sha256.Size)
		err = errNoCode
	}
	return hmac.Equal(mac, kept[:sha256.Size]) && err == nil && merr == nil
}

var errNoCode = fault.New(fault.NotFound, "NO_CODE", "there is no code")

// CloseTransfer writes an offer that ended without a new owner, or another wrong
// code, over the one read at modRevision.
func (s *Store) CloseTransfer(ctx context.Context, t owner.Transfer, modRevision int64, requestID string, request proto.Message) (kv.Result, error) {
	txn := kv.NewTxn().Unchanged(transferKey(t), modRevision).Put(transferKey(t), ownerwire.TransferProto(t))
	if t.State != owner.Offered {
		txn.Delete(codeKey(t.Serial))
	}
	return s.kv.Commit(ctx, txn.Once(Service, requestID, request, ownerwire.TransferProto(t)))
}

// guessRecords is how many records of vain guesses there are at most: vehicles
// share them, so that guessing at serials does not fill the store.
const guessRecords = 1 << 10

// CountGuess writes down that a code was tried for a vehicle that is not on
// offer. It is there to take as long as the count of a wrong code does: one
// transaction on a record of the vehicle's, Aborted when somebody was quicker.
func (s *Store) CountGuess(ctx context.Context, serial vehicle.Serial) (kv.Result, error) {
	sum := fnv.New32a()
	sum.Write([]byte(serial)) // never fails
	id := strconv.Itoa(int(sum.Sum32() % guessRecords))
	s.mu.RLock()
	old := s.state.guesses[id]
	s.mu.RUnlock()
	n, _ := strconv.Atoi(string(old.value)) // none yet is 0
	key := guessesPrefix + id
	return s.kv.Commit(ctx, kv.NewTxn().Unchanged(key, old.modRevision).PutBytes(key, []byte(strconv.Itoa(n+1))))
}

// Handover is a change of owner that is done: everything that takes effect with
// it, decided on what stood at the revisions.
type Handover struct {
	Transfer owner.Transfer
	Offer    int64 // revision of the offer that it was; 0 for one that the works recorded
	Guard    int64 // of the vehicle's record

	Person   *owner.Person // to be created; nil for somebody who is there, and for nobody
	Consents []owner.Consent
	Tie      *owner.Tie  // the new owner's; nil where nobody knows them
	Ended    []TieRecord // as they now read, with the revision they were read at
	Standing *owner.Standing
	Before   int64 // revision of the standing's record
	Now      time.Time
}

// handover puts a change of owner into one transaction, and gives the key of the
// new owner, under which the request is remembered.
func (s *Store) handover(h Handover) (*kv.Txn, personKey, error) {
	txn := kv.NewTxn().Unchanged(vehicleKey(h.Transfer.Serial), h.Guard)
	txn.PutBytes(vehicleKey(h.Transfer.Serial), []byte(h.Transfer.ID))
	txn.Unchanged(transferKey(h.Transfer), h.Offer).Put(transferKey(h.Transfer), ownerwire.TransferProto(h.Transfer))
	txn.Delete(codeKey(h.Transfer.Serial))
	if h.Offer == 0 {
		s.closeOffer(txn, h.Transfer.Serial, h.Now)
	}
	var key personKey
	var err error
	switch {
	case h.Person != nil:
		if key, err = s.newKey(txn, h.Person.ID); err != nil {
			return nil, key, err
		}
		sealed, err := sealPerson(key, *h.Person)
		if err != nil {
			return nil, key, err
		}
		txn.Absent(peoplePrefix+h.Person.ID).PutBytes(peoplePrefix+h.Person.ID, sealed)
	case h.Tie != nil:
		var revision int64
		if key, revision, err = s.keyAt(h.Tie.Person); err != nil {
			return nil, key, err
		}
		txn.Unchanged(keysPrefix+h.Tie.Person, revision)
	}
	for _, c := range h.Consents {
		if err := addConsent(txn, key, c); err != nil {
			return nil, key, err
		}
	}
	if h.Tie != nil {
		txn.Absent(tieKey(*h.Tie)).Put(tieKey(*h.Tie), ownerwire.TieProto(*h.Tie))
	}
	for _, t := range h.Ended {
		txn.Unchanged(tieKey(t.Tie), t.ModRevision).Put(tieKey(t.Tie), ownerwire.TieProto(t.Tie))
	}
	if h.Standing != nil {
		txn.Unchanged(standingKey(h.Standing.Serial), h.Before).Put(standingKey(h.Standing.Serial), ownerwire.StandingProto(*h.Standing))
	}
	return txn, key, nil
}

// Accept makes a change of owner by code. The request holds personal data, so
// that it is remembered under the new owner's key.
func (s *Store) Accept(ctx context.Context, h Handover, requestID string, request proto.Message) (*ownerv1.AcceptTransferResponse, int64, error) {
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	txn, key, err := s.handover(h)
	if err != nil {
		return nil, 0, err
	}
	answer := &ownerv1.AcceptTransferResponse{Transfer: ownerwire.TransferProto(h.Transfer), Tie: ownerwire.TieProto(*h.Tie)}
	if err := once(txn, key, h.Tie.Person, requestID, request, answer); err != nil {
		return nil, 0, err
	}
	revision, err := s.commitOnce(ctx, txn, requestID, request, answer)
	return answer, revision, err
}

// Record makes a change of owner that the works saw evidence of. A request that
// names nobody new is remembered in clear.
func (s *Store) Record(ctx context.Context, h Handover, requestID string, request proto.Message) (*ownerv1.Transfer, int64, error) {
	s.rotation.RLock()
	defer s.rotation.RUnlock()
	txn, key, err := s.handover(h)
	if err != nil {
		return nil, 0, err
	}
	answer := ownerwire.TransferProto(h.Transfer)
	if h.Tie == nil {
		done, err := s.kv.Commit(ctx, txn.Once(Service, requestID, request, answer))
		if done.Replayed {
			proto.Reset(answer)
			err = proto.Unmarshal(done.Answer, answer)
		}
		return answer, done.Revision, err
	}
	if err := once(txn, key, h.Tie.Person, requestID, request, answer); err != nil {
		return nil, 0, err
	}
	revision, err := s.commitOnce(ctx, txn, requestID, request, answer)
	return answer, revision, err
}
