package schedulerpc

import (
	"context"
	"strconv"

	"google.golang.org/protobuf/proto"

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
	answer, err := s.planned(occasion{serial, known, s.store.History(serial), on, on.AddMonths(months), s.habitsOn(on)}, r.GetRules())
	if err != nil {
		return nil, err
	}
	caller := access.CallerFrom(ctx)
	if caller.Role.Limited() {
		answer = proto.CloneOf(answer)
	}
	discreetPlan(caller, answer)
	return vehiclewire.Alone(ctx, serial, answer), nil
}

// planned gives the visits until the end of an occasion: by the programme's own
// rules kept or worked out, which takes some milliseconds, and by others worked
// out. What it gives is not to be changed.
func (s *Service) planned(key occasion, own *schedulev1.VisitRules) (*schedulev1.VisitPlan, error) {
	if own == nil {
		if have, ok := s.planning.get(key, s); ok {
			return have, nil
		}
	}
	versions := s.versionsFor(key)
	e, err := s.evaluate(key.known, key.history, key.on, key.habits, &schedule.Schedule{})
	if err != nil {
		return nil, err
	}
	rules := e.plan.programme.Visits
	if own != nil {
		rules = schedulewire.VisitRules(own)
		if err := fault.InvalidFields(e.plan.ValidateRules(&rules)); err != nil {
			return nil, err
		}
	}
	answer := schedulewire.VisitPlanProto(e.PlanVisits(rules, key.until), func(id string) string {
		n, _ := e.plan.Index(id)
		return e.plan.Item(n).Title
	})
	answer.Name, answer.OnDate = "vehicles/"+string(key.serial)+"/visitPlan", vehiclewire.DateProto(key.on)
	answer.Sample = e.plan.programme.Sample
	if own == nil {
		s.planning.put(key, e.plan, versions, answer)
	}
	return answer, nil
}
