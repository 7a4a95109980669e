package console

import (
	"context"
	"fmt"
	"strings"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/vehicle"
)

// PassDays prints what the passes of past days came to.
func (c *Console) PassDays(ctx context.Context, most int) error {
	r, err := c.Reminders.ListPassDays(ctx, &reminderv1.ListPassDaysRequest{PageSize: int32(most)})
	if err != nil {
		return err
	}
	return printAll(c, r.GetPassDays(), func(s *sheet) {
		for _, d := range r.GetPassDays() {
			s.text("", passDay(d)+": "+countsText(d.GetCounts())+".")
		}
		if len(r.GetPassDays()) == 0 {
			s.line("No pass has run yet.")
		}
	})
}

// passDay is the day of passes, as people write it.
func passDay(d *reminderv1.PassDay) string {
	civil, err := vehicle.ParseDate(idOf(d.GetName()))
	if err != nil {
		return idOf(d.GetName())
	}
	return civil.Long()
}

// countsText says what passes came to: "3 notices (1 early, 2 due; 2 by mail, 1
// by letter), 2 sent, 1 task for the works".
func countsText(n *reminderv1.PassCounts) string {
	text := plural(int(n.GetClaimed()), "notice", "notices")
	var stages, channels []string
	for _, stage := range []struct{ key, text string }{
		{"early", "early"}, {"due", "due"}, {"overdue", "overdue"}, {"second-overdue", "overdue again"},
	} {
		if k := n.GetByStage()[stage.key]; k > 0 {
			stages = append(stages, fmt.Sprintf("%d %s", k, stage.text))
		}
	}
	for _, channel := range []struct{ key, text string }{{"mail", "by mail"}, {"text", "by text message"}, {"letter", "by letter"}} {
		if k := n.GetByChannel()[channel.key]; k > 0 {
			channels = append(channels, fmt.Sprintf("%d %s", k, channel.text))
		}
	}
	if len(stages) > 0 {
		text += " (" + strings.Join(stages, ", ")
		if len(channels) > 0 {
			text += "; " + strings.Join(channels, ", ")
		}
		text += ")"
	}
	for _, more := range []struct {
		n    int32
		what string
	}{{n.GetSent(), "sent"}, {n.GetParked(), "parked"}, {n.GetSilenced(), "silenced"}, {n.GetReturned(), "came back"}} {
		if more.n > 0 {
			text += fmt.Sprintf(", %d %s", more.n, more.what)
		}
	}
	if n.GetTasks() > 0 {
		text += ", " + plural(int(n.GetTasks()), "task", "tasks") + " for the works"
	}
	return text
}
