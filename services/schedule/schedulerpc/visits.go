package schedulerpc

import (
	"context"
	"strconv"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/access"
	"halfshaft/services/fault"
	"halfshaft/services/internal/resname"
	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle/vehiclewire"
)

// How far ahead visits are planned, in months.
const (
	standardMonths = 24
	mostMonths     = 60
)

// GetVisitPlan implements the ScheduleService.
func (s *Service) GetVisitPlan(ctx context.Context, r *schedulev1.GetVisitPlanRequest) (*schedulev1.VisitPlan, error) {
	serial, _, err := resname.Serial("name", vehiclePattern+"/visitPlan", r.GetName())
	if err != nil {
		return nil, err
	}
	on, err := s.dayFor(ctx, "on_date", r.GetOnDate())
	if err != nil {
		return nil, err
	}
	months := int(r.GetMonths())
	if months < 0 || months > mostMonths {
		return nil, fault.InvalidField("months", strconv.Itoa(months), "1 to 60, or 0 for 24")
	}
	if months == 0 {
		months = standardMonths
	}
	known, err := s.known(ctx, serial)
	if err != nil {
		return nil, err
	}
	e, err := s.evaluate(known, s.store.History(serial), on, s.habitsOn(on), &schedule.Schedule{})
	if err != nil {
		return nil, err
	}
	rules := e.plan.programme.Visits
	if r.GetRules() != nil {
		rules = schedulewire.VisitRules(r.GetRules())
		if err := fault.InvalidFields(e.plan.ValidateRules(&rules)); err != nil {
			return nil, err
		}
	}
	answer := schedulewire.VisitPlanProto(e.PlanVisits(rules, on.AddMonths(months)), func(id string) string {
		n, _ := e.plan.Index(id)
		return e.plan.Item(n).Title
	})
	answer.Name, answer.OnDate = "vehicles/"+string(serial)+"/visitPlan", vehiclewire.DateProto(on)
	answer.Sample = e.plan.programme.Sample
	discreetPlan(access.CallerFrom(ctx), answer)
	return vehiclewire.Alone(ctx, serial, answer), nil
}
