package parts_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// world is everything the dumb resolver reads, and it reads all of it for
// every step: no index, no order kept, no short cut. It was written from the
// rules in words and not from the code that it checks.
type world struct {
	parts         []parts.Part
	supersessions []parts.Supersession
	on            vehicle.Date
	conf          build.Configuration
}

func (w *world) part(number string) *parts.Part {
	for i := range w.parts {
		if w.parts[i].Number == number {
			return &w.parts[i]
		}
	}
	return nil
}

func (w *world) holds(s *parts.Supersession, release string) bool {
	if s.Effective.After(w.on) {
		return false
	}
	if len(s.Releases) > 0 && !slices.Contains(s.Releases, release) {
		return false
	}
	for _, l := range s.New {
		if p := w.part(l.Part); len(p.Releases) > 0 && !slices.Contains(p.Releases, release) {
			return false
		}
	}
	for _, needed := range s.Together {
		if !w.present(s, needed) {
			return false
		}
	}
	return true
}

// present says whether a needed part is on the vehicle, or comes with this
// very supersession.
func (w *world) present(s *parts.Supersession, needed string) bool {
	for _, l := range s.New {
		if l.Part == needed {
			return true
		}
	}
	return w.anywhere(needed)
}

// anywhere grows the set of what counts as the needed part until it grows no
// more, and looks for any of it on the vehicle.
func (w *world) anywhere(needed string) bool {
	counts := map[string]bool{needed: true}
	for range w.supersessions {
		for _, other := range w.supersessions {
			if other.Effective.After(w.on) {
				continue
			}
			for _, old := range olds(&other) {
				for _, l := range other.New {
					counts[l.Part] = counts[l.Part] || counts[old]
				}
			}
		}
	}
	for _, f := range w.conf.Fitted {
		if counts[f.Component.Part] {
			return true
		}
		if p := w.part(f.Component.Part); p != nil {
			for _, l := range p.Contents {
				if counts[l.Part] {
					return true
				}
			}
		}
	}
	return false
}

// next is the supersession that decides: of those that hold the latest, then
// the one for named releases, then the one with most conditions, then the
// first by identifier.
func (w *world) next(number, release string) *parts.Supersession {
	var best *parts.Supersession
	key := func(s *parts.Supersession) string {
		specific := "0"
		if len(s.Releases) > 0 {
			specific = "1"
		}
		return fmt.Sprintf("%s %s %03d", s.Effective, specific, len(s.Together))
	}
	for i := range w.supersessions {
		s := &w.supersessions[i]
		if !slices.Contains(olds(s), number) || !w.holds(s, release) {
			continue
		}
		if best == nil || key(s) > key(best) || key(s) == key(best) && s.ID < best.ID {
			best = s
		}
	}
	return best
}

// way is where parts lead: every part on it, what is ordered at its ends, and
// how many of each old part each supersession has taken.
type way struct {
	reached map[string]bool
	ends    map[string]int
	taken   map[string]map[string]int
}

func (w *world) way(number, release string) *way {
	to := &way{map[string]bool{}, map[string]int{}, map[string]map[string]int{}}
	w.walk(to, number, release, 1)
	return to
}

// walk goes on from a part. A supersession takes as many sets as the one of its
// old parts asks for that asks for most: a merge gives its new parts once for
// one of each.
func (w *world) walk(to *way, number, release string, times int) {
	to.reached[number] = true
	s := w.next(number, release)
	if s == nil {
		to.ends[number] += times
		return
	}
	taken := to.taken[s.ID]
	if taken == nil {
		taken = map[string]int{}
		to.taken[s.ID] = taken
	}
	before := most(taken)
	taken[number] += times
	if more := most(taken) - before; more > 0 {
		for _, l := range s.New {
			w.walk(to, l.Part, release, more*l.Count())
		}
	}
}

func most(counts map[string]int) int {
	n := 0
	for _, k := range counts {
		n = max(n, k)
	}
	return n
}

func olds(s *parts.Supersession) []string { return append([]string{s.Old}, s.AlsoOld...) }

func (w *world) meet(a, b, release string) bool {
	ra, rb := w.way(a, release), w.way(b, release)
	for n := range ra.reached {
		if rb.reached[n] {
			return true
		}
	}
	return false
}

func (w *world) leadsTo(from, to, release string) bool { return w.way(from, release).reached[to] }

// bases are the parts from which the order is found at a position.
func (w *world) bases(position string, specified []build.Specified) (bases []string, release string, count int) {
	want, count := "", 1
	for _, s := range specified {
		if s.Position == position {
			want, release, count = s.Part, s.Release, s.Quantity
		}
	}
	f := w.conf.At(position)
	if f == nil {
		if want == "" {
			return nil, release, count
		}
		return []string{want}, release, count
	}
	return w.fittedBases(f, want, f.Release), f.Release, f.Quantity
}

// fittedBases are those where something stands and the specification wants a
// part, or none.
func (w *world) fittedBases(f *build.Fitted, want, release string) []string {
	has := f.Component.Part
	switch {
	case want == has:
		return []string{want}
	case want == "" && f.Origin == build.FromOwner && w.part(has) == nil:
		return nil
	case want == "":
		return []string{has}
	case f.Origin == build.FromOwner:
		return []string{want}
	case f.Origin == build.FromCampaign, f.Origin == build.FromBuild:
		return []string{has}
	case w.leadsTo(has, want, release): // the older of the two
		return []string{has}
	case w.meet(want, has, release), w.part(has) == nil:
		return []string{want}
	}
	return []string{want, has}
}

