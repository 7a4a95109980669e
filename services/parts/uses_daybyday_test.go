package parts_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// run is a row of days on which a part stood somewhere, by one change.
type run struct {
	position, change, part string
	since, until           vehicle.Date
	isFirst                bool // no overhaul had made that part of it
	isLookedAt             bool // somebody wrote its lot or serial down on one of the days
	origin                 build.Origin
}

// runsOf looks at a vehicle on every day, as build.Configure has it. It knows no
// timeline and no index.
func (r *reality) runsOf(v vehicle.Serial) (all []*run) {
	type place struct{ position, change, part string }
	open, fitted := map[place]*run{}, map[string]bool{}
	for day := r.records[v].Built; !day.After(r.day); day = day.AddDays(1) {
		conf, err := build.Configure(*r.records[v], r.changes[v], r.releases, day)
		if err != nil {
			r.t.Fatal(err)
		}
		stands := map[place]bool{}
		for _, f := range conf.Fitted {
			p := place{f.Component.Position, f.Change, f.Component.Part}
			if stands[p] = true; open[p] == nil {
				open[p] = &run{position: p.position, change: p.change, part: p.part, since: day, origin: f.Origin, isFirst: !fitted[p.position+p.change]}
				all, fitted[p.position+p.change] = append(all, open[p]), true
			}
			open[p].isLookedAt = open[p].isLookedAt || f.Component.Lot != "" || f.Component.Serial != ""
		}
		for p := range open {
			if !stands[p] {
				open[p].until = day
				delete(open, p)
			}
		}
	}
	return all
}

// calledFor gives the day on which a unit that nobody recorded came to stand
// where a release called for it, by however many moves it went on; zero for one
// that somebody recorded.
func (r *reality) calledFor(s *run) vehicle.Date {
	if !s.isFirst || s.isLookedAt {
		return vehicle.Date{}
	}
	if s.origin == build.FromRelease || s.origin == build.FromOption {
		return s.since
	}
	for _, changes := range r.changes {
		for _, c := range changes {
			if c.Name() != s.change || c.Counterpart == "" {
				continue
			}
			for from := range r.records {
				for _, before := range r.runsOf(from) {
					if strings.HasPrefix(c.Counterpart, build.Name(from)+"/") && before.until == c.Date && before.position == s.position {
						return r.calledFor(before)
					}
				}
			}
		}
	}
	return vehicle.Date{}
}

// mayGoIn says whether a part may go in on a day in place of one of the same
// chain.
func (r *reality) mayGoIn(part, called string, day vehicle.Date) bool {
	for old, s := range r.chain {
		isIn := !s.Effective.After(day)
		switch {
		case old == called && s.New[0].Part == part:
			return isIn
		case old == part && (called == part || called == s.New[0].Part):
			return !isIn || s.TwoWay || s.OldStock == parts.UsedUpFirst
		}
	}
	return part == called
}

// dayByDay writes down when a part stood where, or may have.
func (r *reality) dayByDay(number string, on vehicle.Date) []string {
	var lines []string
	write := func(certainty string, v vehicle.Serial, s *run, since vehicle.Date) {
		if certainty == "" && !s.until.IsZero() && !s.until.After(on) {
			certainty = "had"
		}
		if !since.After(on) && (s.until.IsZero() || since.Before(s.until)) {
			lines = append(lines, fmt.Sprintf("%s %s %s %s..%s %s", cmp.Or(certainty, "has"), v, s.position, since, s.until, number))
		}
	}
	for v := range r.records {
		for _, s := range r.runsOf(v) {
			made := r.calledFor(s)
			chain, isOld := r.chain[s.part]
			switch {
			case made.IsZero() || number == s.part && (!isOld || chain.Effective.After(made)):
				if s.part == number {
					write("", v, s, s.since)
				}
			case r.mayGoIn(number, s.part, made):
				write("may", v, s, s.since)
			case isOld && chain.New[0].Part == number: // not yet
				since := chain.Effective
				if since.Before(s.since) {
					since = s.since
				}
				write("may", v, s, since)
			}
		}
	}
	slices.Sort(lines)
	return lines
}

func TestTheDaysOfUsesAreThoseOnWhichTheConfigurationHasThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := newReality(t)
		for range rapid.IntRange(2, 20).Draw(t, "days") {
			r.live("refit", "both", "off", "find out", "move", "upgrade", "winch")
			r.used = nil // what stood where is all that is asked
			r.day = r.day.AddDays(2)
		}
		q := parts.UseQuestion{Part: anyOf(r, "asked part", "AP-2000", "AP-2001", "AP-3000", "AP-3001", "AP-4000", "AP-5000")}
		q.On = isoDay("2016-06-01").AddDays(rapid.IntRange(0, 42).Draw(t, "asked day"))
		page, err := r.answer(r.index(t), q, "", 10_000)
		if err != nil {
			t.Fatal(err)
		}
		for i := range page.Uses {
			page.Uses[i].CameFrom, page.Uses[i].WentTo = "", "" // which no single day tells
		}
		got := told(page.Uses)
		slices.Sort(got)
		if diff := gocmp.Diff(r.dayByDay(q.Part, q.On), got); diff != "" {
			t.Fatalf("%s on %s (-day by day +index):\n%s%+v", q.Part, q.On, diff, r.changes)
		}
	})
}
