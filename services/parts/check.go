package parts

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"halfshaft/services/build"
	"halfshaft/services/fault"
)

// Check lists everything that is wrong with a catalogue as a whole: parts that
// nobody knows, numbers that are the same when spoken, kits that hold
// themselves, supersessions that lead in a circle, to a dead end, or that
// cannot be told apart; and against the releases: positions, releases and
// options that there are none of, and rows that overlap or leave a gap for a
// release with some of its options. The fields are named rows[<record>].<path>,
// and a circle or dead end is given with its path. The order is that of the
// records. Without any release nothing is said about these.
func (c *Catalogue) Check(releases build.ReleaseSet) []fault.Field {
	return c.check(releases, true)
}

// CheckRecords lists what Check does, but for what a row that is missing would
// make seem wrong: parts that nobody knows, dead ends, overlaps and gaps. It is
// for a catalogue of which some rows are missing, or wrong by themselves.
func (c *Catalogue) CheckRecords(releases build.ReleaseSet) []fault.Field {
	return c.check(releases, false)
}

func (c *Catalogue) check(releases build.ReleaseSet, whole bool) []fault.Field {
	c.Seal()
	k := checker{catalogue: c, releases: releases, whole: whole}
	for _, number := range c.numbers.all {
		k.part(&c.byNumber[number].Part)
	}
	k.circles("contents", c.numbers.all, PartName, "a kit that does not hold itself", func(number string) []string {
		return contents(c.Part(number))
	})
	for _, id := range c.ids {
		k.supersession(c.supersessions[id])
	}
	k.ambiguous()
	olds := make([]string, 0, len(c.byOld))
	for old := range c.byOld {
		olds = append(olds, old)
	}
	slices.Sort(olds)
	k.circles("new_parts", olds, k.leaving, "a chain of supersessions that ends", c.replacements)
	if whole {
		for _, old := range olds {
			k.deadEnds(old)
		}
	}
	k.technical()
	if whole && len(releases) > 0 {
		k.survey()
	}
	return k.found
}

type checker struct {
	catalogue *Catalogue
	releases  build.ReleaseSet
	whole     bool // no row is missing
	found     faults
}

func (k *checker) add(record, path, got, want string) {
	k.found.add("rows["+record+"]."+path, got, want)
}

func (k *checker) part(p *Part) {
	if other := k.catalogue.ofNumber(NormalNumber(p.Number)); other != nil && other.Number != p.Number {
		k.add(PartName(p.Number), "name", p.Number, "a number that is not "+other.Number+" written otherwise")
	}
	for i, l := range p.Contents {
		k.known(PartName(p.Number), fmt.Sprintf("contents[%d].part", i), l.Part)
	}
	for i, l := range p.RenewWith {
		k.known(PartName(p.Number), fmt.Sprintf("renew_with[%d].part", i), l.Part)
	}
}

func (k *checker) supersession(s *Supersession) {
	record := SupersessionName(s.ID)
	k.known(record, "old_part", s.Old)
	for i, number := range s.AlsoOld {
		k.known(record, fmt.Sprintf("also_old_parts[%d]", i), number)
	}
	for i, l := range s.New {
		k.known(record, fmt.Sprintf("new_parts[%d].part", i), l.Part)
	}
	for i, number := range s.Together {
		k.known(record, fmt.Sprintf("together_with[%d]", i), number)
	}
}

func (k *checker) known(record, path, number string) {
	if k.whole && k.catalogue.Part(number) == nil {
		k.add(record, path, number, "a part of the catalogue")
	}
}

// ambiguous refuses two supersessions of one part between which nothing
// decides: of one day, as narrow as each other, for a release in common.
func (k *checker) ambiguous() {
	for _, id := range k.catalogue.ids {
		s := k.catalogue.supersessions[id]
		for _, old := range s.olds() {
			for _, other := range k.catalogue.byOld[old] {
				if other.ID < s.ID && sameRank(s, other) && overlap(s.Releases, other.Releases) {
					k.add(SupersessionName(s.ID), "effective_date", isoDate(s.Effective), fmt.Sprintf(
						"another day, release or condition than %s has, which is also for %s", SupersessionName(other.ID), old))
				}
			}
		}
	}
}

