package parts

import (
	"slices"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// circumstances are what decides whether a supersession holds: the day, the
// release that the position follows, and what else is on the vehicle.
type circumstances struct {
	catalogue *Catalogue
	on        vehicle.Date
	release   string
	fitted    []build.Fitted
	known     map[routeKey]route // routes found before
	found     map[string]bool    // what anywhere was asked before
}

type routeKey struct{ number, release string }

// mostKnown bounds the routes that are kept: those of a vehicle are a few
// thousand, but whoever asks one vehicle about every number of the catalogue
// would have them all kept.
const mostKnown = 20_000

// obstacle says why a supersession does not hold.
type obstacle struct {
	step *Supersession
	kind obstacleKind
	part string // of missing and notForRelease: the part concerned
}

type obstacleKind int

const (
	noObstacle    obstacleKind = iota
	tooEarly                   // it takes effect after the day
	otherRelease               // it holds for other releases
	notForRelease              // the part that would take the place is not for this release
	unknownPart                // the part that would take the place is not in the catalogue
	missing                    // a part that must be fitted too is not on the vehicle
)

// judge tells what stands in the way of a supersession, the first thing only;
// noObstacle when it holds.
func (c *circumstances) judge(s *Supersession) obstacle {
	o := obstacle{step: s}
	switch {
	case s.Effective.After(c.on):
		o.kind = tooEarly
		return o
	case len(s.Releases) > 0 && !slices.Contains(s.Releases, c.release):
		o.kind = otherRelease
		return o
	}
	for _, l := range s.New {
		switch p := c.catalogue.Part(l.Part); {
		case p == nil:
			o.kind, o.part = unknownPart, l.Part
			return o
		case !p.suits(c.release):
			o.kind, o.part = notForRelease, l.Part
			return o
		}
	}
	for _, needed := range s.Together {
		if !c.present(s, needed) {
			o.kind, o.part = missing, needed
			return o
		}
	}
	return o
}

// present says whether a part that a supersession needs is on the vehicle, or
// comes with it.
func (c *circumstances) present(s *Supersession, needed string) bool {
	if slices.ContainsFunc(s.New, func(l Line) bool { return l.Part == needed }) {
		return true
	}
	return c.anywhere(needed)
}

// anywhere says whether a part is on the vehicle: the part itself, one that
// took its place since, or a kit that holds either.
func (c *circumstances) anywhere(needed string) bool {
	is, ok := c.found[needed]
	if ok {
		return is
	}
	accepted := c.successors(needed)
	is = slices.ContainsFunc(c.fitted, func(f build.Fitted) bool {
		if slices.Contains(accepted, f.Component.Part) {
			return true
		}
		p := c.catalogue.Part(f.Component.Part)
		return p != nil && slices.ContainsFunc(p.Contents, func(l Line) bool { return slices.Contains(accepted, l.Part) })
	})
	c.found[needed] = is
	return is
}

// successors is a part and whatever took its place by the day, for any release
// and under any condition: what is on the vehicle is there.
func (c *circumstances) successors(number string) []string {
	all := []string{number}
	for i := 0; i < len(all); i++ {
		for _, s := range c.catalogue.byOld[all[i]] {
			if s.Effective.After(c.on) {
				continue
			}
			for _, l := range s.New {
				if !slices.Contains(all, l.Part) {
					all = append(all, l.Part)
				}
			}
		}
	}
	return all
}

// route is the way from a part to what is ordered for it today.
type route struct {
	lines     []Line // what is ordered; several after a split
	steps     []*Supersession
	nodes     []string   // every part on the way, ends included
	obstacles []obstacle // supersessions that would have led further, or elsewhere
}

// from follows the supersessions that hold. What it gives is shared, and must
// not be changed.
func (c *circumstances) from(number string) route {
	key := routeKey{number, c.release}
	r, ok := c.known[key]
	if !ok {
		r = c.find(number)
		if len(c.known) >= mostKnown {
			clear(c.known)
		}
		c.known[key] = r
	}
	return r
}

func (c *circumstances) find(number string) route {
	r := route{nodes: []string{number}}
	if len(c.catalogue.byOld[number]) == 0 {
		r.lines = []Line{{number, 1}}
		return r
	}
	f := c.flow(&r)
	f.follow(number)
	f.count(map[string]int{number: 1})
	if len(r.lines) == 0 { // a loop leads nowhere, and Check refuses it
		r.lines = []Line{{number, 1}}
	}
	return r
}

// orderFor is what is ordered for several parts that are wanted together. Found
// for each by itself, what they were merged into would be ordered for each.
func (c *circumstances) orderFor(wanted []Line) []Line {
	var r route
	f, counts := c.flow(&r), map[string]int{}
	for _, l := range wanted {
		counts[l.Part] += l.Count()
		if !slices.Contains(r.nodes, l.Part) {
			r.nodes = append(r.nodes, l.Part)
			f.follow(l.Part)
		}
	}
	f.count(counts)
	return r.lines
}

func (c *circumstances) flow(r *route) *flow {
	return &flow{route: r, circumstances: c, left: map[string]*Supersession{}}
}

// flow is a route while it is looked for.
type flow struct {
	*route
	*circumstances
	left map[string]*Supersession // by part: what it was left by
	done []*Supersession          // each after all that it leads to
}

// follow goes to the ends, by each part and each supersession once.
func (f *flow) follow(number string) {
	for _, s := range f.catalogue.byOld[number] {
		o := f.judge(s)
		if o.kind != noObstacle {
			f.obstacles = append(f.obstacles, o)
			continue
		}
		f.left[number] = s
		if slices.Contains(f.steps, s) {
			return // by another of the parts that it merges
		}
		f.steps = append(f.steps, s)
		for _, next := range s.New {
			if !slices.Contains(f.nodes, next.Part) {
				f.nodes = append(f.nodes, next.Part)
				f.follow(next.Part)
			}
		}
		f.done = append(f.done, s)
		return
	}
	f.lines = append(f.lines, Line{Part: number})
}

// count finds how many are ordered at the ends for what was wanted. What
// branches lead to is needed for each of them; but one set of what several
// parts are merged into takes the place of one of each, so that the part of
// which there are most says how many sets.
func (f *flow) count(counts map[string]int) {
	for _, s := range slices.Backward(f.done) {
		sets := 0
		for _, old := range s.olds() {
			if f.left[old] == s {
				sets = max(sets, counts[old])
			}
		}
		for _, next := range s.New {
			counts[next.Part] += sets * next.Count()
		}
	}
	for i := range f.lines {
		f.lines[i].Quantity = counts[f.lines[i].Part]
	}
}

// meets says whether two routes share a part: from there on they are one.
func (r *route) meets(other *route) bool {
	return slices.ContainsFunc(r.nodes, func(n string) bool { return slices.Contains(other.nodes, n) })
}

// standIn finds an older part that may be fitted instead of one that is no
// longer to be had, going back over two-way supersessions that hold; the
// nearest first. The steps are those gone back over, the last first.
func (c *circumstances) standIn(number string) (part *Part, back []*Supersession) {
	type visit struct {
		number string
		back   []*Supersession
	}
	seen := []string{number}
	for queue := []visit{{number: number}}; len(queue) > 0; queue = queue[1:] {
		for _, s := range c.catalogue.byNew[queue[0].number] {
			if !s.TwoWay || len(s.New) != 1 || s.New[0].Count() != 1 || slices.Contains(seen, s.Old) || c.judge(s).kind != noObstacle {
				continue
			}
			back := append(slices.Clip(queue[0].back), s)
			if p := c.catalogue.Part(s.Old); p != nil && p.Available() && p.suits(c.release) {
				return p, back
			}
			seen = append(seen, s.Old)
			queue = append(queue, visit{s.Old, back})
		}
	}
	return nil, nil
}
