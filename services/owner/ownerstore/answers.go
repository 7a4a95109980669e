package ownerstore

import (
	"context"
	"errors"
	"fmt"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/wrapperspb"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/owner/ownerwire"
)

// A request with personal data is remembered under the key of the person whom
// it is about: its fingerprint is keyed and its answer sealed by it. Once the
// person is erased, both are noise.

// Answered gives the answer of such a request that was answered before, and the
// revision it was made at. NotFound when its person was erased since.
func (s *Store) Answered(ctx context.Context, requestID string, request, answer proto.Message) (revision int64, found bool, err error) {
	peeked, found, err := s.kv.Peek(ctx, Service, requestID)
	if err != nil || !found {
		return 0, false, err
	}
	var kept ownerv1.OpenForPersonRequest
	person := ""
	if err := proto.Unmarshal(peeked.Answer, &kept); err == nil {
		person, _ = ownerwire.PersonID("person", kept.GetPerson())
	}
	var print proto.Message = wrapperspb.Bytes(nil) // of no request: the id is another's
	var key personKey
	if person != "" {
		if key, err = s.key(person); err != nil {
			return 0, false, err
		}
		if print, err = key.fingerprint(request); err != nil {
			return 0, false, err
		}
	}
	done, found, err := s.kv.Lookup(ctx, Service, requestID, print)
	if err != nil || !found {
		return 0, false, err
	}
	plain, err := open(key, kept.GetSealed(), bound(forAnswer, person))
	if err != nil {
		return 0, false, fault.New(fault.Internal, "ANSWER_DAMAGED", "a kept answer cannot be opened")
	}
	return done.Revision, true, proto.Unmarshal(plain, answer)
}

// once remembers a request with its answer in the transaction.
func once(txn *kv.Txn, key personKey, person, requestID string, request, answer proto.Message) error {
	if requestID == "" {
		return nil
	}
	print, err := key.fingerprint(request)
	if err != nil {
		return err
	}
	plain, err := deterministic.Marshal(answer)
	if err != nil {
		return fmt.Errorf("encode an answer: %w", err)
	}
	txn.Once(Service, requestID, print, &ownerv1.OpenForPersonRequest{
		Person: ownerwire.PersonName(person), Sealed: seal(key, plain, bound(forAnswer, person)),
	})
	return nil
}

// commitOnce commits a transaction with its request. When the same request was
// quicker, its answer takes the place of ours.
func (s *Store) commitOnce(ctx context.Context, txn *kv.Txn, requestID string, request, answer proto.Message) (int64, error) {
	done, err := s.kv.Commit(ctx, txn)
	var f *fault.Error
	if err == nil && !done.Replayed {
		return done.Revision, nil
	}
	if done.Replayed || errors.As(err, &f) && f.Reason == "REQUEST_ID_REUSED" {
		if werr := s.catchUp(ctx); werr != nil {
			return 0, werr
		}
		proto.Reset(answer)
		revision, found, aerr := s.Answered(ctx, requestID, request, answer)
		if aerr != nil || found {
			return revision, aerr
		}
	}
	return 0, err
}
