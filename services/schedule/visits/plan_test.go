package visits_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule/visits"
)

// text is a plan as "10: A B; 18: C".
func text(p visits.Problem, plan visits.Plan) string {
	var b []string
	for _, v := range plan.Visits {
		s := fmt.Sprintf("%d:", v.Day)
		for _, i := range v.Tasks {
			s += " " + p.Tasks[i].ID
		}
		b = append(b, s)
	}
	return strings.Join(b, "; ")
}

// neverLate is a task with all the time before and none after.
func neverLate(id string, due int32, interval, cost float64) visits.Task {
	return visits.Task{ID: id, Due: due, From: -1000, Latest: due, Interval: interval, Cost: cost}
}

func TestThePublishedExampleOfGrouping(t *testing.T) {
	// checks.md O-70: (due month, interval, cost), computed there over all set
	// partitions by F9.
	tasks := []visits.Task{neverLate("A", 10, 12, 120), neverLate("B", 12, 12, 60), neverLate("C", 18, 24, 240)}
	for _, c := range []struct {
		visit, cost float64
		want        string
	}{
		{15, 40, "10: A B; 18: C"},
		{50, 110, "10: A B; 18: C"},
		{100, 190, "10: A B C"},
	} {
		p := visits.Problem{Tasks: tasks, VisitCost: c.visit}
		plan := visits.Make(p)
		if math.Abs(plan.Cost-c.cost) > 1e-9 || text(p, plan) != c.want || !plan.Exact {
			t.Errorf("a visit at %v: %s for %v, want %s for %v", c.visit, text(p, plan), plan.Cost, c.want, c.cost)
		}
	}
}

