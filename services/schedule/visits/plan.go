package visits

import (
	"cmp"
	"math"
	"slices"
)

// Task is one round of an item. Days are counted as vehicle.Date.Ordinal does.
type Task struct {
	ID    string // the item; its rounds have the same
	Round int    // from 0
	Due   int32
	// From and Latest bound the days on which it may be done, both included.
	From, Latest int32
	Interval     float64 // days from one round to the next; more than 0
	Cost         float64 // of doing it once; what is thrown away in doing it early is a part of this
	LateCost     float64 // for each day after Due
}

// CostOn is what a task costs beyond itself on a day; infinite outside its
// bounds.
func (t *Task) CostOn(day int32) float64 {
	switch {
	case day < t.From || day > t.Latest:
		return math.Inf(1)
	case day <= t.Due:
		return t.Cost * float64(t.Due-day) / t.Interval
	}
	return t.LateCost * float64(day-t.Due)
}

// Span is a run of days, both included.
type Span struct{ From, To int32 }

// Problem is what is to be planned.
type Problem struct {
	Tasks     []Task
	VisitCost float64
	Closed    []Span      // days on which there is no visit
	Together  [][2]string // items that are done in one visit when their rounds can meet
	Apart     [][2]string // items that are never done in one visit
}

// Visit is what is done on one day.
type Visit struct {
	Day   int32
	Tasks []int // indexes in Problem.Tasks, in order
}

// Plan is the answer.
type Plan struct {
	Visits []Visit // in order of days
	Cost   float64 // of the visits, of doing early and of doing late
	Exact  bool    // false when keeping items apart took more steps than are taken, or left some without a day
	Undone []int   // tasks that no open day suits, or none on which they are kept apart
}

// mostWork bounds the branching for items that are kept apart, in costs looked
// at: about a second. Some dozen steps are usual, and each looks at
// the jobs between every two days that may be visits one after the other.
const mostWork = 200_000_000

// mostSteps is how many steps that comes to.
func (s *solver) mostSteps() int {
	work := 1
	for q, p := range s.reach {
		work += (q - p) * (s.first[q+1] - s.first[p+1])
	}
	return max(20, mostWork/work)
}

// Make finds the plan of least cost; of several the one with the fewest visits,
// and of those the one with the earlier days. The order of the tasks does not
// matter to the days.
func Make(p Problem) Plan {
	s := newSolver(p)
	s.run()
	return s.plan()
}

// job is one task, or several that are done together.
type job struct {
	tasks []int
	cost  []float64
	// As indexes in days: the one that suits it best, were there a visit on it,
	// and the first and the last that do at all.
	best, first, last int
	apart             []int // jobs before it that may not share a visit with it
}

type solver struct {
	p      Problem
	days   []int32 // at which a visit may be, in order
	jobs   []job   // in order of best
	undone []int
	apart  [][2]int // jobs
	reach  []int    // see reaches
	first  []int    // see firsts

	found   *answer
	stopped bool
}

// answer is a set of days and where each job goes, as indexes in days.
type answer struct {
	cost  float64
	days  []int
	where []int // -1 for a job that is left
	left  []int // jobs that found no day: where something must give way
}

func newSolver(p Problem) *solver {
	s := &solver{p: p}
	s.candidates()
	s.join()
	s.weigh()
	s.separate()
	return s
}

// candidates are the days at which the cost of a group can turn: due days,
// bounds, and the days around those on which there is no visit.
func (s *solver) candidates() {
	for i := range s.p.Tasks {
		t := &s.p.Tasks[i]
		s.days = append(s.days, t.Due, t.From, t.Latest)
		for _, c := range s.p.Closed {
			s.days = append(s.days, c.From-1, c.To+1)
		}
	}
	// What must give way to another on such a day has the days beside it.
	near := s.days
	for n := range int32(max(len(s.separated())-1, 0)) {
		for _, d := range near {
			s.days = append(s.days, d-n-1, d+n+1)
		}
	}
	slices.Sort(s.days)
	s.days = slices.DeleteFunc(slices.Compact(s.days), func(d int32) bool {
		return slices.ContainsFunc(s.p.Closed, func(c Span) bool { return c.From <= d && d <= c.To }) ||
			!slices.ContainsFunc(s.p.Tasks, func(t Task) bool { return t.From <= d && d <= t.Latest })
	})
}

// separated gives the items that are kept apart from another.
func (s *solver) separated() map[string]bool {
	ids := map[string]bool{}
	for _, pair := range s.p.Apart {
		ids[pair[0]], ids[pair[1]] = true, true
	}
	return ids
}

