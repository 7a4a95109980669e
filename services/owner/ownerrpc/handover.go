package ownerrpc

import (
	"context"
	"fmt"
	"slices"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// What one transaction of the store bears.
const (
	mostConsents = 10
	mostEnded    = 80 // ties of one vehicle that end with a change of owner
)

// wrongCode is the one refusal of a code that does not fit, of a vehicle that is
// not on offer, and of one that nobody knows, so that nothing can be learnt from
// asking. Each is written down first, so that nothing can be learnt from the
// time that it takes either.
func wrongCode() error {
	return fault.New(fault.FailedPrecondition, "TRANSFER_CODE_WRONG",
		"This code does not open a transfer of this vehicle: it is mistyped, was used, was called off, or its time is over. After %d wrong codes a new one is needed.", owner.MostWrongCodes)
}

// AcceptTransfer implements the OwnerService. What is wrong with the request by
// itself is said before the code is looked at.
func (s *Service) AcceptTransfer(ctx context.Context, r *ownerv1.AcceptTransferRequest) (*ownerv1.AcceptTransferResponse, error) {
	answer := &ownerv1.AcceptTransferResponse{}
	if revision, found, err := s.answered(ctx, r, answer); err != nil || found {
		return accepted(answer, revision), err
	}
	serial, _, err := resname.Serial("parent", vehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	code, ok := owner.PlainCode(r.GetCode())
	if !ok {
		return nil, fault.InvalidField("code", owner.Described(r.GetCode()), "twelve letters and digits, as in 7Q4K-M2XW-9TRC")
	}
	p, consents, err := s.newOwner(ctx, r)
	if err != nil {
		return nil, err
	}
	for {
		offer, open := s.store.OpenOffer(serial, s.now())
		ties, guard := s.store.Ties(serial)
		fits := s.store.IsCode(offer.Transfer, code)
		switch {
		case !open || !owner.Holds(bare(ties), offer.OfferedBy, s.today()):
			err = s.countGuess(ctx, serial)
		case !fits:
			err = s.countWrongCode(ctx, offer)
		default:
			h := s.handover(ctx, offer.Transfer, ties, guard, p.ID, s.today(), nil)
			h.Offer, h.Person, h.Consents = offer.ModRevision, &p, consents
			if err = tooMany(h); err != nil {
				return nil, err
			}
			var revision int64
			answer, revision, err = s.store.Accept(ctx, h, r.GetRequestId(), r)
			if err == nil {
				return answer, s.seen(ctx, revision, nil, func() { accepted(answer, revision) })
			}
		}
		if !fault.Is(err, fault.Aborted) {
			return nil, err
		}
		// Somebody else wrote in between, perhaps another wrong code: nothing
		// counts before it is decided on what is there.
		if err := s.store.Follow(ctx); err != nil {
			return nil, err
		}
	}
}

func accepted(a *ownerv1.AcceptTransferResponse, revision int64) *ownerv1.AcceptTransferResponse {
	if a.GetTransfer() != nil {
		a.Transfer.Etag, a.Tie.Etag = kv.Etag(revision), kv.Etag(revision)
	}
	return a
}

// newOwner reads who takes a vehicle over.
func (s *Service) newOwner(ctx context.Context, r *ownerv1.AcceptTransferRequest) (owner.Person, []owner.Consent, error) {
	if name := r.GetNewOwner().GetName(); name != "" {
		return owner.Person{}, nil, fault.InvalidField("new_owner.name", name, "nothing: the service gives one")
	}
	p, err := s.newPerson("new_owner", r.GetNewOwner())
	if err != nil {
		return p, nil, err
	}
	if len(r.GetConsents()) > mostConsents {
		return p, nil, fault.InvalidField("consents", fmt.Sprint(len(r.GetConsents())), fmt.Sprintf("at most %d", mostConsents))
	}
	var consents []owner.Consent
	for i, from := range r.GetConsents() {
		c, err := s.newConsent(ctx, fmt.Sprintf("consents[%d]", i), p.ID, from)
		if err != nil {
			return p, nil, err
		}
		consents = append(consents, c)
	}
	return p, consents, nil
}

// countWrongCode writes one more wrong code down. It answers with the refusal
// once that is done, and with Aborted when somebody was quicker: then it is to
// be decided again.
func (s *Service) countWrongCode(ctx context.Context, offer ownerstore.TransferRecord) error {
	done, err := s.store.CloseTransfer(ctx, offer.WrongCode(s.now()), offer.ModRevision, "", nil)
	return s.counted(ctx, done, err)
}

// countGuess does the same where there is nothing to open, so that it takes as
// long.
func (s *Service) countGuess(ctx context.Context, serial vehicle.Serial) error {
	done, err := s.store.CountGuess(ctx, serial)
	return s.counted(ctx, done, err)
}

func (s *Service) counted(ctx context.Context, done kv.Result, err error) error {
	if err != nil {
		return err
	}
	if err := s.group.Wait(ctx, ownerstore.Service, done.Revision); err != nil {
		return err
	}
	return wrongCode()
}

// handover gives what a change of owner on a day does to the ties and the
// standing of a vehicle: every tie ends that day but those of the people who
// stay, and the new owner's begins. person is empty where nobody knows them.
func (s *Service) handover(ctx context.Context, t owner.Transfer, ties []ownerstore.TieRecord, guard int64, person string, on vehicle.Date, staying []string) ownerstore.Handover {
	now := s.now()
	t.State, t.NewOwner, t.Date, t.Ended = owner.Done, person, on, now
	h := ownerstore.Handover{Transfer: t, Guard: guard, Now: now}
	for _, old := range ties {
		stays := slices.Contains(staying, old.Person) && (old.Role == owner.Caretaker || old.Role == owner.Payer)
		if cut := old.Cut(on); cut != old.Tie && !stays {
			h.Ended = append(h.Ended, ownerstore.TieRecord{Tie: cut, ModRevision: old.ModRevision})
		}
	}
	state := owner.OwnerUnknown
	if person != "" {
		state = owner.InUse
		h.Tie = &owner.Tie{Serial: t.Serial, ID: kv.NewID(), Person: person, Role: owner.Owner, Notices: true, Start: on}
	}
	before := s.store.Standing(t.Serial)
	h.Before = before.ModRevision
	if before.State != state && (before.ModRevision != 0 || state != owner.InUse) {
		h.Standing = &owner.Standing{
			Serial: t.Serial, State: state, Since: on, Note: "transfer " + t.ID, RecordedBy: access.CallerFrom(ctx).Bearer, Updated: now,
		}
	}
	return h
}

func tooMany(h ownerstore.Handover) error {
	if len(h.Ended) > mostEnded {
		return fault.New(fault.FailedPrecondition, "TOO_MANY_TIES", "%s has more than %d ties: end some of them first.", h.Transfer.Serial, mostEnded)
	}
	return nil
}

// RecordTransfer implements the OwnerService.
func (s *Service) RecordTransfer(ctx context.Context, r *ownerv1.RecordTransferRequest) (*ownerv1.Transfer, error) {
	if t, found, err := s.recordedBefore(ctx, r); err != nil || found {
		return t, err
	}
	serial, _, err := resname.Serial("parent", vehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	today := s.today()
	on, err := vehiclewire.Date(r.GetTransferDate())
	if err != nil {
		return nil, fault.InvalidField("transfer_date", r.GetTransferDate().String(), "a day of the calendar")
	}
	if on.IsZero() {
		on = today
	}
	faults := owner.CheckEvidence(r.GetEvidence())
	if on.After(today) {
		faults = append(faults, fault.Field{Name: "transfer_date", Got: on.String(), Want: "today, " + today.String() + ", or earlier"})
	}
	ties, guard := s.store.Ties(serial)
	staying, wrong := stayingOf(r.GetStaying(), bare(ties), today)
	if err := fault.InvalidFields(append(faults, wrong...)); err != nil {
		return nil, err
	}
	person, created, err := s.recordedOwner(r.GetNewOwner())
	if err != nil {
		return nil, err
	}
	t := owner.Transfer{Serial: serial, ID: kv.NewID(), Evidence: r.GetEvidence(), Created: s.now(), RecordedBy: access.CallerFrom(ctx).Bearer}
	h := s.handover(ctx, t, ties, guard, person, on, staying)
	h.Person = created
	if err := tooMany(h); err != nil {
		return nil, err
	}
	answer, revision, err := s.store.Record(ctx, h, r.GetRequestId(), r)
	if fault.Is(err, fault.AlreadyExists) && created != nil {
		return nil, fault.New(fault.AlreadyExists, "PERSON_EXISTS", "There is a person %s already: give the name alone.", person)
	}
	return answer, s.seen(ctx, revision, err, func() { answer.Etag = kv.Etag(revision) })
}

// recordedBefore gives the answer of a request that was answered before. One
// that names a new owner is remembered under their key.
func (s *Service) recordedBefore(ctx context.Context, r *ownerv1.RecordTransferRequest) (*ownerv1.Transfer, bool, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, false, err
	}
	if r.GetNewOwner() == nil {
		done, found, err := s.store.AnsweredPlain(ctx, r.GetRequestId(), r)
		if err != nil || !found {
			return nil, false, err
		}
		t, err := s.answeredTransfer(done, nil)
		return t, true, err
	}
	answer := &ownerv1.Transfer{}
	revision, found, err := s.store.Answered(ctx, r.GetRequestId(), r, answer)
	answer.Etag = kv.Etag(revision)
	return answer, found, err
}

// stayingOf reads who stays: people who look after the vehicle, or pay for it,
// today.
func stayingOf(names []string, ties []owner.Tie, today vehicle.Date) (people []string, wrong []fault.Field) {
	for i, name := range names {
		person, err := ownerwire.PersonID("", name)
		stays := slices.ContainsFunc(ties, func(t owner.Tie) bool {
			return t.Person == person && (t.Role == owner.Caretaker || t.Role == owner.Payer) && t.Lasts(today)
		})
		if err != nil || !stays {
			wrong = append(wrong, fault.Field{Name: fmt.Sprintf("staying[%d]", i), Got: name, Want: "a caretaker or payer of the vehicle today"})
		}
		people = append(people, person)
	}
	return people, wrong
}

// recordedOwner reads the new owner of a recorded transfer: somebody who is
// there, somebody to be created, or nobody.
func (s *Service) recordedOwner(from *ownerv1.Person) (id string, created *owner.Person, err error) {
	if from == nil {
		return "", nil, nil
	}
	if proto.Equal(from, &ownerv1.Person{Name: from.GetName()}) && from.GetName() != "" {
		id, err := ownerwire.PersonID("new_owner.name", from.GetName())
		if err != nil {
			return "", nil, err
		}
		return id, nil, s.store.KnownPerson(id)
	}
	p, err := s.newPerson("new_owner", from)
	if err == nil && s.store.Erased(p.ID) {
		err = neverAgain(p.ID)
	}
	return p.ID, &p, err
}
