package console

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strconv"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// Visits prints how the work of the next time is grouped.
func (c *Console) Visits(ctx context.Context, serial string, on vehicle.Date, months int32) error {
	name, err := c.open(ctx, serial)
	if err != nil {
		return err
	}
	plan, err := c.Schedules.GetVisitPlan(ctx, &schedulev1.GetVisitPlanRequest{
		Name: "vehicles/" + serialOf(name) + "/visitPlan", OnDate: vehiclewire.DateProto(on), Months: months,
	})
	if err != nil {
		return err
	}
	return c.print(plan, func(s *sheet) { visitsText(s, plan) })
}

func visitsText(s *sheet, p *schedulev1.VisitPlan) {
	s.line("%s: visits from %s to %s", serialOf(p.GetName()), day(p.GetOnDate()), day(p.GetEndDate()))
	for _, r := range p.GetReasons() {
		s.text("  ", r.GetSentence())
	}
	if p.GetSample() {
		s.line("  values     sample, to be signed by the works' engineer")
	}
	if len(p.GetVisits())+len(p.GetUnplanned()) == 0 {
		s.line("Nothing falls due until then.")
		return
	}
	rules := p.GetRules()
	s.text("  cost       ", fmt.Sprintf("%.0f in the works' money in all, for %s and for moving work; a visit counts %d, doing an item %d unless it says",
		p.GetTotalCost(), plural(len(p.GetVisits()), "visit", "visits"), rules.GetVisitCost(), rules.GetItemCost()))
	if !p.GetLeastCost() {
		s.line("  The best plan that was found; with items to be kept apart it is not proved the least.")
	}
	for _, v := range p.GetVisits() {
		s.heading("%s", day(v.GetVisitDate()))
		s.text("  ", v.GetReason().GetSentence())
		alike(s, v)
	}
	if len(p.GetUnplanned()) > 0 {
		s.heading("Not planned")
		for _, t := range p.GetUnplanned() {
			s.text("  "+t.GetItemId()+"  ", t.GetSentence())
		}
	}
}

// alike lists what is done in a visit, with what is said of many said once.
func alike(s *sheet, v *schedulev1.Visit) {
	said := ""
	var rows [][]string
	flush := func() {
		if len(rows) > 0 {
			s.text("  ", said)
			s.table("    ", rows)
		}
		rows = nil
	}
	tasks := slices.Clone(v.GetTasks())
	slices.SortStableFunc(tasks, func(a, b *schedulev1.VisitTask) int { return cmp.Compare(b.GetMovedDays(), a.GetMovedDays()) })
	for _, t := range tasks {
		if now := movedText(t); now != said {
			flush()
			said = now
		}
		rows = append(rows, []string{t.GetItemId(), t.GetTitle()})
	}
	flush()
}

// movedText says how far a task is moved, and what that costs.
func movedText(t *schedulev1.VisitTask) string {
	due := "Due on " + day(t.GetDueDate())
	switch n := int(t.GetMovedDays()); {
	case n < 0 && t.GetLostPercent() == 0:
		return due + ", " + plural(-n, "day", "days") + " early:"
	case n < 0:
		return due + ", " + plural(-n, "day", "days") + " early, which gives " + strconv.Itoa(int(t.GetLostPercent())) + " % of the interval away:"
	case n > 0:
		return due + ", " + plural(n, "day", "days") + " late:"
	}
	return "Due that day:"
}
