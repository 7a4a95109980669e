package bulletin

import "halfshaft/services/vehicle"

// truth says whether something holds, as far as the records tell.
type truth int8

const (
	no truth = iota
	unknown
	yes
)

func truthOf(b bool) truth {
	if b {
		return yes
	}
	return no
}

// not is no for yes, yes for no, and unknown for unknown.
func (t truth) not() truth { return yes - t }

// operator is what a node does with those below it.
type operator int8

const (
	itself operator = iota // it is a single condition
	all
	one
	none
)

// node is a condition made ready to be judged.
type node struct {
	operator operator
	below    []*node
	test     test // of itself
}

// test is a single condition.
type test interface {
	// rule names it: "RELEASE".
	rule() string
	// judge says whether it holds.
	judge(s *subject) truth
	// fact says what is on record of what it asks, as a sentence without its
	// full stop; of something unknown, what is not.
	fact(s *subject) string
	// wanted ends a sentence about vehicles: "built to release R3".
	wanted() string
	// off says by how much a vehicle misses it: "3 days after the last day", and
	// whether that is close; empty where nothing can be said.
	off(s *subject) (by string, close bool)
	// record names the record that a fact is from; empty for none.
	record(s *subject) string
}

// judge is the logic of three values: all is the least of its truths, one the
// greatest.
func (n *node) judge(s *subject) truth {
	switch n.operator {
	case itself:
		return n.test.judge(s)
	case none:
		return n.below[0].judge(s).not()
	case all:
		t := yes
		for _, b := range n.below {
			if t = min(t, b.judge(s)); t == no {
				return no
			}
		}
		return t
	}
	t := no
	for _, b := range n.below {
		if t = max(t, b.judge(s)); t == yes {
			return yes
		}
	}
	return t
}

// ground is a single condition that had a part in a decision.
type ground struct {
	test    test
	is      truth
	negated bool // whether the bulletin is for vehicles for which it does not hold
}

// grounds gives the single conditions that decide a node that is t, those that
// matter most first: of all that fail the ones that fail, of one that holds the
// ones that hold, of what is not known first what is not known.
func (n *node) grounds(s *subject, t truth, negated bool, found []ground) []ground {
	switch n.operator {
	case itself:
		return append(found, ground{n.test, t, negated})
	case none:
		return n.below[0].grounds(s, t.not(), !negated, found)
	}
	first, second := t, t // the truths of those that have a part in it
	if t == unknown && n.operator == all {
		second = yes
	}
	for _, b := range n.below {
		if is := b.judge(s); is == first {
			found = b.grounds(s, is, negated, found)
		}
	}
	if second == first {
		return found
	}
	for _, b := range n.below {
		if is := b.judge(s); is == second {
			found = b.grounds(s, is, negated, found)
		}
	}
	return found
}

// miss is a single condition that alone keeps a vehicle out.
type miss struct {
	ground
	others bool // whether others hold that must hold too
	choice bool // whether another single condition would do instead
	by     string
	close  bool
}

// misses gives the single conditions each of which, were it otherwise, would
// make the node hold (want yes) or not hold (want no). None where more than one
// would have to be otherwise, or where another is not known.
func (n *node) misses(s *subject, want truth, negated bool) []miss {
	switch n.operator {
	case itself:
		m := miss{ground: ground{n.test, want.not(), negated}}
		if want == yes {
			m.by, m.close = n.test.off(s)
		}
		return []miss{m}
	case none:
		return n.below[0].misses(s, want.not(), !negated)
	}
	if (n.operator == all) == (want == yes) {
		return n.missesOfEach(s, want, negated)
	}
	var found []miss // any of them will do
	for _, b := range n.below {
		if b.judge(s) == want.not() {
			found = append(found, b.misses(s, want, negated)...)
		}
	}
	for i := range found {
		found[i].choice = found[i].choice || len(found) > 1
	}
	return found
}

// missesOfEach is misses where each of those below must be as wanted.
func (n *node) missesOfEach(s *subject, want truth, negated bool) []miss {
	var wrong *node
	for _, b := range n.below {
		switch b.judge(s) {
		case want:
		case unknown:
			return nil
		default:
			if wrong != nil {
				return nil
			}
			wrong = b
		}
	}
	if wrong == nil {
		return nil
	}
	found := wrong.misses(s, want, negated)
	for i := range found {
		found[i].others = found[i].others || len(n.below) > 1
	}
	return found
}

// near gives the first miss that makes a vehicle nearly one of the set: other
// conditions hold, or it is close. A set of a single condition would otherwise
// have the whole fleet near.
func (n *node) near(s *subject) (miss, bool) {
	var best miss
	found := false
	for _, m := range n.misses(s, yes, false) {
		switch {
		case m.close && !(found && best.close):
			best, found = m, true
		case m.others && !found:
			best, found = m, true
		}
	}
	return best, found
}

// reason says what a single condition found.
func (g ground) reason(s *subject) vehicle.Reason {
	decides := "HOLDS"
	sentence := g.test.fact(s)
	against := g.is == yes && g.negated || g.is == no && !g.negated
	switch {
	case g.is == unknown:
		decides, sentence = "UNKNOWN", sentence+"; "+g.asks()
	case against:
		decides, sentence = "FAILS", sentence+"; "+g.asks()
	}
	return vehicle.Reason{
		Rule:     "SET_" + g.test.rule() + "_" + decides,
		Facts:    []vehicle.Fact{{Name: "wanted", Value: g.wanted()}, {Name: "found", Value: g.test.fact(s)}},
		Record:   g.test.record(s),
		Sentence: sentence + ".",
	}
}

func (g ground) wanted() string {
	if g.negated {
		return "not " + g.test.wanted()
	}
	return g.test.wanted()
}

func (g ground) asks() string {
	if g.negated {
		return "the bulletin is not for vehicles " + g.test.wanted()
	}
	return "the bulletin is for vehicles " + g.test.wanted()
}

// reason says which condition alone keeps the vehicle out, and by how much.
func (m miss) reason(s *subject) vehicle.Reason {
	r := m.ground.reason(s)
	lead := "It is close: "
	switch {
	case m.others && m.choice:
		lead = "One condition more would put it in, this one or another: "
	case m.others:
		lead = "Only one condition keeps it out: "
	}
	fact := m.test.fact(s)
	if m.by != "" {
		fact += ", " + m.by
		r.Facts = append(r.Facts, vehicle.Fact{Name: "by", Value: m.by})
	}
	r.Rule, r.Sentence = "SET_NEAR", lead+fact+"; "+m.asks()+"."
	r.Facts = append(r.Facts, vehicle.Fact{Name: "condition", Value: m.test.rule()})
	return r
}
