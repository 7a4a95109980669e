package parts

import (
	"slices"
	"strings"
)

// wantIndex finds, among everything that can be wanted of a vehicle, what a
// question may mean: a superset, in the order of the wants, which is then
// judged one by one. Without it each question would judge thousands.
type wantIndex struct {
	wants   []*want    // what stands at each position, then what comes with it
	mains   int        // how many of them stand
	entries [][]*entry // of each: the parts whose words name it

	byNode  map[string][]int // by every part on its way to the one to order
	decided []int            // those for which a record decided between two parts
	stopped []int            // those with a supersession that does not hold

	data   []datum // fluids and settings
	others []datum // those of other vehicles; see absent
	bare   []*site // for which the catalogue has nothing
	strays []*site // at positions that neither releases nor catalogue know

	own   map[wordID][]int // by the words of its parts
	place map[string][]int // by the words of its position, two neighbours also as one
}

// index gives the index, which is made for the first question that asks for
// it.
func (r *Ready) index() *wantIndex {
	if r.indexed != nil {
		return r.indexed
	}
	x := &wantIndex{byNode: map[string][]int{}, own: map[wordID][]int{}, place: map[string][]int{}, mains: len(r.mains)}
	for _, list := range [][]want{r.mains, r.companions} {
		for i := range list {
			x.add(r, &list[i])
		}
	}
	for _, s := range r.sites {
		if len(s.bases()) == 0 {
			x.bare = append(x.bare, s)
		}
		if r.Places.byPosition[s.position] == nil && r.Catalogue.positions.Get(s.position) == nil {
			x.strays = append(x.strays, s)
		}
	}
	x.data = r.data()
	r.indexed = x
	return x
}

func (x *wantIndex) add(r *Ready, w *want) {
	n := len(x.wants)
	entries := r.entries(w)
	x.wants, x.entries = append(x.wants, w), append(x.entries, entries)
	for _, node := range w.route.nodes {
		x.byNode[node] = append(x.byNode[node], n)
	}
	if w.why != nil {
		x.decided = append(x.decided, n)
	}
	if len(w.route.obstacles) > 0 && n < x.mains {
		x.stopped = append(x.stopped, n)
	}
	for _, e := range entries {
		for _, id := range e.own() {
			x.own[id] = addOnce(x.own[id], n)
		}
	}
	before := ""
	for word := range strings.SplitSeq(w.called, "-") {
		word = singular(word)
		x.place[word] = addOnce(x.place[word], n)
		if before != "" {
			x.place[before+word] = addOnce(x.place[before+word], n)
		}
		before = word
	}
}

// addOnce adds a number that is not smaller than the last.
func addOnce(list []int, n int) []int {
	if l := len(list); l > 0 && list[l-1] == n {
		return list
	}
	return append(list, n)
}

// leadingTo gives the wants that a number may lead to, in order.
func (r *Ready) leadingTo(number string) []int {
	x := r.index()
	out := slices.Clone(x.decided)
	var releases []string
	for _, s := range r.sites {
		if !slices.Contains(releases, s.release) {
			releases = append(releases, s.release)
		}
	}
	for _, release := range releases {
		c := r.at(release)
		for _, node := range c.from(number).nodes {
			out = append(out, x.byNode[node]...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// meaning gives the wants that may meet the words, those that may meet the most
// first; of those that may meet as many in order.
func (r *Ready) meaning(meanings []meaning) (groups [][]int) {
	x, words := r.index(), r.Catalogue.words
	met := make([]uint16, len(x.wants)) // how many words each may meet
	last := make([]uint16, len(x.wants))
	for i := range meanings {
		m, stamp := &meanings[i], uint16(i+1)
		mark := func(list []int) {
			for _, n := range list {
				if last[n] != stamp {
					last[n] = stamp
					met[n]++
				}
			}
		}
		for id, list := range x.own {
			if m.by(words, id) < unmet {
				mark(list)
			}
		}
		for text, list := range x.place {
			if m.at(words, text) < unmet {
				mark(list)
			}
		}
		if len(m.together) > 0 {
			for n, entries := range x.entries {
				if slices.ContainsFunc(entries, func(e *entry) bool { return m.within(words, e, nil) < unmet }) {
					mark([]int{n})
				}
			}
		}
	}
	groups = make([][]int, len(meanings)+1)
	for n, count := range met {
		if count > 0 {
			at := len(meanings) - int(count)
			groups[at] = append(groups[at], n)
		}
	}
	return groups
}