func TestWhatAPlanKeepsTo(t *testing.T) {
	year := func(id string, due int32) visits.Task {
		return visits.Task{ID: id, Due: due, From: due - 182, Latest: due + 60, Interval: 365, Cost: 100, LateCost: 1}
	}
	for _, c := range []struct {
		name string
		p    visits.Problem
		want string
	}{
		{"what lies near goes together", visits.Problem{Tasks: []visits.Task{year("A", 100), year("B", 110)}, VisitCost: 50}, "100: A B"},
		{"what lies far does not", visits.Problem{Tasks: []visits.Task{year("A", 100), year("B", 300)}, VisitCost: 50}, "100: A; 300: B"},
		{"nothing on a closed day: before it", visits.Problem{Tasks: []visits.Task{year("A", 100)}, VisitCost: 50, Closed: []visits.Span{{90, 180}}}, "89: A"},
		{"or after it where that is cheaper", visits.Problem{Tasks: []visits.Task{year("A", 100)}, VisitCost: 50, Closed: []visits.Span{{20, 102}}}, "103: A"},
		{"forced together", visits.Problem{Tasks: []visits.Task{year("A", 100), year("B", 250)}, VisitCost: 1, Together: [][2]string{{"A", "B"}}}, "100: A B"},
		{"nothing to do", visits.Problem{VisitCost: 50}, ""},
	} {
		plan := visits.Make(c.p)
		if got := text(c.p, plan); got != c.want && c.want != "" {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	// One of them gives way by a day, which throws a day of 365 away.
	apart := visits.Problem{Tasks: []visits.Task{year("A", 100), year("B", 100)}, VisitCost: 50, Apart: [][2]string{{"A", "B"}}}
	if plan := visits.Make(apart); math.Abs(plan.Cost-(100+100.0/365)) > 1e-9 || !plan.Exact {
		t.Errorf("kept apart: %s for %v", text(apart, plan), plan.Cost)
	}
	closed := visits.Problem{Tasks: []visits.Task{year("A", 100)}, VisitCost: 50, Closed: []visits.Span{{-1000, 1000}}}
	if plan := visits.Make(closed); len(plan.Visits) != 0 || !slices.Equal(plan.Undone, []int{0}) {
		t.Errorf("no day is open: %+v", plan)
	}
}

// dumb looks at every partition of the tasks and, for each part, at every day.
func dumb(p visits.Problem, from, to int32) float64 {
	least := math.Inf(1)
	part := make([]int, len(p.Tasks))
	var place func(i, parts int)
	place = func(i, parts int) {
		if i == len(p.Tasks) {
			least = min(least, total(p, part, parts, from, to))
			return
		}
		for g := range parts + 1 {
			part[i] = g
			place(i+1, max(parts, g+1))
		}
	}
	place(0, 0)
	return least
}

// total is the cost of a partition at the best days: two parts that must not
// meet may not have the same day, so all days of such are tried together.
func total(p visits.Problem, part []int, parts int, from, to int32) float64 {
	for _, pair := range p.Together {
		for i := range p.Tasks {
			for j := range p.Tasks {
				if p.Tasks[i].ID == pair[0] && p.Tasks[j].ID == pair[1] && part[i] != part[j] {
					return math.Inf(1)
				}
			}
		}
	}
	for _, pair := range p.Apart {
		for i := range p.Tasks {
			for j := range p.Tasks {
				if p.Tasks[i].ID == pair[0] && p.Tasks[j].ID == pair[1] && part[i] == part[j] {
					return math.Inf(1)
				}
			}
		}
	}
	sum := 0.0
	taken := map[int32]bool{}
	var choose func(g int, sum float64) float64
	choose = func(g int, sum float64) float64 {
		if g == parts {
			return sum
		}
		best := math.Inf(1)
		for d := from; d <= to; d++ {
			if taken[d] || slices.ContainsFunc(p.Closed, func(c visits.Span) bool { return c.From <= d && d <= c.To }) {
				continue
			}
			cost := p.VisitCost
			for i, t := range p.Tasks {
				if part[i] == g {
					cost += costOn(t, d)
				}
			}
			if math.IsInf(cost, 1) || sum+cost >= best {
				continue
			}
			taken[d] = true
			best = min(best, choose(g+1, sum+cost))
			delete(taken, d)
		}
		return best
	}
	return choose(0, sum)
}

func costOn(t visits.Task, d int32) float64 {
	switch {
	case d < t.From || d > t.Latest:
		return math.Inf(1)
	case d < t.Due:
		return t.Cost * float64(t.Due-d) / t.Interval
	}
	return t.LateCost * float64(d-t.Due)
}

// anyProblem draws a small one. With few days, ties and clashes are frequent.
func anyProblem(t *rapid.T) visits.Problem {
	ids := []string{"A", "B", "C", "D", "E"}
	p := visits.Problem{VisitCost: float64(rapid.IntRange(0, 30).Draw(t, "visit"))}
	for _, id := range ids[:rapid.IntRange(1, 5).Draw(t, "tasks")] {
		due := int32(rapid.IntRange(4, 16).Draw(t, "due"))
		p.Tasks = append(p.Tasks, visits.Task{ID: id, Due: due, From: due - int32(rapid.IntRange(0, 8).Draw(t, "early")),
			Latest: due + int32(rapid.IntRange(0, 4).Draw(t, "late")), Interval: float64(rapid.IntRange(4, 20).Draw(t, "interval")),
			Cost: float64(rapid.IntRange(0, 60).Draw(t, "cost")), LateCost: float64(rapid.IntRange(0, 9).Draw(t, "late cost"))})
	}
	for range rapid.IntRange(0, 2).Draw(t, "closed") {
		from := int32(rapid.IntRange(0, 18).Draw(t, "closed from"))
		p.Closed = append(p.Closed, visits.Span{From: from, To: from + int32(rapid.IntRange(0, 5).Draw(t, "closed for"))})
	}
	pair := func(name string) [2]string {
		return [2]string{rapid.SampledFrom(ids).Draw(t, name), rapid.SampledFrom(ids).Draw(t, name+" too")}
	}
	for range rapid.IntRange(0, 3).Draw(t, "apart") {
		if a := pair("apart"); a[0] != a[1] {
			p.Apart = append(p.Apart, a)
		}
	}
	return p
}

func TestNoOtherPlanIsCheaper(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		plan := visits.Make(p)
		if len(plan.Undone) > 0 {
			return // no open day suits a task
		}
		want := dumb(p, -5, 25)
		if !plan.Exact && len(plan.Visits) > 0 {
			if plan.Cost < want-1e-6 {
				t.Fatalf("%s for %v, and no plan costs less than %v", text(p, plan), plan.Cost, want)
			}
			check(t, p, plan)
			return
		}
		if math.IsInf(want, 1) != (len(plan.Visits) == 0) || !math.IsInf(want, 1) && math.Abs(plan.Cost-want) > 1e-6 {
			t.Fatalf("%s for %v, the cheapest of all is %v", text(p, plan), plan.Cost, want)
		}
		check(t, p, plan)
	})
}

// check recounts a plan.
func check(t *rapid.T, p visits.Problem, plan visits.Plan) {
	cost, done := 0.0, map[int]bool{}
	for _, v := range plan.Visits {
		cost += p.VisitCost
		here := map[string]bool{}
		for _, i := range v.Tasks {
			if done[i] {
				t.Fatalf("task %d twice", i)
			}
			done[i], here[p.Tasks[i].ID] = true, true
			cost += costOn(p.Tasks[i], v.Day)
		}
		for _, pair := range p.Apart {
			if here[pair[0]] && here[pair[1]] {
				t.Fatalf("%v in one visit", pair)
			}
		}
	}
	if len(plan.Visits) > 0 && (len(done) != len(p.Tasks) || math.Abs(cost-plan.Cost) > 1e-6) {
		t.Fatalf("%d of %d tasks for %v, said to be %v", len(done), len(p.Tasks), cost, plan.Cost)
	}
}

