package reminderrpc

import (
	"context"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// deadLink is the one refusal of a link, whatever is wrong with it.
func deadLink() error {
	return fault.New(fault.NotFound, "LINK_DEAD", "This link leads nowhere any more.")
}

// CheckLink implements the ReminderService.
func (s *Service) CheckLink(ctx context.Context, r *reminderv1.CheckLinkRequest) (*reminderv1.CheckLinkResponse, error) {
	serial, _, err := resname.Serial("vehicle", reminderwire.VehicleForm, r.GetVehicle())
	if err != nil {
		return nil, deadLink()
	}
	id, err := reminderwire.ID("person", reminderwire.PersonForm, r.GetPerson())
	if err != nil {
		return nil, deadLink()
	}
	epoch, _, err := s.Store.LinkEpoch(ctx, id)
	if err != nil {
		return nil, err
	}
	person, tied, err := s.tied(ctx, serial, id)
	if err != nil {
		return nil, err
	}
	if !tied || int(r.GetEpoch()) != epoch {
		return nil, deadLink()
	}
	out := &reminderv1.CheckLinkResponse{Person: habits(person)}
	if r.GetNotice() == "" {
		return out, nil
	}
	notice, err := reminderwire.ID("notice", reminderwire.NoticeForm, r.GetNotice())
	if err != nil {
		return nil, deadLink()
	}
	kept, err := s.Store.Notice(ctx, notice)
	switch {
	case fault.Is(err, fault.NotFound), err == nil && (kept.Serial != serial || kept.Person != id):
		return nil, deadLink()
	case err != nil:
		return nil, err
	}
	out.Notice = noticeProto(kept)
	if kept.Purpose == reminder.Confirm {
		if out.AddressReplaced, err = s.Job.Replaced(ctx, kept.Notice, person); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// WithdrawLinks implements the ReminderService.
func (s *Service) WithdrawLinks(ctx context.Context, r *reminderv1.WithdrawLinksRequest) (*reminderv1.WithdrawLinksResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	person, err := reminderwire.ID("person", reminderwire.PersonForm, r.GetPerson())
	if err != nil {
		return nil, err
	}
	epoch, err := s.Store.RaiseEpoch(ctx, reminderstore.Request{ID: r.GetRequestId(), Payload: r}, person)
	if err != nil {
		return nil, err
	}
	return &reminderv1.WithdrawLinksResponse{Epoch: int32(epoch)}, nil
}
