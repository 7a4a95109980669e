package visits

import (
	"cmp"
	"math"
	"slices"
)

// slack is how near two costs are to count as the same.
const slack = 1e-9

// node is a part of the search: jobs that are kept from some days, and days on
// which there must be a visit.
type node struct {
	barred map[int][]int // job to indexes of days
	forced []int         // in order
	bound  float64       // no plan in this part costs less
	days   []int         // at which it would
}

// without gives the node with a day barred for a job.
func (n node) without(job, day int) node {
	barred := make(map[int][]int, len(n.barred)+1)
	for j, days := range n.barred {
		barred[j] = days
	}
	barred[job] = append(slices.Clip(barred[job]), day)
	return node{barred: barred, forced: n.forced}
}

// with gives the node with a visit on a day.
func (n node) with(day int) node {
	forced := append(slices.Clone(n.forced), day)
	slices.Sort(forced)
	return node{barred: n.barred, forced: forced}
}

// cost is that of a job on a day.
func (s *solver) cost(n node, job, day int) float64 {
	if slices.Contains(n.barred[job], day) {
		return math.Inf(1)
	}
	return s.jobs[job].cost[day]
}

// run finds the answer.
func (s *solver) run() {
	if len(s.jobs) == 0 {
		s.found = &answer{}
		return
	}
	s.reaches()
	s.firsts()
	s.search()
	if s.found == nil { // not all can be kept apart
		a := s.settle(nil)
		for _, j := range a.left {
			s.undone = append(s.undone, s.jobs[j].tasks...)
		}
		s.found, s.stopped = &a, true
	}
}

// search branches and bounds. Without items to keep apart the first step is the
// last.
func (s *solver) search() {
	open, most := []node{{}}, s.mostSteps()
	for steps := 0; len(open) > 0; steps++ {
		if steps == most {
			s.stopped = true
			return
		}
		n := open[len(open)-1]
		open = open[:len(open)-1]
		n.bound, n.days = s.bound(n)
		if math.IsInf(n.bound, 1) || s.found != nil && n.bound >= s.found.cost-slack {
			continue
		}
		open = append(open, s.step(n)...)
	}
}

// step takes what a part of the search finds when it is the best so far, and
// gives the parts into which it falls, the one to look at first last.
func (s *solver) step(n node) []node {
	a := s.assign(n, n.days)
	for _, pair := range s.apart {
		if at := a.where[pair[0]]; at >= 0 && at == a.where[pair[1]] {
			s.take(s.settle(n.days))
			return []node{n.without(pair[0], at), n.without(pair[1], at)}
		}
	}
	s.take(a)
	if a.cost <= n.bound+slack {
		return nil
	}
	// A job that is kept from a neighbouring visit was counted at its best day,
	// which is not among the days: either there is a visit on it, or the job
	// is kept from that too.
	for j := range s.jobs {
		if len(n.barred[j]) == 0 {
			continue
		}
		if best := s.bestDay(n, j); best >= 0 && !slices.Contains(n.days, best) && s.cost(n, j, best) < s.costOf(n, j, a.where[j])-slack {
			return []node{n.without(j, best), n.with(best)}
		}
	}
	return nil
}

// take keeps an answer for all jobs that is the best so far.
func (s *solver) take(a answer) {
	if len(a.left) == 0 && !math.IsInf(a.cost, 1) && (s.found == nil || a.cost < s.found.cost-slack) {
		s.found = &a
	}
}

// settle makes some plan out of the days of visits: each job in turn goes where
// it costs least and meets nobody it may not meet, on a day of its own if that
// is cheaper. So there is an answer however the search ends, at worst without
// the jobs for which no day is left.
func (s *solver) settle(days []int) answer {
	a := answer{where: make([]int, len(s.jobs))}
	open := make([]bool, len(s.days))
	for _, d := range days {
		open[d] = true
	}
	for j := range s.jobs {
		job := &s.jobs[j]
		best := math.Inf(1)
		a.where[j] = -1
		for d := job.first; d <= job.last; d++ {
			c := job.cost[d]
			if !open[d] {
				c += s.p.VisitCost
			}
			if c < best-slack && !slices.ContainsFunc(job.apart, func(other int) bool { return a.where[other] == d }) {
				best, a.where[j] = c, d
			}
		}
		if at := a.where[j]; at >= 0 {
			open[at] = true
		}
	}
	a.days = slices.Compact(slices.Sorted(slices.Values(a.where)))
	if a.days[0] < 0 {
		a.days = a.days[1:]
	}
	for j, d := range a.where {
		if d < 0 {
			a.left = append(a.left, j)
			continue
		}
		a.cost += s.jobs[j].cost[d]
	}
	a.cost += s.p.VisitCost * float64(len(a.days))
	return a
}

