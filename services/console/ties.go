package console

import (
	"context"
	"slices"

	"github.com/google/uuid"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// AddPerson makes the record of somebody.
func (c *Console) AddPerson(ctx context.Context, given PersonChange) error {
	p := &ownerv1.Person{}
	if err := given.onto(p); err != nil {
		return err
	}
	p, err := c.Owners.CreatePerson(ctx, &ownerv1.CreatePersonRequest{Person: p, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(p, func(s *sheet) { personSheet(s, p) })
}

// AddTie says that somebody is something to a vehicle from a day on: owner,
// caretaker, payer or executor.
func (c *Console) AddTie(ctx context.Context, serial, person, role string, since vehicle.Date, notices, joint bool) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	value, ok := enumOf(ownerv1.Role_value, "ROLE_", role)
	if !ok {
		return fault.InvalidField("role", role, kinds(ownerv1.Role_name, "ROLE_"))
	}
	t, err := c.Owners.CreateTie(ctx, &ownerv1.CreateTieRequest{
		Parent: "vehicles/" + serialOf(name), Joint: joint, RequestId: uuid.NewString(),
		Tie: &ownerv1.Tie{Person: personName(person), Role: ownerv1.Role(value), Notices: notices, StartDate: vehiclewire.DateProto(since)},
	})
	return c.printTie(t, err)
}

// EndTie says that somebody is no longer what they were to a vehicle, from a
// day on.
func (c *Console) EndTie(ctx context.Context, serial, person string, on vehicle.Date) error {
	t, err := c.tieOf(ctx, serial, person)
	if err != nil {
		return err
	}
	t.EndDate = vehiclewire.DateProto(on)
	t, err = c.Owners.EndTie(ctx, &ownerv1.EndTieRequest{Tie: t, RequestId: uuid.NewString()})
	return c.printTie(t, err)
}

// SwitchNotices says whether service notices about a vehicle go to somebody who
// is tied to it.
func (c *Console) SwitchNotices(ctx context.Context, serial, person string, notices bool) error {
	t, err := c.tieOf(ctx, serial, person)
	if err != nil {
		return err
	}
	t.Notices = notices
	t, err = c.Owners.UpdateTie(ctx, &ownerv1.UpdateTieRequest{Tie: t, RequestId: uuid.NewString()})
	return c.printTie(t, err)
}

// ties gives the ties of one vehicle, or with "vehicles/-" of all.
func (c *Console) ties(ctx context.Context, parent string) ([]*ownerv1.Tie, error) {
	return page.All(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := c.Owners.ListTies(ctx, &ownerv1.ListTiesRequest{Parent: parent, PageSize: 500, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	})
}

// tieOf gives the tie of somebody to a vehicle that lasts.
func (c *Console) tieOf(ctx context.Context, serial, person string) (*ownerv1.Tie, error) {
	name, err := c.open(ctx, serial)
	if err != nil {
		return nil, err
	}
	ties, err := c.ties(ctx, "vehicles/"+serialOf(name))
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(ties, func(t *ownerv1.Tie) bool { return t.GetPerson() == personName(person) && t.GetEndDate() == nil })
	if i < 0 {
		return nil, fault.InvalidField("person", person, "somebody who is tied to "+serialOf(name)+" now, as \"halfshaft people\" prints it")
	}
	return ties[i], nil
}

func (c *Console) printTie(t *ownerv1.Tie, err error) error {
	if err != nil {
		return err
	}
	return c.print(t, func(s *sheet) { s.line("%s: %s", serialOf(t.GetName()), tieWords(t, idOf(t.GetPerson()))) })
}