func sameRank(a, b *Supersession) bool {
	return cmp.Or(a.Effective.Compare(b.Effective), compareBool(len(a.Releases) > 0, len(b.Releases) > 0),
		cmp.Compare(len(a.Together), len(b.Together))) == 0
}

func overlap(a, b []string) bool {
	return len(a) == 0 || len(b) == 0 || slices.ContainsFunc(a, func(s string) bool { return slices.Contains(b, s) })
}

// replacements is everything that may take a part's place, for any release and
// on any day.
func (c *Catalogue) replacements(number string) []string {
	var out []string
	for _, s := range c.byOld[number] {
		for _, l := range s.New {
			out = append(out, l.Part)
		}
	}
	return sortedUnique(out)
}

// leaving names the record by which a part is left, for a complaint.
func (k *checker) leaving(number string) string {
	return SupersessionName(k.catalogue.byOld[number][0].ID)
}

func contents(p *Part) []string {
	if p == nil {
		return nil
	}
	var out []string
	for _, l := range p.Contents {
		out = append(out, l.Part)
	}
	return out
}

// circles finds each circle once and names it from its smallest member. It
// keeps its own stack, for a chain may be longer than is good for recursion.
func (k *checker) circles(field string, starts []string, record func(number string) string, want string, next func(string) []string) {
	type frame struct {
		number string
		left   []string
	}
	done := map[string]bool{}
	for _, start := range starts {
		if done[start] {
			continue
		}
		on := map[string]bool{start: true}
		stack := []frame{{start, next(start)}}
		for len(stack) > 0 {
			top := &stack[len(stack)-1]
			if len(top.left) == 0 {
				done[top.number], on[top.number] = true, false
				stack = stack[:len(stack)-1]
				continue
			}
			to := top.left[0]
			top.left = top.left[1:]
			switch {
			case on[to]:
				var path []string
				for _, f := range stack {
					if len(path) > 0 || f.number == to {
						path = append(path, f.number)
					}
				}
				path = fromSmallest(path)
				k.add(record(path[0]), field, strings.Join(append(path, path[0]), " -> "), want)
			case !done[to]:
				on[to] = true
				stack = append(stack, frame{to, next(to)})
			}
		}
	}
}

func fromSmallest(circle []string) []string {
	i := slices.Index(circle, slices.Min(circle))
	return append(slices.Clone(circle[i:]), circle[:i]...)
}

// deadEnds refuses a supersession by a part that cannot be had, has no drawing
// to be remade from, nothing that takes its place, and nothing that may stand
// in for it.
func (k *checker) deadEnds(old string) {
	for _, s := range k.catalogue.byOld[old] {
		for i, l := range s.New {
			p := k.catalogue.Part(l.Part)
			if p == nil || p.Available() || p.Drawing != "" || len(k.catalogue.byOld[l.Part]) > 0 || k.spared(l.Part) {
				continue
			}
			k.add(SupersessionName(s.ID), fmt.Sprintf("new_parts[%d].part", i), k.pathTo(old)+" -> "+l.Part,
				"a part that can be had, or remade from a drawing")
		}
	}
}

// spared says whether an older part that can be had may stand in.
func (k *checker) spared(number string) bool {
	return slices.ContainsFunc(k.catalogue.byNew[number], func(s *Supersession) bool {
		p := k.catalogue.Part(s.Old)
		return s.TwoWay && p != nil && p.Available()
	})
}

// pathTo gives one chain that leads to a part, from its beginning.
func (k *checker) pathTo(number string) string {
	path := []string{number}
	for {
		from := k.catalogue.byNew[path[0]]
		if len(from) == 0 || slices.Contains(path, from[0].Old) {
			return strings.Join(path, " -> ")
		}
		path = append([]string{from[0].Old}, path...)
	}
}
