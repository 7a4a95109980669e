package reminderrpc

import (
	"context"
	"fmt"
	"slices"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/page"
	"halfshaft/services/internal/rpcerr"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// CreateOptOut implements the ReminderService.
func (s *Service) CreateOptOut(ctx context.Context, r *reminderv1.CreateOptOutRequest) (*reminderv1.OptOut, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	o, err := reminderwire.OptOut(r.GetOptOut())
	if err != nil {
		return nil, fault.Under("opt_out", err)
	}
	if !o.Purpose.Ends() {
		return nil, fault.InvalidField("opt_out.purpose", r.GetOptOut().GetPurpose().String(),
			"service notices or the letter at the year's end: nothing stops a safety campaign, and a handbook is sent once")
	}
	if !slices.Contains(reminder.Ways(), o.Way) {
		return nil, fault.InvalidField("opt_out.way", o.Way, fmt.Sprintf("one of %v", reminder.Ways()))
	}
	if err := s.wasTied(ctx, o); err != nil {
		return nil, err
	}
	o.Created = s.now()
	o, err = s.Store.OptOut(ctx, reminderstore.Request{ID: r.GetRequestId(), Payload: r}, o)
	if err != nil {
		return nil, err
	}
	return reminderwire.OptOutProto(o), nil
}

// wasTied refuses an opt-out of somebody who never was anything to the vehicle:
// a slip of the pen would leave whom it was meant for unheard.
func (s *Service) wasTied(ctx context.Context, o reminder.OptOut) error {
	found := false
	err := page.Each(func(token string) ([]*ownerv1.Tie, string, error) {
		r, err := s.Job.Owners.ListTies(reminderjob.AsService(ctx), &ownerv1.ListTiesRequest{Parent: reminderwire.VehicleName(o.Serial), PageSize: 500, PageToken: token})
		return r.GetTies(), r.GetNextPageToken(), err
	}, func(t *ownerv1.Tie) error {
		found = found || t.GetPerson() == reminderwire.PersonName(o.Person)
		return nil
	})
	if err != nil {
		return rpcerr.FromStatus(err)
	}
	if !found {
		return fault.InvalidField("opt_out.person", reminderwire.PersonName(o.Person), "somebody who is or was tied to "+string(o.Serial))
	}
	return nil
}

// EndOptOut implements the ReminderService.
func (s *Service) EndOptOut(ctx context.Context, r *reminderv1.EndOptOutRequest) (*reminderv1.EndOptOutResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	id, err := reminderwire.ID("name", reminderwire.OptOutForm, r.GetName())
	if err != nil {
		return nil, err
	}
	o, ok := reminder.ParseOptOut(id)
	if !ok {
		return nil, fault.InvalidField("name", r.GetName(), "optOuts/, the serial, a point and the person, for the year's letter with .year-letter behind")
	}
	if err := s.Store.EndOptOut(ctx, reminderstore.Request{ID: r.GetRequestId(), Payload: r}, o); err != nil {
		return nil, err
	}
	return &reminderv1.EndOptOutResponse{}, nil
}

// ListOptOuts implements the ReminderService.
func (s *Service) ListOptOuts(ctx context.Context, r *reminderv1.ListOptOutsRequest) (*reminderv1.ListOptOutsResponse, error) {
	serial, err := vehicleOrAll(r.GetParent())
	if err != nil {
		return nil, err
	}
	size, after, err := pageOf(r, r.GetPageSize(), r.GetPageToken())
	if err != nil {
		return nil, err
	}
	found, err := s.Store.OptOuts(ctx, serial, after, size+1)
	if err != nil {
		return nil, err
	}
	out := &reminderv1.ListOptOutsResponse{}
	found, out.NextPageToken = page.Cut(r, found, size, reminder.OptOut.ID)
	for _, o := range found {
		out.OptOuts = append(out.OptOuts, reminderwire.OptOutProto(o))
	}
	return out, nil
}
