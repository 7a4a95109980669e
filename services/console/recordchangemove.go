package console

import (
	"context"
	"strings"

	"github.com/google/uuid"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/page"
	"halfshaft/services/vehicle"
)

// Move is a component on its way to another vehicle, or to another position of
// its own, as typed on the command line.
type Move struct {
	From, FromPosition string
	To, ToPosition     string       // ToPosition empty for the same
	On                 vehicle.Date // today, when zero
	Covered            string       // what the component had covered in all by then, with its unit; empty when nobody knows
	Reason             string
	DoneBy             string
}

// MoveComponent records that a component was taken off one vehicle and fitted
// to another, and prints both halves with what stood there before.
func (c *Console) MoveComponent(ctx context.Context, m Move) error {
	distance, err := covered("covered", m.Covered)
	if err != nil {
		return err
	}
	if strings.TrimSpace(m.Reason) == "" {
		return fault.InvalidField("reason", "", "why, in at least one word: it is read in decades")
	}
	request := &buildv1.MoveComponentRequest{
		SourcePosition: asPosition(m.FromPosition), DestinationPosition: asPosition(m.ToPosition), ComponentDistance: distance,
		Reason: strings.TrimSpace(m.Reason), DoneBy: strings.TrimSpace(m.DoneBy), RequestId: uuid.NewString(),
	}
	if request.Source, err = c.open(ctx, m.From); err != nil {
		return err
	}
	if request.Destination, err = c.open(ctx, m.To); err != nil {
		return err
	}
	before, err := c.configuration(ctx, request.Destination, m.On)
	if err != nil {
		return err
	}
	request.MoveDate = before.GetOnDate() // the server's today, where no day was typed
	both := []string{request.Source, request.Destination}
	if both[0] == both[1] {
		both = both[:1]
	}
	was := c.todayOf(ctx, both)
	made, err := c.Builds.MoveComponent(ctx, request)
	if err != nil {
		return err
	}
	if c.JSON {
		return c.print(made, nil)
	}
	after, err := c.configuration(ctx, request.Destination, m.On)
	if err != nil {
		after = nil // the move stands all the same
	}
	now, life := c.todayOf(ctx, both), c.lifeOf(ctx, made.GetFitted())
	return c.print(made, func(s *sheet) {
		moveText(s, made, before, after)
		s.text("  life      ", life)
		for i, build := range both {
			followsText(s, serialOf(build), serialOf(build), was[i], now[i])
		}
		s.line("  recorded  %s", made.GetRemoved().GetName())
		s.line("            %s", made.GetFitted().GetName())
	})
}

// todayOf is today for several vehicles.
func (c *Console) todayOf(ctx context.Context, builds []string) []*schedulev1.Schedule {
	var all []*schedulev1.Schedule
	for _, b := range builds {
		all = append(all, c.today(ctx, b))
	}
	return all
}

// lifeOf tells how far a unit has gone that a change fitted, in all and here;
// empty when that cannot be asked.
func (c *Console) lifeOf(ctx context.Context, fitted *buildv1.Change) string {
	all, err := page.All(func(token string) ([]*schedulev1.ComponentDistance, string, error) {
		r, err := c.Schedules.ListComponentDistances(ctx, &schedulev1.ListComponentDistancesRequest{
			Parent: "vehicles/" + serialOf(fitted.GetName()), OnDate: fitted.GetChangeDate(), PageSize: 500, PageToken: token,
		})
		return r.GetComponentDistances(), r.GetNextPageToken(), err
	})
	for _, d := range all {
		if err == nil && d.GetPosition() == fitted.GetComponent().GetPosition() {
			return d.GetSentence()
		}
	}
	return ""
}

func moveText(s *sheet, made *buildv1.MoveComponentResponse, before, after *buildv1.Configuration) {
	from, to := made.GetRemoved(), made.GetFitted()
	unit := to.GetComponent()
	by := ""
	if to.GetDoneBy() != "" {
		by = " by " + to.GetDoneBy()
	}
	s.text(serialOf(from.GetName())+": ", "on "+day(from.GetChangeDate())+", "+unitText(unit)+" was taken off the "+
		place(from.GetComponent().GetPosition())+by+", and nothing stands there.")
	s.text(serialOf(to.GetName())+": ", "on the same day it was fitted at the "+place(unit.GetPosition())+".")
	s.text("  reason    ", to.GetReason())
	s.text("  before    ", stoodText(standing(before, unit.GetPosition())))
	whyNow(s, to, after)
}
