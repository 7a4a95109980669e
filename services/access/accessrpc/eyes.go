package accessrpc

import (
	"context"

	accessv1 "halfshaft/proto/halfshaft/access/v1"
	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/access"
	"halfshaft/services/access/accesswire"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// eyes are what one caller sees of assignments, today. The ties that a consent
// needs are asked for once a vehicle, and only where something rests on them.
type eyes struct {
	s      *Service
	ctx    context.Context
	caller access.Caller
	today  vehicle.Date
	tiesOf map[vehicle.Serial][]*ownerv1.Tie
}

func (s *Service) eyesOf(ctx context.Context) *eyes {
	return &eyes{s: s, ctx: ctx, caller: access.CallerFrom(ctx), today: s.today(), tiesOf: map[vehicle.Serial][]*ownerv1.Tie{}}
}

// itself is as whom the service asks for the ties that its own decision rests
// on. Nothing of them goes to the caller.
var itself = access.Caller{Role: access.Service, Bearer: "access"}

// tied reports whether a person is the vehicle's owner, caretaker or executor
// today.
func (e *eyes) tied(of vehicle.Serial, person string) (bool, error) {
	ties, asked := e.tiesOf[of]
	if !asked {
		var err error
		if ties, err = e.s.ties(access.NewContext(e.ctx, itself), "vehicles/"+string(of)); err != nil {
			return false, err
		}
		e.tiesOf[of] = ties
	}
	for _, t := range ties {
		if ok, err := gives(t, person, e.today); ok || err != nil {
			return ok, err
		}
	}
	return false, nil
}

// ties gives the ties of a vehicle, or of all, as the owner service gives them
// to whoever the context speaks for.
func (s *Service) ties(ctx context.Context, parent string) ([]*ownerv1.Tie, error) {
	return page.All(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := s.owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: parent, PageSize: mostPage, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	})
}

// gives reports whether a tie gives a person rights on a day: to own, keep or
// administer a vehicle does, to pay for it does not.
func gives(t *ownerv1.Tie, person string, on vehicle.Date) (bool, error) {
	switch t.GetRole() {
	case ownerv1.Role_ROLE_OWNER, ownerv1.Role_ROLE_CARETAKER, ownerv1.Role_ROLE_EXECUTOR:
	default:
		return false, nil
	}
	start, err := vehiclewire.Date(t.GetStartDate())
	if err != nil {
		return false, err
	}
	end, err := vehiclewire.Date(t.GetEndDate())
	if err != nil {
		return false, err
	}
	return t.GetPerson() == person && !on.Before(start) && (end.IsZero() || on.Before(end)), nil
}

// open decides whether an assignment lets its organisation see the vehicle
// today.
func (e *eyes) open(a access.Assignment) (bool, error) {
	id, _ := access.OrganisationID(a.Organisation)
	organisation, there := e.s.store.Organisation(id)
	var failed error
	open := a.Open(e.today, there && organisation.Open(), func(person string) bool {
		tied, err := e.tied(a.Vehicle, person)
		failed = err
		return tied
	})
	return open, failed
}

// sees decides whether the caller sees an assignment of a vehicle that is
// theirs: a dealer their organisation's, an owner all but what a former owner
// consented to, which is over with their tie and was theirs to give.
func (e *eyes) sees(a access.Assignment) (bool, error) {
	switch e.caller.Role {
	case access.Dealer:
		return e.caller.Organisation != "" && a.Organisation == e.caller.Organisation, nil
	case access.Owner:
		if a.Ground != access.Consent || a.ConsentedBy == e.caller.Person {
			return true, nil
		}
		return e.tied(a.Vehicle, a.ConsentedBy)
	}
	return true, nil
}

// show writes an assignment for the caller. Who consented is for themselves to
// see and for the works: an owner is not told of another person, nor is a
// dealer. By which name one of a dealer's people signs in is not an owner's to
// know either.
func (e *eyes) show(a access.Assignment, revision int64) (*accessv1.Assignment, error) {
	open, err := e.open(a)
	if err != nil {
		return nil, err
	}
	p := accesswire.AssignmentProto(a)
	p.Open, p.Etag = open, kv.Etag(revision)
	if e.caller.Role.Limited() && (e.caller.Person == "" || a.ConsentedBy != e.caller.Person) {
		p.ConsentedBy = ""
	}
	if e.caller.Role == access.Owner {
		p.RecordedBy = own(p.GetRecordedBy(), e.caller.Bearer)
		if p.GetEnd() != nil {
			p.End.RecordedBy = own(p.GetEnd().GetRecordedBy(), e.caller.Bearer)
		}
	}
	return p, nil
}

// own gives a name that is the caller's, and of anybody else's nothing.
func own(name, callers string) string {
	if name == callers {
		return name
	}
	return ""
}

// mine gives of which vehicles the caller lists assignments, where they ask
// about all.
func (e *eyes) mine() (func(vehicle.Serial) (bool, error), error) {
	switch e.caller.Role {
	case access.Owner:
		ties, err := e.s.ties(e.ctx, allVehicles)
		if err != nil {
			return nil, err
		}
		own := map[string]bool{}
		for _, t := range ties {
			ok, err := gives(t, e.caller.Person, e.today)
			if err != nil {
				return nil, err
			}
			if ok {
				own[vehicleOf(t)] = true
			}
		}
		return func(serial vehicle.Serial) (bool, error) { return own[string(serial)], nil }, nil
	case access.Dealer:
		return e.assigned, nil
	}
	return func(vehicle.Serial) (bool, error) { return true, nil }, nil
}

// assigned reports whether a vehicle is open to the caller's organisation: one
// that was, or will be, is none of theirs today.
func (e *eyes) assigned(serial vehicle.Serial) (bool, error) {
	for _, a := range e.s.store.Assignments(serial) {
		if a.Organisation != e.caller.Organisation {
			continue
		}
		if open, err := e.open(a.Assignment); open || err != nil {
			return open, err
		}
	}
	return false, nil
}
