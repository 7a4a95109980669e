package schedulewire

import (
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// VisitRules reads how work is grouped.
func VisitRules(p *schedulev1.VisitRules) schedule.VisitRules {
	return schedule.VisitRules{
		VisitCost: int(p.GetVisitCost()), ItemCost: int(p.GetItemCost()), Together: pairs(p.GetTogether()), Apart: pairs(p.GetApart()),
	}
}

func pairs(from []*schedulev1.ItemPair) [][2]string {
	var out [][2]string
	for _, p := range from {
		out = append(out, [2]string{p.GetItemId(), p.GetOtherItemId()})
	}
	return out
}

// VisitRulesProto writes how work is grouped; nil when nothing was said.
func VisitRulesProto(r schedule.VisitRules) *schedulev1.VisitRules {
	if r.VisitCost == 0 && r.ItemCost == 0 && len(r.Together)+len(r.Apart) == 0 {
		return nil
	}
	return &schedulev1.VisitRules{
		VisitCost: int32(r.VisitCost), ItemCost: int32(r.ItemCost), Together: pairsProto(r.Together), Apart: pairsProto(r.Apart),
	}
}

func pairsProto(from [][2]string) []*schedulev1.ItemPair {
	var out []*schedulev1.ItemPair
	for _, p := range from {
		out = append(out, &schedulev1.ItemPair{ItemId: p[0], OtherItemId: p[1]})
	}
	return out
}

// VisitPlanProto writes a plan; title gives what an item is called.
func VisitPlanProto(p *schedule.VisitPlan, title func(id string) string) *schedulev1.VisitPlan {
	out := &schedulev1.VisitPlan{
		EndDate: vehiclewire.DateProto(p.End), Rules: VisitRulesProto(p.Rules), TotalCost: p.Cost, LeastCost: p.Exact,
		Reasons: vehiclewire.Reasons(p.Reasons()),
	}
	for i := range p.Visits {
		v := &p.Visits[i]
		visit := &schedulev1.Visit{
			VisitDate: vehiclewire.DateProto(vehicle.DateFromOrdinal(int(v.Day))), Reason: vehiclewire.ReasonProto(p.Why(v)),
		}
		for _, t := range v.Tasks {
			task := &p.Tasks[t]
			days, lost := schedule.Moved(task, v.Day)
			one := visitTask(p, t, title)
			one.MovedDays, one.LostPercent = int32(days), int32(100*lost+0.5)
			one.Cost = task.CostOn(v.Day)
			because(one, p.Moving(t, v.Day))
			visit.Tasks = append(visit.Tasks, one)
		}
		out.Visits = append(out.Visits, visit)
	}
	for _, t := range p.Undone {
		one := visitTask(p, t, title)
		because(one, p.NoDay(t))
		out.Unplanned = append(out.Unplanned, one)
	}
	return out
}

// because writes why a task is where it is.
func because(t *schedulev1.VisitTask, r vehicle.Reason) {
	t.Reason, t.Sentence = vehiclewire.ReasonProto(r), r.Sentence
}

func visitTask(p *schedule.VisitPlan, n int, title func(id string) string) *schedulev1.VisitTask {
	t := &p.Tasks[n]
	return &schedulev1.VisitTask{
		ItemId: t.ID, Title: title(t.ID), DueDate: vehiclewire.DateProto(vehicle.DateFromOrdinal(int(t.Due))), Round: int32(t.Round + 1),
	}
}