// answer gives, for a part at a position, every answer that the rules allow;
// usually one. Several stand-ins may be equally near.
func (w *world) answers(base, release string, count int) []string {
	ends := w.way(base, release).ends
	first := w.first(base, release)
	text := func(order string, n int) string {
		var also []string
		for number, k := range ends {
			if number != first {
				also = append(also, fmt.Sprintf("%d %s", k*count, number))
			}
		}
		slices.Sort(also)
		return fmt.Sprintf("%s x%d also %s", order, n*count, strings.Join(also, ", "))
	}
	if w.part(first).Status != parts.Unavailable {
		return []string{text(first, ends[first])}
	}
	if len(ends) > 1 {
		return []string{"UNAVAILABLE"}
	}
	level, seen := []string{first}, map[string]bool{first: true}
	for len(level) > 0 {
		var found, older []string
		for _, s := range w.supersessions {
			if !s.TwoWay || len(s.New) != 1 || s.New[0].Count() != 1 || !slices.Contains(level, s.New[0].Part) || seen[s.Old] || !w.holds(&s, release) {
				continue
			}
			older = append(older, s.Old)
			if p := w.part(s.Old); p.Status != parts.Unavailable && (len(p.Releases) == 0 || slices.Contains(p.Releases, release)) {
				found = append(found, text(s.Old, ends[first]))
			}
		}
		if len(found) > 0 {
			return found
		}
		for _, o := range older {
			seen[o] = true
		}
		level = older
	}
	return []string{"UNAVAILABLE"}
}

// first is the part that stands first in the order: the first line of each
// step.
func (w *world) first(number, release string) string {
	for s := w.next(number, release); s != nil; s = w.next(number, release) {
		number = s.New[0].Part
	}
	return number
}

func TestADumbResolverThatReadsEverythingAgrees(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, releases, l := drawWorld(t)
		conf, specified, err := build.ConfigureSpecified(l.record, l.changes, releases, w.on)
		if err != nil {
			t.Fatal(err)
		}
		w.conf = conf
		a := parts.Answerer{Catalogue: catalogueOf(w.parts, w.supersessions), Places: parts.NewPlaces(releases)}
		for _, position := range []string{"alpha", "beta", "gamma"} {
			got := a.Answer(&parts.Vehicle{Configuration: conf, Specified: specified}, position)
			bases, release, count := w.bases(position, specified)
			var want [][]string // for each base the answers allowed, without those that cannot be had
			gone := false
			for _, b := range bases {
				if w.part(b) == nil {
					gone = true
					continue
				}
				if allowed := w.answers(b, release, count); allowed[0] == "UNAVAILABLE" {
					gone = true
				} else {
					want = append(want, allowed)
				}
			}
			if len(got.Choices) != len(want) {
				t.Fatalf("%s: %d choices, want %v", position, len(got.Choices), want)
			}
			for i := range got.Choices {
				if text := plain(&got.Choices[i]); !slices.Contains(want[i], text) {
					t.Fatalf("%s: %s, want one of %v", position, text, want[i])
				}
			}
			if refused := got.Refusal != nil; refused != (gone || len(bases) == 0) {
				t.Fatalf("%s: refused %v, want %v", position, refused, gone || len(bases) == 0)
			}
		}
	})
}

func plain(c *parts.Choice) string {
	var also []string
	for _, l := range c.AlsoOrder {
		also = append(also, fmt.Sprintf("%d %s", l.Count(), l.Part))
	}
	slices.Sort(also)
	return fmt.Sprintf("%s x%d also %s", c.Order.Number, c.Quantity, strings.Join(also, ", "))
}

// Wherever a number is answered without a refusal, it is by supersessions that
// the dumb resolver finds too, or by a record that set it aside.
func TestANumberIsAnsweredOnlyWhereItLeads(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, releases, l := drawWorld(t)
		conf, specified, err := build.ConfigureSpecified(l.record, l.changes, releases, w.on)
		if err != nil {
			t.Fatal(err)
		}
		w.conf = conf
		a := parts.Answerer{Catalogue: catalogueOf(w.parts, w.supersessions), Places: parts.NewPlaces(releases)}
		for _, p := range w.parts {
			got := a.Answer(&parts.Vehicle{Configuration: conf, Specified: specified}, p.Number)
			must, may := false, false
			for _, position := range []string{"alpha", "beta", "gamma"} {
				bases, release, _ := w.bases(position, specified)
				for _, b := range bases {
					must = must || w.meet(p.Number, b, release)
				}
				if f := conf.At(position); f != nil && len(bases) > 0 {
					may = may || w.meet(p.Number, f.Component.Part, release) // an owner's, set aside
				}
				for _, s := range specified {
					may = may || s.Position == position && s.Part != "" && w.meet(p.Number, s.Part, release)
				}
			}
			answered := len(got.Choices) > 0 && got.Refusal == nil
			if answered && !must && !may {
				t.Fatalf("%s answered with %s", p.Number, plain(&got.Choices[0]))
			}
			if must && !answered && (got.Refusal == nil || got.Refusal.Rule != parts.CannotBeHad && got.Refusal.Rule != parts.NoSuchPart) {
				t.Fatalf("%s leads here and was refused: %+v", p.Number, got.Refusal)
			}
		}
	})
}