func (s *solver) costOf(n node, job, day int) float64 {
	if day < 0 {
		return math.Inf(1)
	}
	return s.cost(n, job, day)
}

// bestDay is the day on which a job costs least, -1 when it is kept from all.
func (s *solver) bestDay(n node, job int) int {
	best, at := math.Inf(1), -1
	barred := n.barred[job]
	for k := s.jobs[job].first; k <= s.jobs[job].last; k++ {
		if c := s.jobs[job].cost[k]; c < best && !slices.Contains(barred, k) {
			best, at = c, k
		}
	}
	return at
}

// bound finds the days of least total by dynamic programming: the cost of all
// jobs up to a visit, over the visit before it. It is the least total itself
// where no job is kept from a day, and not above it otherwise.
func (s *solver) bound(n node) (float64, []int) {
	m := len(s.days)
	type best struct {
		cost   float64
		visits int
		before int
	}
	until := make([]best, m)
	least := best{cost: math.Inf(1), before: -1}
	for q := range m {
		until[q] = best{math.Inf(1), 0, -1}
		for p := s.reach[q]; p < q; p++ {
			if s.passesForced(n, p, q) {
				continue
			}
			b := best{s.p.VisitCost, 1, p}
			if p >= 0 {
				b.cost, b.visits = b.cost+until[p].cost, until[p].visits+1
			}
			b.cost += s.between(n, p, q)
			if b.cost < until[q].cost-slack || b.cost <= until[q].cost+slack && b.visits < until[q].visits {
				until[q] = b
			}
		}
		if q < s.reach[m] || s.passesForced(n, q, m) {
			continue
		}
		all := best{until[q].cost + s.between(n, q, m), until[q].visits, q}
		if all.cost < least.cost-slack || all.cost <= least.cost+slack && all.visits < least.visits {
			least = all
		}
	}
	var days []int
	for at := least.before; at >= 0; at = until[at].before {
		days = append(days, at)
	}
	slices.Reverse(days)
	return least.cost, days
}

// reaches finds for each day the earliest before it on which the last visit may
// have been: no job's days may all lie between the two. Without that bound a
// plan of five years would take the better part of a minute.
func (s *solver) reaches() {
	s.reach = make([]int, len(s.days)+1)
	for q := range s.reach {
		s.reach[q] = -1
	}
	for i := range s.jobs {
		j := &s.jobs[i]
		s.reach[j.last+1] = max(s.reach[j.last+1], j.first)
	}
	for q := 1; q < len(s.reach); q++ {
		s.reach[q] = max(s.reach[q], s.reach[q-1])
	}
}

// passesForced says whether a day of a visit lies between two days.
func (s *solver) passesForced(n node, p, q int) bool {
	return slices.ContainsFunc(n.forced, func(d int) bool { return p < d && d < q })
}

// between is the cost of the jobs whose best day lies from one visit on to
// before the next; p is -1 before the first and q the number of days after the
// last.
func (s *solver) between(n node, p, q int) float64 {
	sum := 0.0
	for j := s.first[p+1]; j < s.first[q+1]; j++ {
		if len(n.barred) > 0 { // seldom, and this is where all the time goes
			if barred := n.barred[j]; slices.Contains(barred, p) || slices.Contains(barred, q) {
				best := s.bestDay(n, j) // a visit further off may be better: at least that
				sum += s.costOf(n, j, best)
				continue
			}
		}
		c := math.Inf(1)
		if p >= 0 {
			c = s.jobs[j].cost[p]
		}
		if q < len(s.days) {
			c = min(c, s.jobs[j].cost[q])
		}
		sum += c
	}
	return sum
}

// firsts finds for each day d the first job whose best day is not before it, and
// keeps it at d+1: the jobs between two visits are asked for very often.
func (s *solver) firsts() {
	s.first = make([]int, len(s.days)+2)
	for i := range s.first {
		j, _ := slices.BinarySearchFunc(s.jobs, i-1, func(j job, day int) int { return cmp.Compare(j.best, day) })
		s.first[i] = j
	}
}

// assign sends each job to the day that is best for it, the earlier of two
// alike. Days to which nothing goes are no visits.
func (s *solver) assign(n node, days []int) answer {
	a := answer{where: make([]int, len(s.jobs))}
	used := map[int]bool{}
	for j := range s.jobs {
		best := math.Inf(1)
		a.where[j] = -1
		for _, d := range days {
			if c := s.cost(n, j, d); c < best-slack {
				best, a.where[j] = c, d
			}
		}
		a.cost += best
		used[a.where[j]] = true
	}
	for _, d := range days {
		if used[d] {
			a.days = append(a.days, d)
			a.cost += s.p.VisitCost
		}
	}
	return a
}
