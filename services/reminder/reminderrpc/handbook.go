package reminderrpc

import (
	"context"
	"strings"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/resname"
	"halfshaft/services/reminder/reminderjob"
	"halfshaft/services/reminder/reminderstore"
	"halfshaft/services/reminder/reminderwire"
)

// mostWhy bounds, in bytes, why a handbook is issued, as the handbooks do.
const mostWhy = 400

// SendHandbook implements the ReminderService.
func (s *Service) SendHandbook(ctx context.Context, r *reminderv1.SendHandbookRequest) (*reminderv1.SendHandbookResponse, error) {
	if err := kv.CheckRequestID(r.GetRequestId()); err != nil {
		return nil, err
	}
	ask, err := handbookAsk(r)
	if err != nil {
		return nil, err
	}
	return s.Job.SendHandbook(ctx, reminderstore.Request{ID: r.GetRequestId(), Payload: r}, ask)
}

// handbookAsk reads what is asked for; everything wrong with it is named.
func handbookAsk(r *reminderv1.SendHandbookRequest) (ask reminderjob.HandbookAsk, err error) {
	var wrong []fault.Field
	refuse := func(err error) { wrong = append(wrong, fault.FieldsOf("", err)...) }
	if ask.Serial, _, err = resname.Serial("parent", reminderwire.VehicleForm, r.GetParent()); err != nil {
		refuse(err)
	}
	if r.GetPerson() != "" {
		if ask.Person, err = reminderwire.ID("person", reminderwire.PersonForm, r.GetPerson()); err != nil {
			refuse(err)
		}
	}
	ask.Channel = reminderwire.Channel(r.GetChannel())
	if ask.Channel == "" && r.GetChannel() != reminderv1.Channel_CHANNEL_UNSPECIFIED {
		refuse(fault.InvalidField("channel", r.GetChannel().String(), "mail, text or letter"))
	}
	if r.GetIssue() != "" {
		of, _, err := resname.Serial("issue", reminderwire.HandbookIssueForm, r.GetIssue())
		switch {
		case err != nil:
			refuse(err)
		case ask.Serial != "" && of != ask.Serial:
			refuse(fault.InvalidField("issue", r.GetIssue(), "an issue of the vehicle "+string(ask.Serial)))
		}
		ask.Issue = r.GetIssue()
	}
	if ask.Text = r.GetText(); fault.Longer(ask.Text, mostWhy) || strings.ContainsAny(ask.Text, "\r\n\t") {
		refuse(fault.InvalidField("text", fault.NotRepeated+")", "one line of "+fault.AtMost(mostWhy)+", without names"))
	}
	return ask, fault.InvalidFields(wrong)
}