// join puts tasks that are done together into one job: those of the items named
// whose bounds have a day in common, round by round.
func (s *solver) join() {
	group := make([]int, len(s.p.Tasks))
	for i := range group {
		group[i] = i
	}
	for _, pair := range s.p.Together {
		for i := range s.p.Tasks {
			if s.p.Tasks[i].ID != pair[0] {
				continue
			}
			if j := s.partner(i, pair[1], group); j >= 0 {
				from, to := group[j], group[i]
				for k := range group {
					if group[k] == from {
						group[k] = to
					}
				}
			}
		}
	}
	for g := range group {
		var tasks []int
		for i := range group {
			if group[i] == g {
				tasks = append(tasks, i)
			}
		}
		if len(tasks) > 0 {
			s.jobs = append(s.jobs, job{tasks: tasks})
		}
	}
}

// partner finds the round of an item that goes with a task: the nearest one
// that could be done on a day that suits everything already joined, -1 for none.
func (s *solver) partner(i int, id string, group []int) int {
	best := -1
	for j := range s.p.Tasks {
		if s.p.Tasks[j].ID != id || group[j] == group[i] || !s.common(group, group[i], group[j]) {
			continue
		}
		if best < 0 || far(&s.p.Tasks[j], &s.p.Tasks[i]) < far(&s.p.Tasks[best], &s.p.Tasks[i]) {
			best = j
		}
	}
	return best
}

func far(a, b *Task) int32 { return max(a.Due-b.Due, b.Due-a.Due) }

// common says whether two groups have a day on which all of them can be done,
// and no item twice.
func (s *solver) common(group []int, a, b int) bool {
	ids := map[string]bool{}
	from, latest := int32(math.MinInt32), int32(math.MaxInt32)
	for i, g := range group {
		if g != a && g != b {
			continue
		}
		t := &s.p.Tasks[i]
		from, latest = max(from, t.From), min(latest, t.Latest)
		if ids[t.ID] || from > latest {
			return false
		}
		ids[t.ID] = true
	}
	return slices.ContainsFunc(s.days, func(d int32) bool { return from <= d && d <= latest })
}

// weigh works out what each job costs on each day. A job that no day suits is
// left undone.
func (s *solver) weigh() {
	jobs := s.jobs[:0]
	for _, j := range s.jobs {
		j.cost = make([]float64, len(s.days))
		best := math.Inf(1)
		for k, d := range s.days {
			for _, i := range j.tasks {
				j.cost[k] += s.p.Tasks[i].CostOn(d)
			}
			if math.IsInf(j.cost[k], 1) {
				continue
			}
			if math.IsInf(best, 1) {
				j.first = k
			}
			j.last = k
			if j.cost[k] < best {
				best, j.best = j.cost[k], k
			}
		}
		if math.IsInf(best, 1) {
			s.undone = append(s.undone, j.tasks...)
			continue
		}
		jobs = append(jobs, j)
	}
	s.jobs = jobs
	slices.SortStableFunc(s.jobs, func(a, b job) int { return cmp.Compare(a.best, b.best) })
}

// separate lists the jobs that may not share a visit.
func (s *solver) separate() {
	named := func(j job, id string) bool {
		return slices.ContainsFunc(j.tasks, func(i int) bool { return s.p.Tasks[i].ID == id })
	}
	for a := range s.jobs {
		for b := a + 1; b < len(s.jobs); b++ {
			if s.jobs[a].first > s.jobs[b].last || s.jobs[b].first > s.jobs[a].last {
				continue // no day suits both
			}
			for _, pair := range s.p.Apart {
				if named(s.jobs[a], pair[0]) && named(s.jobs[b], pair[1]) || named(s.jobs[a], pair[1]) && named(s.jobs[b], pair[0]) {
					s.apart = append(s.apart, [2]int{a, b})
					s.jobs[b].apart = append(s.jobs[b].apart, a)
					break
				}
			}
		}
	}
}

// plan writes the answer out.
func (s *solver) plan() Plan {
	slices.Sort(s.undone)
	p := Plan{Exact: !s.stopped, Undone: s.undone}
	if s.found == nil {
		return p
	}
	p.Cost = s.found.cost
	for _, day := range s.found.days {
		v := Visit{Day: s.days[day]}
		for j, at := range s.found.where {
			if at == day {
				v.Tasks = append(v.Tasks, s.jobs[j].tasks...)
			}
		}
		slices.Sort(v.Tasks)
		if len(v.Tasks) > 0 {
			p.Visits = append(p.Visits, v)
		}
	}
	return p
}
