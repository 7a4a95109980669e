package parts_test

import (
	"fmt"
	"maps"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// dayByDay looks at every vehicle on every day, as build.Configure has it, and
// writes down when a part stood where. It knows no timeline and no index.
func (r *reality) dayByDay(number string, on vehicle.Date) []string {
	type place struct{ position, change, part string }
	var lines []string
	for _, v := range slices.Sorted(maps.Keys(r.records)) {
		since := map[place]vehicle.Date{}
		write := func(p place, until vehicle.Date) {
			certainty := "has"
			if !until.IsZero() && !until.After(on) {
				certainty = "had"
			}
			if since[p].After(on) {
				return
			}
			lines = append(lines, fmt.Sprintf("%s %s %s %s..%s %s", certainty, v, p.position, since[p], until, p.part))
		}
		for day := r.records[v].Built; !day.After(r.day); day = day.AddDays(1) {
			conf, err := build.Configure(*r.records[v], r.changes[v], r.releases, day)
			if err != nil {
				r.t.Fatal(err)
			}
			stands := map[place]bool{}
			for _, f := range conf.Fitted {
				if p := (place{f.Component.Position, f.Change, f.Component.Part}); p.part == number {
					stands[p] = true
					if since[p].IsZero() {
						since[p] = day
					}
				}
			}
			for p := range since {
				if !stands[p] {
					write(p, day)
					delete(since, p)
				}
			}
		}
		for p := range since {
			write(p, vehicle.Date{})
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
		q := parts.UseQuestion{Part: anyOf(r, "asked part", "AP-2000", "AP-2001", "AP-3000", "AP-4000", "AP-5000")}
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
		if diff := cmp.Diff(r.dayByDay(q.Part, q.On), got); diff != "" {
			t.Fatalf("%s on %s (-day by day +index):\n%s%+v", q.Part, q.On, diff, r.changes)
		}
	})
}
