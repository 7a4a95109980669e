package console

import (
	"context"

	"github.com/google/uuid"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/page"
)

// Cadences prints how each class of items is reminded of.
func (c *Console) Cadences(ctx context.Context) error {
	cadences, err := page.All(func(token string) ([]*reminderv1.Cadence, string, error) {
		r, err := c.Reminders.ListCadences(ctx, &reminderv1.ListCadencesRequest{PageToken: token})
		return r.GetCadences(), r.GetNextPageToken(), err
	})
	if err != nil {
		return err
	}
	return printAll(c, cadences, func(s *sheet) { cadenceTable(s, cadences...) })
}

func cadenceTable(s *sheet, cadences ...*reminderv1.Cadence) {
	rows := [][]string{{"class", "first told", "overdue", "overdue again", "works told", "apart"}}
	for _, d := range cadences {
		rows = append(rows, cadenceRow(d))
	}
	s.table("", rows)
}

func cadenceRow(d *reminderv1.Cadence) []string {
	second := "never"
	if d.GetSecondOverdueDays() > 0 {
		second = plural(int(d.GetSecondOverdueDays()), "day", "days") + " later"
	}
	return []string{
		idOf(d.GetName()), plural(int(d.GetEarlyDays()), "day", "days") + " before", plural(int(d.GetOverdueDays()), "day", "days") + " after",
		second, plural(int(d.GetWorksDays()), "day", "days") + " later", plural(int(d.GetApartDays()), "day", "days"),
	}
}

// CadenceChange is what is to be different about a cadence; nil leaves a
// number as it is.
type CadenceChange struct{ Early, Overdue, SecondOverdue, Works, Apart *int }

// ChangeCadence changes how one class of items is reminded of.
func (c *Console) ChangeCadence(ctx context.Context, class string, change CadenceChange) error {
	d, err := c.Reminders.GetCadence(ctx, &reminderv1.GetCadenceRequest{Name: "cadences/" + class})
	if err != nil {
		return err
	}
	for to, from := range map[*int32]*int{
		&d.EarlyDays: change.Early, &d.OverdueDays: change.Overdue, &d.SecondOverdueDays: change.SecondOverdue,
		&d.WorksDays: change.Works, &d.ApartDays: change.Apart,
	} {
		if from != nil {
			*to = int32(*from)
		}
	}
	d, err = c.Reminders.UpdateCadence(ctx, &reminderv1.UpdateCadenceRequest{Cadence: d, RequestId: uuid.NewString()})
	if err != nil {
		return err
	}
	return c.print(d, func(s *sheet) { cadenceTable(s, d) })
}