func TestWhatBelongsTogetherIsDoneTogetherAndNoCheaperPlanDoesSo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		p.Apart = nil
		p.Together = [][2]string{{"A", "B"}}
		plan := visits.Make(p)
		if len(plan.Undone) > 0 {
			return
		}
		want := dumb(p, -5, 25)
		if math.IsInf(want, 1) {
			return // they have no open day in common, and are done each for itself
		}
		if math.Abs(plan.Cost-want) > 1e-6 {
			t.Fatalf("%s for %v, the cheapest of all is %v", text(p, plan), plan.Cost, want)
		}
	})
}

func TestTheOrderOfTheTasksDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := anyProblem(t)
		q := p
		q.Tasks = rapid.Permutation(p.Tasks).Draw(t, "order")
		a, b := visits.Make(p), visits.Make(q)
		if len(a.Undone)+len(b.Undone) > 0 {
			return // which of two that cannot be kept apart is left undone is nobody's choice
		}
		if math.Abs(a.Cost-b.Cost) > 1e-6 {
			t.Fatalf("%s for %v, in another order %s for %v", text(p, a), a.Cost, text(q, b), b.Cost)
		}
	})
}

func BenchmarkPlanOfFortyItemsOverTwoYears(b *testing.B) {
	var p visits.Problem
	p.VisitCost = 120
	for i := range 40 {
		interval := []int32{182, 365, 365, 730}[i%4]
		for round := range 730 / interval {
			due := int32(20+i*17%150) + interval*round
			p.Tasks = append(p.Tasks, visits.Task{ID: fmt.Sprint(i), Round: int(round), Due: due, From: due - interval/2, Latest: due + interval/10,
				Interval: float64(interval), Cost: float64(20 + i%7*15), LateCost: 1})
		}
	}
	b.ReportMetric(float64(len(p.Tasks)), "tasks")
	for b.Loop() {
		visits.Make(p)
	}
}

// Six items that may never meet, six times each, cannot be tried in all ways:
// the plan says so, and still keeps to everything.
func TestWhatCannotBeTriedInAllWaysIsStillAPlan(t *testing.T) {
	ids := []string{"A", "B", "C", "D", "E", "F"}
	p := visits.Problem{VisitCost: 30}
	for i, id := range ids {
		for round := range int32(6) {
			due := int32(100) + 120*round + int32(i%2)
			p.Tasks = append(p.Tasks, visits.Task{ID: id, Round: int(round), Due: due, From: due - 59, Latest: due + 30, Interval: 120, Cost: 60, LateCost: 2})
		}
		for _, other := range ids[:i] {
			p.Apart = append(p.Apart, [2]string{id, other})
		}
	}
	plan := visits.Make(p)
	done := 0
	for _, v := range plan.Visits {
		done += len(v.Tasks)
		if len(v.Tasks) > 1 {
			t.Errorf("%d items that may never meet on day %d", len(v.Tasks), v.Day)
		}
	}
	if plan.Exact || len(plan.Visits) > 0 && done != len(p.Tasks) {
		t.Errorf("exact %v, %d of %d tasks in %d visits", plan.Exact, done, len(p.Tasks), len(plan.Visits))
	}
	if len(plan.Visits) == 0 && len(plan.Undone) != len(p.Tasks) {
		t.Error("no plan, and nothing is said to be undone")
	}
}

func TestWhatCannotBeKeptApartIsLeftAndTheRestPlanned(t *testing.T) {
	today := func(id string) visits.Task {
		return visits.Task{ID: id, Due: 10, From: 10, Latest: 10, Interval: 100, Cost: 10}
	}
	p := visits.Problem{VisitCost: 50, Apart: [][2]string{{"A", "B"}}, Tasks: []visits.Task{
		today("A"), today("B"), {ID: "C", Due: 100, From: 90, Latest: 110, Interval: 100, Cost: 10},
	}}
	plan := visits.Make(p)
	if got := text(p, plan); got != "10: A; 100: C" || !slices.Equal(plan.Undone, []int{1}) || plan.Exact || plan.Cost != 100 {
		t.Errorf("%s for %v, exact %v, undone %v", got, plan.Cost, plan.Exact, plan.Undone)
	}
}

// The most that may be asked for: five years of a programme with monthly items.
func BenchmarkPlanOfEightyItemsOverFiveYears(b *testing.B) {
	p := visits.Problem{VisitCost: 100}
	for i := range 80 {
		interval := []int32{30, 91, 182, 365}[i%4]
		for round := range 1826 / interval {
			due := int32(i*17%150) + interval*round
			p.Tasks = append(p.Tasks, visits.Task{ID: fmt.Sprint(i), Round: int(round), Due: due, From: due - interval/2, Latest: due + interval/10,
				Interval: float64(interval), Cost: 60, LateCost: 1})
		}
	}
	b.ReportMetric(float64(len(p.Tasks)), "tasks")
	for b.Loop() {
		visits.Make(p)
	}
}
