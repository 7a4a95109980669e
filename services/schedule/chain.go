package schedule

import (
	"cmp"
	"slices"

	"halfshaft/services/schedule/forecast"
	"halfshaft/services/vehicle"
)

// A dial only ever goes forward, and not faster than the vehicle can be
// driven. So what counts is the heaviest chain of readings in which each
// follows from the one before. One wild reading is left out, and those after
// it stay.

// Weights in the chain: what a person or the build record vouches for outweighs
// any number of readings; among readings the number decides, and between equal
// numbers who read.
const (
	pinned   = int64(1) << 40
	ordinary = int64(1) << 20
)

// What a step from one reading to the next may be. A reading beyond that may be
// right, but a person says so (common practice, no source).
const (
	leapBase   = 1000 * vehicle.Mile // a tour, whatever the habit
	ownTimes   = 3                   // the vehicle's own pace, where its readings tell it
	priorTimes = 8                   // else the pace assumed of any
	perDayMost = 600 * vehicle.Mile  // what can be driven in a day
	ownNeeds   = 5                   // readings from which the own pace is taken
)

// priorPerYear is the pace assumed of a vehicle with too few readings.
const priorPerYear = forecast.AssumedPerYear

// daysPerYear is the mean length of a year.
const daysPerYear = 365.25

// priorPerDay is priorPerYear in millimetres a day.
const priorPerDay = float64(priorPerYear) / daysPerYear

// turns adds to each value the turns of the dial before it: one for each
// reading that a person found to have rolled over since one before. Of several
// that were decided so after one turn, the first turns. An unsettled reading
// between the last high value and such a reading has turned too when it is low.
func (r *run) turns(marks []Mark) {
	modulus := r.dial.Modulus()
	sortNodes(r.nodes)
	var rolled []node
	top := vehicle.Distance(0) // the highest value of this turn
	for _, n := range r.nodes {
		if n.mark >= 0 && marks[n.mark].verdict() == RolledOver && (len(rolled) == 0 || n.value < top) {
			rolled, top = append(rolled, n), 0
		}
		top = max(top, n.value)
	}
	if modulus == 0 || len(rolled) == 0 {
		return
	}
	high := false // whether a value of the upper half came before, in this turn
	turn := 0     // rollovers before the node
	for i := range r.nodes {
		n := &r.nodes[i]
		raw, add := n.value, turn
		switch {
		case turn < len(rolled) && n.mark == rolled[turn].mark && n.mark >= 0:
			turn++
			add, high = turn, raw > modulus/2
		case turn < len(rolled) && high && raw <= rolled[turn].value && n.day <= rolled[turn].day:
			add = turn + 1
		default:
			high = high || raw > modulus/2
		}
		n.value = raw + vehicle.Distance(add)*modulus
	}
	sortNodes(r.nodes)
}

// sortNodes puts nodes in the order of days, then of what the dial shows.
func sortNodes(nodes []node) {
	slices.SortStableFunc(nodes, func(a, b node) int {
		return cmp.Or(cmp.Compare(a.day, b.day), cmp.Compare(a.value, b.value), cmp.Compare(b.weight, a.weight))
	})
}

// link is the best chain that ends in a node.
type link struct {
	weight int64
	off    int64 // millimetres away from the pace, in all
	before int   // the node before it, -1 for none
	most   int64 // the weight of the heaviest chain that ends here or before
}

// chain finds the readings that count. Between chains of equal weight the one
// that keeps closest to the vehicle's pace is taken.
func (r *run) chain() {
	r.pace()
	nodes := r.nodes
	if len(nodes) == 0 {
		return
	}
	var few [32]link
	links := few[:]
	if len(nodes) > len(few) {
		links = make([]link, len(nodes))
	}
	best := 0
	for i := range nodes {
		links[i] = link{nodes[i].weight, 0, -1, 0}
		// Backwards, while one of those left can be as heavy.
		for j := i - 1; j >= 0 && links[j].most+nodes[i].weight >= links[i].weight; j-- {
			if !r.follows(nodes[j], nodes[i]) {
				continue
			}
			weight, off := links[j].weight+nodes[i].weight, links[j].off+r.off(nodes[j], nodes[i])
			if weight > links[i].weight || weight == links[i].weight && off < links[i].off {
				links[i] = link{weight, off, j, 0}
			}
		}
		links[i].most = max(links[i].weight, links[max(i-1, 0)].most)
		if links[i].weight > links[best].weight || links[i].weight == links[best].weight && links[i].off < links[best].off {
			best = i
		}
	}
	r.counted = slices.Grow(r.counted, len(nodes))
	for i := best; i >= 0; i = links[i].before {
		r.counted = append(r.counted, nodes[i])
	}
	slices.Reverse(r.counted)
}

// follows says whether b may be read after a.
func (r *run) follows(a, b node) bool {
	way := b.value - a.value
	return way >= 0 && (b.settled || way <= r.allowance(int64(b.day-a.day)))
}

// allowance is the longest step believed without asking.
func (r *run) allowance(days int64) vehicle.Distance {
	times := int64(priorTimes)
	if r.ownRate {
		times = ownTimes
	}
	return min(leapBase+vehicle.Distance(times*r.rate*days), perDayMost*vehicle.Distance(days+1))
}

// off is how far a step is from the pace, in millimetres.
func (r *run) off(a, b node) int64 {
	return int64(abs(b.value - a.value - vehicle.Distance(r.rate*int64(b.day-a.day))))
}

// pace estimates the pace of the dial from the slopes between neighbours and
// next neighbours; their median does not mind a wild reading or two.
func (r *run) pace() {
	r.rate, r.ownRate = int64(priorPerYear)*100/36_525, false
	if len(r.nodes) < ownNeeds {
		return
	}
	var few [64]float64
	slopes := few[:0]
	for i := range r.nodes {
		for _, j := range [...]int{i + 1, i + 2} {
			if j < len(r.nodes) && r.nodes[j].day > r.nodes[i].day {
				slopes = append(slopes, float64(r.nodes[j].value-r.nodes[i].value)/float64(r.nodes[j].day-r.nodes[i].day))
			}
		}
	}
	if len(slopes) >= ownNeeds {
		r.rate, r.ownRate = int64(max(0, forecast.Median(slopes))), true
	}
}
