package accessrpc

import (
	"context"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	buildv1 "halfshaft/proto/halfshaft/build/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accessstore"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/access/audit"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/vehicle"
)

// CreateAssignment implements the AccessService. What an owner makes is their
// consent, whatever they sent.
func (s *Service) CreateAssignment(ctx context.Context, r *accessv1.CreateAssignmentRequest) (*accessv1.Assignment, error) {
	answer := &accessv1.Assignment{}
	if revision, found, err := s.before(ctx, r, answer); err != nil {
		return nil, err
	} else if found {
		return s.shown(ctx, answer, revision)
	}
	serial, _, err := resname.Serial("parent", "vehicles/{serial}", r.GetParent())
	if err != nil {
		return nil, err
	}
	a, holds, err := s.proposed(ctx, r.GetAssignment())
	if err != nil {
		return nil, err
	}
	if err := s.vehicleThere(ctx, serial); err != nil {
		return nil, err
	}
	a.Vehicle, a.ID, a.Created, a.End, a.RecordedBy = serial, kv.NewID(), s.now(), access.AssignmentEnd{}, access.CallerFrom(ctx).Bearer
	if a.Ground == access.Consent {
		tied, err := s.eyesOf(ctx).tied(a.Vehicle, a.ConsentedBy)
		if err != nil {
			return nil, err
		}
		if !tied {
			return nil, fault.InvalidField("assignment.consented_by", a.ConsentedBy, "an owner, executor or caretaker of "+string(serial)+" today")
		}
	}
	answer = accesswire.AssignmentProto(a)
	done, err := s.store.CreateAssignment(audit.Making(ctx, answer.GetName()), a, r.GetRequestId(), r, holds...)
	if err := s.settled(ctx, done, err, answer); err != nil {
		return nil, err
	}
	return s.shown(ctx, answer, done.Revision)
}

// proposed reads an assignment that is to be made, and what must still hold
// when it is written.
func (s *Service) proposed(ctx context.Context, p *accessv1.Assignment) (access.Assignment, []accessstore.Condition, error) {
	a, unread := accesswire.AssignmentFields(p)
	if c := access.CallerFrom(ctx); c.Role == access.Owner {
		a.Ground, a.ConsentedBy = access.Consent, c.Person
	}
	a, faults := access.ProposedAssignment(a, s.today())
	if len(unread) > 0 { // nothing else can be said of days that are none
		faults = append(unread, withoutDays(faults)...)
	}
	var holds []accessstore.Condition
	if id, ok := access.OrganisationID(a.Organisation); ok {
		o, wrong := s.openOrganisation("organisation", id)
		if wrong != nil {
			faults = append(faults, *wrong)
		}
		holds = append(holds, accessstore.OrganisationUnchanged(o))
	}
	return a, holds, fault.InvalidFields(fault.FieldsUnder("assignment", faults))
}

func withoutDays(faults []fault.Field) []fault.Field {
	var out []fault.Field
	for _, f := range faults {
		if f.Name != "start_date" && f.Name != "last_date" {
			out = append(out, f)
		}
	}
	return out
}

// vehicleThere refuses a vehicle that is not there as the build service does,
// which is asked for the caller.
func (s *Service) vehicleThere(ctx context.Context, serial vehicle.Serial) error {
	_, err := s.builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/" + string(serial)})
	if status.Code(err) == codes.Unimplemented { // this process runs access and knows no peer for build
		return &fault.Error{
			Kind: fault.Unavailable, Reason: "BUILD_OUT_OF_REACH", Cause: err,
			Message: "Which vehicles there are is not known to this process: give it the address of the build service (--peer build=HOST:PORT).",
		}
	}
	return err
}

// GetAssignment implements the AccessService.
func (s *Service) GetAssignment(ctx context.Context, r *accessv1.GetAssignmentRequest) (*accessv1.Assignment, error) {
	a, err := s.seen(ctx, r.GetName())
	if err != nil {
		return nil, err
	}
	return s.shown(ctx, accesswire.AssignmentProto(a.Assignment), a.ModRevision)
}

// seen gives an assignment that the caller sees.
func (s *Service) seen(ctx context.Context, name string) (accessstore.AssignmentRecord, error) {
	serial, id, err := accesswire.AssignmentID("name", name)
	if err != nil {
		return accessstore.AssignmentRecord{}, err
	}
	a, there := s.store.Assignment(serial, id)
	if there {
		there, err = s.eyesOf(ctx).sees(a.Assignment)
	}
	if err == nil && !there {
		err = access.NoAssignment(id)
	}
	return a, err
}

// EndAssignment implements the AccessService.
func (s *Service) EndAssignment(ctx context.Context, r *accessv1.EndAssignmentRequest) (*accessv1.Assignment, error) {
	answer := &accessv1.Assignment{}
	if revision, found, err := s.before(ctx, r, answer); err != nil {
		return nil, err
	} else if found {
		return s.shown(ctx, answer, revision)
	}
	a, err := s.seen(ctx, r.GetName())
	if err != nil {
		return nil, err
	}
	if err := current("assignment", r.GetEtag(), a.ModRevision); err != nil {
		return nil, err
	}
	caller := access.CallerFrom(ctx)
	if err := a.MayEnd(caller, r.GetComplete()); err != nil {
		return nil, err
	}
	end, faults := access.ProposedEnd(access.AssignmentEnd{Time: s.now(), Complete: r.GetComplete(), Reason: r.GetReason()}, caller)
	if err := fault.InvalidFields(faults); err != nil {
		return nil, err
	}
	switch {
	case a.Ended():
		return nil, fault.New(fault.FailedPrecondition, "ASSIGNMENT_ENDED", "This assignment was ended on %s.", vehicle.DateOf(a.End.Time).Long())
	case s.today().After(a.Last):
		return nil, fault.New(fault.FailedPrecondition, "ASSIGNMENT_OVER", "The last day of this assignment was %s.", a.Last.Long())
	}
	a.End = end
	answer = accesswire.AssignmentProto(a.Assignment)
	done, err := s.store.ReplaceAssignment(ctx, a.Assignment, a.ModRevision, r.GetRequestId(), r)
	if err := s.settled(ctx, done, err, answer); err != nil {
		return nil, err
	}
	return s.shown(ctx, answer, done.Revision)
}

// today is the day in UTC, by which ties and assignments count.
func (s *Service) today() vehicle.Date { return vehicle.DateOf(s.now()) }

// shown completes an assignment for its caller.
func (s *Service) shown(ctx context.Context, p *accessv1.Assignment, revision int64) (*accessv1.Assignment, error) {
	a, err := accesswire.Assignment(p)
	if err != nil {
		return nil, err
	}
	return s.eyesOf(ctx).show(a, revision)
}
