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
)

// eyes are what one caller sees of assignments, today. The ties that a consent
// needs are asked for once a vehicle, and only where something rests on them.
type eyes struct {
	s      *Service
	ctx    context.Context
	caller access.Caller
	today  vehicle.Date
	tiesOf map[vehicle.Serial][]access.Tie
}

func (s *Service) eyesOf(ctx context.Context) *eyes {
	return &eyes{s: s, ctx: ctx, caller: access.CallerFrom(ctx), today: s.today(), tiesOf: map[vehicle.Serial][]access.Tie{}}
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
		if t.Holds(person, e.today) {
			return true, nil
		}
	}
	return false, nil
}

// ties gives the ties of a vehicle, or of all, as the owner service gives them
// to whoever the context speaks for.
func (s *Service) ties(ctx context.Context, parent string) ([]access.Tie, error) {
	var all []access.Tie
	err := page.Each(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := s.owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: parent, PageSize: mostPage, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	}, func(p *ownerv1.Tie) error {
		t, err := accesswire.Tie(p)
		all = append(all, t)
		return err
	})
	return all, err
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
		own := map[vehicle.Serial]bool{}
		for _, t := range ties {
			own[t.Vehicle] = own[t.Vehicle] || t.Holds(e.caller.Person, e.today)
		}
		return func(serial vehicle.Serial) (bool, error) { return own[serial], nil }, nil
	case access.Dealer:
		return e.assigned, nil
	}
	return every, nil
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
