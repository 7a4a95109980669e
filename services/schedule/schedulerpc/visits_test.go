package schedulerpc_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
)

// plan asks for the vehicle's plan of visits, which it gives as text too:
// "2026-11-01: A1 B1; 2027-07-01: C1".
func (w *works) plan(on string, months int32, rules *schedulev1.VisitRules) (*schedulev1.VisitPlan, string) {
	w.t.Helper()
	p := must(w.GetVisitPlan(w.t.Context(), &schedulev1.GetVisitPlanRequest{
		Name: theVehicle + "/visitPlan", OnDate: calendar(on), Months: months, Rules: rules}))(w.t)
	var visits []string
	for _, v := range p.GetVisits() {
		text := iso(v.GetVisitDate()) + ":"
		for _, t := range v.GetTasks() {
			text += " " + t.GetItemId()
		}
		visits = append(visits, text)
	}
	return p, strings.Join(visits, "; ")
}

// priced is an item that says what doing it costs.
func priced(id string, months, cost int32) *schedulev1.Item {
	it := every(id, "", months)
	it.Cost = cost
	return it
}

func TestThePublishedExampleOfGroupingThroughTheAPI(t *testing.T) {
	// checks.md O-70 (F9, all set partitions): due in 10, 12 and 18 months,
	// intervals 12, 12 and 24, costs 120, 60 and 240. Months are counted there,
	// days here, so the totals differ by a part in a hundred.
	w := start(t, "2025-01-01", priced("A1", 12, 120), priced("B1", 12, 60), priced("C1", 24, 240))
	w.done("2025-11-01", "A1")
	w.done("2026-01-01", "B1")
	w.done("2025-07-01", "C1")
	for _, c := range []struct {
		visit int32
		cost  float64
		want  string
	}{
		{15, 40, "2026-11-01: A1 B1; 2027-07-01: C1"},
		{50, 110, "2026-11-01: A1 B1; 2027-07-01: C1"},
		{100, 190, "2026-11-01: A1 B1 C1"},
	} {
		p, got := w.plan("2026-01-01", 19, &schedulev1.VisitRules{VisitCost: c.visit})
		if got != c.want || math.Abs(p.GetTotalCost()-c.cost) > 0.02*c.cost || !p.GetLeastCost() {
			t.Errorf("a visit at %d: %s for %.1f, want %s for %.0f", c.visit, got, p.GetTotalCost(), c.want, c.cost)
		}
	}
	p, _ := w.plan("2026-01-01", 19, &schedulev1.VisitRules{VisitCost: 50})
	b := p.GetVisits()[0].GetTasks()[1]
	if b.GetMovedDays() != -61 || b.GetLostPercent() != 17 || !strings.Contains(b.GetSentence(), "61 days before it is due on 1 January 2027; that gives away 17 % of its interval") {
		t.Errorf("B1 is moved by %d days, loses %d %%: %s", b.GetMovedDays(), b.GetLostPercent(), b.GetSentence())
	}
	rules := ""
	for _, v := range p.GetVisits() {
		for _, task := range v.GetTasks() {
			rules += task.GetItemId() + " " + task.GetReason().GetRule() + "; "
			if task.GetReason().GetSentence() != task.GetSentence() {
				t.Errorf("%s: the reason says %q and the task %q", task.GetItemId(), task.GetReason().GetSentence(), task.GetSentence())
			}
		}
	}
	if want := "A1 VISIT_ON_DUE_DATE; B1 VISIT_BROUGHT_FORWARD; C1 VISIT_ON_DUE_DATE; "; rules != want {
		t.Errorf("reasons: %s, want %s", rules, want)
	}
	for name, c := range map[string]struct {
		rules *schedulev1.VisitRules
		want  string
	}{
		"apart":    {&schedulev1.VisitRules{VisitCost: 50, Apart: []*schedulev1.ItemPair{{ItemId: "A1", OtherItemId: "B1"}}}, "2026-11-01: A1; 2027-01-01: B1"},
		"together": {&schedulev1.VisitRules{VisitCost: 1, Together: []*schedulev1.ItemPair{{ItemId: "B1", OtherItemId: "C1"}}}, "2026-11-01: A1; 2027-01-01: B1 C1"},
	} {
		if _, got := w.plan("2026-01-01", 19, c.rules); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

func TestRoundsOfOneItemNeverMeetAndNothingIsPlannedIntoALayUp(t *testing.T) {
	w := start(t, "2025-01-01", every("A1", "", 6), every("B1", "", 12), every("C1", "", 1))
	must(w.DeclareUse(t.Context(), &schedulev1.DeclareUseRequest{Parent: theVehicle, UseFact: &schedulev1.UseFact{
		Kind: schedulev1.UseKind_USE_KIND_LAID_UP, StartDate: calendar("2026-10-15"), EndDate: calendar("2027-04-14")}}))(t)
	w.done("2026-05-01", "A1", "B1", "C1")
	p, text := w.plan("2026-05-02", 0, nil)
	last := map[string]string{}
	for _, v := range p.GetVisits() {
		on := iso(v.GetVisitDate())
		if on >= "2026-10-15" && on <= "2027-04-14" {
			t.Errorf("a visit on %s, in the lay-up: %s", on, text)
		}
		for _, task := range v.GetTasks() {
			if last[task.GetItemId()] == on {
				t.Errorf("%s twice on %s", task.GetItemId(), on)
			}
			last[task.GetItemId()] = on
		}
	}
	if len(p.GetVisits()) < 3 || len(p.GetUnplanned()) > 0 {
		t.Errorf("%d visits: %s; unplanned %v", len(p.GetVisits()), text, p.GetUnplanned())
	}
	if got := fmt.Sprint(p.GetReasons()); !strings.Contains(got, "NO_VISIT_IN_LAY_UP") {
		t.Errorf("the plan does not say why: %s", got)
	}
}

func TestBadQuestionsForAPlanAreRefused(t *testing.T) {
	w := start(t, "2025-01-01", every("A1", "", 6))
	ask := func(r *schedulev1.GetVisitPlanRequest) error {
		_, err := w.GetVisitPlan(t.Context(), r)
		return err
	}
	refused(t, ask(&schedulev1.GetVisitPlanRequest{Name: "vehicles/AM0148N/visitPlan"}), fault.NotFound, "BUILD_NOT_FOUND")
	refused(t, ask(&schedulev1.GetVisitPlanRequest{Name: theVehicle + "/visitPlan", Months: 61}), fault.Invalid, "INVALID_FIELD")
	for _, rules := range []*schedulev1.VisitRules{
		{VisitCost: -1},
		{Apart: []*schedulev1.ItemPair{{ItemId: "A1", OtherItemId: "Z9"}}},
		{Together: []*schedulev1.ItemPair{{ItemId: "A1", OtherItemId: "A1"}}},
	} {
		refused(t, ask(&schedulev1.GetVisitPlanRequest{Name: theVehicle + "/visitPlan", Rules: rules}), fault.Invalid, "INVALID_FIELD")
	}
}
