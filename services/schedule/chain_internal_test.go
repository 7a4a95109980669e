package schedule

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/vehicle"
)

// allPairs is chain without its short cut: it looks back from each node at every
// one before it.
func (r *run) allPairs() []node {
	r.pace()
	links := make([]link, len(r.nodes))
	best := 0
	for i, n := range r.nodes {
		links[i] = link{weight: n.weight, before: -1}
		for j := i - 1; j >= 0; j-- {
			if !r.follows(r.nodes[j], n) {
				continue
			}
			weight, off := links[j].weight+n.weight, links[j].off+r.off(r.nodes[j], n)
			if weight > links[i].weight || weight == links[i].weight && off < links[i].off {
				links[i] = link{weight: weight, off: off, before: j}
			}
		}
		if links[i].weight > links[best].weight || links[i].weight == links[best].weight && links[i].off < links[best].off {
			best = i
		}
	}
	var counted []node
	for i := best; i >= 0 && len(r.nodes) > 0; i = links[i].before {
		counted = append(counted, r.nodes[i])
	}
	slices.Reverse(counted)
	return counted
}

func TestTheChainIsThatOfAllPairs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var r run
		for range rapid.IntRange(0, 40).Draw(t, "readings") {
			n := node{
				day:     day(rapid.IntRange(0, 3000).Draw(t, "day")),
				value:   vehicle.Distance(rapid.IntRange(0, 30).Draw(t, "value")) * 500 * vehicle.Mile,
				weight:  ordinary + rapid.Int64Range(1, 4).Draw(t, "trust"),
				settled: rapid.IntRange(0, 9).Draw(t, "settled") == 0,
			}
			if n.settled {
				n.weight = pinned
			}
			r.nodes = append(r.nodes, n)
		}
		sortNodes(r.nodes)
		want := r.allPairs()
		if r.chain(); !slices.Equal(r.counted, want) {
			t.Fatalf("of %+v got\n%+v, want\n%+v", r.nodes, r.counted, want)
		}
	})
}
