package ownerrpc

import (
	"context"
	"slices"
	"strings"

	"google.golang.org/protobuf/proto"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/resname"
	"halfshaft/services/owner"
	"halfshaft/services/owner/ownerstore"
	"halfshaft/services/owner/ownerwire"
	"halfshaft/services/vehicle"
)

const (
	vehicleForm = "vehicles/{serial}"
	allVehicles = "vehicles/-"
)

// ListTies implements the OwnerService. A vehicle that never had a tie has an
// empty list: whether it was ever built is not known here.
func (s *Service) ListTies(ctx context.Context, r *ownerv1.ListTiesRequest) (*ownerv1.ListTiesResponse, error) {
	size, err := page.Size(r.GetPageSize(), usualPage, mostPage)
	if err != nil {
		return nil, err
	}
	after, err := page.After(r, r.GetPageToken())
	if err != nil {
		return nil, err
	}
	serials := s.store.Serials()
	if r.GetParent() != allVehicles {
		serial, _, err := resname.Serial("parent", vehicleForm, r.GetParent())
		if err != nil {
			return nil, err
		}
		serials = []vehicle.Serial{serial}
	}
	last, skip, _ := strings.Cut(after, "/")
	from, _ := slices.BinarySearch(serials, vehicle.Serial(last))
	caller := access.CallerFrom(ctx)
	out := &ownerv1.ListTiesResponse{}
	for _, serial := range serials[from:] {
		list, _ := s.store.Ties(serial)
		if string(serial) == last {
			list = list[1+slices.IndexFunc(list, func(t ownerstore.TieRecord) bool { return t.ID == skip }):]
		}
		for _, t := range list {
			if !mayKnow(caller, t.Tie) {
				continue
			}
			if len(out.Ties) == size {
				end := out.Ties[size-1]
				serial, id, err := ownerwire.TieID("name", end.GetName())
				out.NextPageToken = page.Token(r, string(serial)+"/"+id)
				return out, err
			}
			out.Ties = append(out.Ties, tieWithEtag(ownerwire.TieProto(t.Tie), t.ModRevision))
		}
	}
	return out, nil
}

// CreateTie implements the OwnerService.
func (s *Service) CreateTie(ctx context.Context, r *ownerv1.CreateTieRequest) (*ownerv1.Tie, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if done, found, err := s.store.AnsweredPlain(ctx, r.GetRequestId(), r); err != nil || found {
		return answeredTie(done, err)
	}
	serial, _, err := resname.Serial("parent", vehicleForm, r.GetParent())
	if err != nil {
		return nil, err
	}
	t, faults := ownerwire.Tie(r.GetTie())
	t.Serial, t.ID = serial, kv.NewID()
	if r.GetTie().GetStartDate() == nil {
		t.Start = s.today()
	}
	if err := fault.InvalidFields(fault.FieldsUnder("tie", append(faults, t.Faults()...))); err != nil {
		return nil, err
	}
	if !s.store.HasPerson(t.Person) {
		return nil, fault.InvalidField("tie.person", r.GetTie().GetPerson(), "a person who is there")
	}
	beside, guard := s.store.Ties(serial)
	if err := owner.Admit(bare(beside), t, r.GetJoint()); err != nil {
		return nil, err
	}
	done, err := s.store.CreateTie(ctx, t, guard, r.GetRequestId(), r)
	return s.writtenTie(ctx, t, done, err)
}

// bare gives ties without their revisions.
func bare(records []ownerstore.TieRecord) []owner.Tie {
	out := make([]owner.Tie, len(records))
	for i, r := range records {
		out[i] = r.Tie
	}
	return out
}

// EndTie implements the OwnerService.
func (s *Service) EndTie(ctx context.Context, r *ownerv1.EndTieRequest) (*ownerv1.Tie, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if done, found, err := s.store.AnsweredPlain(ctx, r.GetRequestId(), r); err != nil || found {
		return answeredTie(done, err)
	}
	old, err := s.tieBasedOn(r.GetTie())
	if err != nil {
		return nil, err
	}
	asked, faults := ownerwire.Tie(&ownerv1.Tie{Person: ownerwire.PersonName(old.Person), EndDate: r.GetTie().GetEndDate()})
	if err := fault.InvalidFields(fault.FieldsUnder("tie", faults)); err != nil {
		return nil, err
	}
	if r.GetTie().GetEndDate() == nil {
		asked.End = s.today()
	}
	t, err := old.Ended(asked.End)
	if err != nil {
		return nil, fault.Under("tie", err)
	}
	done, err := s.store.ReplaceTie(ctx, t, old.ModRevision, r.GetRequestId(), r)
	return s.writtenTie(ctx, t, done, err)
}

// UpdateTie implements the OwnerService.
func (s *Service) UpdateTie(ctx context.Context, r *ownerv1.UpdateTieRequest) (*ownerv1.Tie, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	if done, found, err := s.store.AnsweredPlain(ctx, r.GetRequestId(), r); err != nil || found {
		return answeredTie(done, err)
	}
	old, err := s.tieBasedOn(r.GetTie())
	if err != nil {
		return nil, err
	}
	if !old.End.IsZero() {
		return nil, fault.New(fault.FailedPrecondition, "TIE_ENDED", "The tie ended on %s: nothing goes to its person any more.", old.End)
	}
	t := old.Tie
	t.Notices = r.GetTie().GetNotices()
	done, err := s.store.ReplaceTie(ctx, t, old.ModRevision, r.GetRequestId(), r)
	return s.writtenTie(ctx, t, done, err)
}

// tieBasedOn gives the tie that a change names, if it is still as the change
// was based on.
func (s *Service) tieBasedOn(p *ownerv1.Tie) (ownerstore.TieRecord, error) {
	serial, id, err := ownerwire.TieID("tie.name", p.GetName())
	if err != nil {
		return ownerstore.TieRecord{}, err
	}
	revision, err := kv.ParseEtag(p.GetEtag())
	if err != nil {
		return ownerstore.TieRecord{}, fault.Under("tie", err)
	}
	old, ok := s.store.Tie(serial, id)
	if !ok {
		return old, fault.New(fault.NotFound, "TIE_NOT_FOUND", "There is no tie %s of the vehicle %s here.", id, serial)
	}
	if old.ModRevision != revision {
		return old, changedMeanwhile("tie", ownerwire.TieName(serial, id))
	}
	return old, nil
}

// writtenTie answers a write once everybody here has seen it.
func (s *Service) writtenTie(ctx context.Context, t owner.Tie, done kv.Result, err error) (*ownerv1.Tie, error) {
	if err != nil || done.Replayed {
		return answeredTie(done, err)
	}
	if err := s.group.Wait(ctx, ownerstore.Service, done.Revision); err != nil {
		return nil, err
	}
	return tieWithEtag(ownerwire.TieProto(t), done.Revision), nil
}

// answeredTie reads the tie that a request was answered with before.
func answeredTie(done kv.Result, err error) (*ownerv1.Tie, error) {
	if err != nil {
		return nil, err
	}
	var t ownerv1.Tie
	if err := proto.Unmarshal(done.Answer, &t); err != nil {
		return nil, err
	}
	return tieWithEtag(&t, done.Revision), nil
}

func tieWithEtag(t *ownerv1.Tie, revision int64) *ownerv1.Tie {
	t.Etag = kv.Etag(revision)
	return t
}
