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

// matters are what a link confirms.
var matters = map[reminderv1.ConfirmationMatter]reminder.Confirms{
	reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_TRANSFER: reminder.GivesAway,
	reminderv1.ConfirmationMatter_CONFIRMATION_MATTER_CONTACT:  reminder.Moves,
}

// SendConfirmation implements the ReminderService.
func (s *Service) SendConfirmation(ctx context.Context, r *reminderv1.SendConfirmationRequest) (*reminderv1.SendConfirmationResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	var wrong []fault.Field
	serial, _, err := resname.Serial("parent", reminderwire.VehicleForm, r.GetParent())
	if err != nil {
		wrong = append(wrong, fault.FieldsOf("", err)...)
	}
	person, err := reminderwire.ID("person", reminderwire.PersonForm, r.GetPerson())
	if err != nil {
		wrong = append(wrong, fault.FieldsOf("", err)...)
	}
	matter, known := matters[r.GetMatter()]
	if !known {
		wrong = append(wrong, fault.Field{Name: "matter", Got: r.GetMatter().String(), Want: "TRANSFER or CONTACT"})
	}
	if err := fault.InvalidFields(wrong); err != nil {
		return nil, err
	}
	return s.Job.SendConfirmation(ctx, reminderstore.Request{ID: r.GetRequestId(), Payload: r}, serial, person, matter)
}
