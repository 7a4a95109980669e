package console

import (
	"context"
	"strings"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
)

// HandbookSending says whose handbook goes to whom; what is empty is decided by
// the service.
type HandbookSending struct {
	To    string // identifier of a person
	By    string // "mail", "text" or "letter"
	Issue string // its number
	Why   string // without names
}

// SendHandbook sends the handbook of a vehicle.
func (c *Console) SendHandbook(ctx context.Context, serial string, to HandbookSending) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	ask := &reminderv1.SendHandbookRequest{
		Parent: "vehicles/" + serialOf(name), Text: to.Why, RequestId: uuid.NewString(),
		Channel: reminderv1.Channel(reminderv1.Channel_value["CHANNEL_"+strings.ToUpper(to.By)]),
	}
	if to.To != "" {
		ask.Person = "people/" + strings.TrimPrefix(to.To, "people/")
	}
	if to.Issue != "" {
		ask.Issue = ask.GetParent() + "/handbookIssues/" + to.Issue
	}
	m, err := c.Reminders.SendHandbook(ctx, ask)
	if err != nil {
		return err
	}
	return c.print(m, func(s *sheet) {
		issued := "as it was issued before"
		if m.GetIssued() {
			issued = "issued now"
		}
		s.line("%s: issue %s of the handbook, %s", serialOf(name), idOf(m.GetIssue()), issued)
		for _, n := range m.GetNotices() {
			s.line("  on its way to %s by %s", idOf(n.GetPerson()), strings.ToLower(strings.TrimPrefix(n.GetChannel().String(), "CHANNEL_")))
		}
		for _, why := range m.GetMissed() {
			s.text("  ", why)
		}
	})
}
