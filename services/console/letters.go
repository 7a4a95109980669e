package console

import (
	"context"
	"fmt"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// PrintLetters hands the letters that wait to save as one PDF.
func (c *Console) PrintLetters(ctx context.Context, most int, save func(pdf []byte) (string, error)) error {
	r, err := c.Reminders.PrintLetters(ctx, &reminderv1.PrintLettersRequest{PageSize: int32(most)})
	if err != nil {
		return err
	}
	if len(r.GetNotices()) == 0 {
		return c.print(r, func(s *sheet) { s.line("No letter waits to be printed.") })
	}
	path, err := save(r.GetPdf())
	if err != nil {
		return err
	}
	return c.print(&reminderv1.PrintLettersResponse{Notices: r.GetNotices(), Waiting: r.GetWaiting()}, func(s *sheet) {
		s.line("%s in %s:", plural(len(r.GetNotices()), "letter", "letters"), path)
		for _, n := range r.GetNotices() {
			s.line("  %s to %s (%s)", idOf(n.GetVehicle()), idOf(n.GetPerson()), n.GetName())
		}
		if r.GetWaiting() > 0 {
			s.line("%d more wait.", r.GetWaiting())
		}
		s.text("", "When they are in the post, say so with \"halfshaft letters posted\" and their names, or with --all: until then they may be printed again.")
	})
}

// MarkPosted says that letters were posted; without names, all that were
// printed and wait for it.
func (c *Console) MarkPosted(ctx context.Context, names []string, on vehicle.Date) error {
	if len(names) == 0 {
		waiting, err := c.lettersWaiting(ctx)
		if err != nil {
			return err
		}
		names = waiting
	}
	if len(names) == 0 {
		return c.print(&reminderv1.MarkPostedResponse{}, func(s *sheet) { s.line("No letter waits to be posted.") })
	}
	const most = 100
	all := &reminderv1.MarkPostedResponse{}
	for len(names) > 0 {
		n := min(most, len(names))
		r, err := c.Reminders.MarkPosted(ctx, &reminderv1.MarkPostedRequest{
			Notices: names[:n], PostedDate: vehiclewire.DateProto(on), RequestId: uuid.NewString(),
		})
		if err != nil {
			return err
		}
		all.Notices, names = append(all.Notices, r.GetNotices()...), names[n:]
	}
	return c.print(all, func(s *sheet) {
		for _, n := range all.GetNotices() {
			if n.GetState() != reminderv1.NoticeState_NOTICE_STATE_SENT {
				s.text("", fmt.Sprintf("The letter about %s to %s did not wait to be posted: it is %s, and stays so. (%s)",
					idOf(n.GetVehicle()), idOf(n.GetPerson()), stateWords(n), n.GetName()))
				continue
			}
			s.text("", fmt.Sprintf("The letter about %s to %s is in the post%s. (%s)", idOf(n.GetVehicle()), idOf(n.GetPerson()), posted(n), n.GetName()))
		}
	})
}

// posted says since which day a letter is in the post.
func posted(n *reminderv1.Notice) string {
	if n.GetSendTime() == nil {
		return ""
	}
	return " since " + n.GetSendTime().AsTime().Format("2 January 2006")
}

// lettersWaiting gives the letters that were printed and are not posted.
func (c *Console) lettersWaiting(ctx context.Context) ([]string, error) {
	notices, err := page.All(func(token string) ([]*reminderv1.Notice, string, error) {
		r, err := c.Reminders.ListNotices(ctx, &reminderv1.ListNoticesRequest{
			Parent: "vehicles/-", State: reminderv1.NoticeState_NOTICE_STATE_CLAIMED, PageSize: 500, PageToken: token,
		})
		return r.GetNotices(), r.GetNextPageToken(), err
	})
	var names []string
	for _, n := range notices {
		if n.GetChannel() == reminderv1.Channel_CHANNEL_LETTER && n.GetPrintTime() != nil {
			names = append(names, n.GetName())
		}
	}
	return names, err
}
