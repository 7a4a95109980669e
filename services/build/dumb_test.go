package build_test

import (
	"fmt"
	"maps"
	"slices"
	"sort"
	"testing"
	"time"

	"pgregory.net/rapid"

	"halfshaft/services/build"
	"halfshaft/services/drivetrain"
	"halfshaft/services/vehicle"
)

// This file says the rules of services/build a second time, as plainly as
// possible and without its code: every day of a vehicle's life is gone through
// one by one, and what the specification calls for is worked out anew for
// every question. The two must agree on any life.

type dumbUnit struct {
	part, serial, lot string
	origin            build.Origin
	fitted, bedding   vehicle.Date
	traits            string // as printed
	from              build.TraitsFrom
}

type dumbOption struct{ id, release string }

type dumbLife struct {
	rec      build.Record
	releases build.ReleaseSet
	units    map[string]dumbUnit
	follows  map[string]string
	options  []dumbOption
	tyre     drivetrain.Tyre
	ratio    vehicle.Decimal
	plate    string
}

// calls says which part belongs at a position now.
func (l *dumbLife) calls(position string) string { return l.callsFor(position).Part }

// followed is the release whose standard a position follows.
func (l *dumbLife) followed(position string) string {
	if later, ok := l.follows[position]; ok {
		return later
	}
	return l.rec.Release
}

// callsFor says what belongs at a position now; without a part for nothing.
func (l *dumbLife) callsFor(position string) build.Fitment {
	release := l.followed(position)
	part := build.Fitment{}
	for _, f := range l.releases[release].Fitments {
		if f.Position == position {
			part = f
		}
	}
	for _, o := range l.options {
		definition := l.option(release, o.id)
		if definition == nil {
			definition = l.option(o.release, o.id)
		}
		for _, f := range definition.Fitments {
			if f.Position == position {
				part = f
			}
		}
		if slices.Contains(definition.Removes, position) {
			part = build.Fitment{}
		}
	}
	return part
}

// like says what a unit is like of which nobody says it: every fitment there is
// gets a place, and the one with the best place decides.
func (l *dumbLife) like(part, position string) (traits string, from build.TraitsFrom) {
	called := l.callsFor(position)
	if called.Part == part && part != "" {
		return fmt.Sprint(called.Traits), build.TraitsOfSpecification
	}
	best, found := "", ""
	for id, r := range l.releases {
		look := func(option int, f build.Fitment, nth int) {
			if f.Part != part || part == "" {
				return
			}
			// A small place is a good one: here or elsewhere, then the release,
			// then standard or option.
			place := fmt.Sprintf("%v %v %v %d %02d %02d", f.Position != position, id != l.followed(position), id != l.rec.Release,
				9999-r.Effective.Year, option, nth)
			if best == "" || place < best {
				best, found = place, fmt.Sprint(f.Traits)
			}
		}
		for n, f := range r.Fitments {
			look(0, f, n)
		}
		for i, o := range r.Options {
			for n, f := range o.Fitments {
				look(1+i, f, n)
			}
		}
	}
	switch {
	case best != "":
		return found, build.TraitsOfFitment
	case len(called.Traits) > 0:
		return fmt.Sprint(called.Traits), build.TraitsAssumed
	}
	return "[]", build.TraitsUnknown
}

func (l *dumbLife) option(release, id string) *build.Option {
	for _, o := range l.releases[release].Options {
		if o.ID == id {
			return &o
		}
	}
	return nil
}

func dumbConfigure(rec build.Record, changes []build.Change, releases build.ReleaseSet, on vehicle.Date) *dumbLife {
	l := &dumbLife{rec: rec, releases: releases, units: map[string]dumbUnit{}, follows: map[string]string{},
		tyre: releases[rec.Release].Driveline.Tyre, ratio: releases[rec.Release].Driveline.Drive.AxleRatio, plate: rec.Plate}
	everywhere := map[string]bool{}
	for _, r := range releases {
		for _, f := range r.Fitments {
			everywhere[f.Position] = true
		}
		for _, o := range r.Options {
			for _, f := range o.Fitments {
				everywhere[f.Position] = true
			}
		}
	}
	for _, o := range releases[rec.Release].Options {
		if slices.Contains(rec.Options, o.ID) {
			l.options = append(l.options, dumbOption{o.ID, rec.Release})
		}
	}
	for position := range everywhere {
		part := l.calls(position)
		if part == "" {
			continue
		}
		u := dumbUnit{part: part, origin: build.FromRelease, fitted: rec.Built,
			traits: fmt.Sprint(l.callsFor(position).Traits), from: build.TraitsOfSpecification}
		for _, o := range l.options {
			for _, f := range l.option(rec.Release, o.id).Fitments {
				if f.Position == position {
					u.origin = build.FromOption
				}
			}
		}
		l.units[position] = u
	}
	for _, c := range rec.Components {
		l.units[c.Position] = l.unit(c, rec.Built, build.FromBuild)
	}
	for today := rec.Built; !today.After(on); today = today.AddDays(1) {
		for _, campaign := range []bool{false, true} {
			for _, c := range changes { // in the order recorded
				if c.Date == today && (c.Source == build.SourceCampaign) == campaign {
					l.happens(c)
				}
			}
		}
	}
	return l
}

func (l *dumbLife) unit(c build.Component, today vehicle.Date, origin build.Origin) dumbUnit {
	u := dumbUnit{c.Part, c.Serial, c.Lot, origin, c.Fitted, c.BeddingIn, fmt.Sprint(c.Traits), build.TraitsRecorded}
	if u.part == "" {
		u.part = l.calls(c.Position)
	}
	if len(c.Traits) == 0 {
		u.traits, u.from = l.like(u.part, c.Position)
	}
	if u.fitted.IsZero() {
		u.fitted = today
	}
	return u
}

func dumbOrigin(s build.ChangeSource) build.Origin {
	switch s {
	case build.SourceCampaign:
		return build.FromCampaign
	case build.SourceOwner:
		return build.FromOwner
	}
	return build.FromService
}

func (l *dumbLife) happens(c build.Change) {
	position := c.Component.Position
	switch c.Kind {
	case build.Fit:
		l.units[position] = l.unit(c.Component, c.Date, dumbOrigin(c.Source))
	case build.Remove:
		delete(l.units, position)
	case build.Overhaul:
		if u, ok := l.units[position]; ok {
			u.bedding = c.Date
			before := u
			if c.Component.Part != "" {
				u.part = c.Component.Part
			}
			if u.part != before.part {
				u.traits, u.from = l.like(u.part, position)
				if (u.from == build.TraitsAssumed || u.from == build.TraitsUnknown) && before.traits != "[]" {
					u.traits, u.from = before.traits, build.TraitsAssumed
				}
			}
			if len(c.Component.Traits) > 0 {
				u.traits, u.from = fmt.Sprint(c.Component.Traits), build.TraitsRecorded
			}
			if c.Component.Serial != "" {
				u.serial = c.Component.Serial
			}
			if c.Component.Lot != "" {
				u.lot = c.Component.Lot
			}
			l.units[position] = u
		}
	case build.Upgrade:
		for _, p := range c.Positions {
			l.follows[p] = c.Release
			l.renew(p, c, dumbOrigin(c.Source))
		}
	case build.OptionAdded:
		l.add(c)
	case build.OptionRemoved:
		for i, o := range l.options {
			if o.id == c.Option {
				l.options = slices.Delete(slices.Clone(l.options), i, i+1)
				l.renewAll(l.option(o.release, o.id), c, dumbOrigin(c.Source))
				break
			}
		}
	case build.Tyres:
		l.tyre = c.Tyre
	case build.AxleRatio:
		l.ratio = c.Drive.AxleRatio
	case build.PlateChanged:
		l.plate = c.Plate
	}
}

func (l *dumbLife) add(c build.Change) {
	for _, o := range l.options {
		if o.id == c.Option {
			return
		}
	}
	known := []string{}
	for _, release := range l.follows {
		if l.option(release, c.Option) != nil {
			known = append(known, release)
		}
	}
	sort.Strings(known) // the releases of the tests take effect in this order
	release := ""
	if len(known) > 0 {
		release = known[len(known)-1]
	}
	if l.option(l.rec.Release, c.Option) != nil {
		release = l.rec.Release
	}
	if release == "" {
		return
	}
	l.options = append(l.options, dumbOption{c.Option, release})
	origin := dumbOrigin(c.Source)
	if origin == build.FromService {
		origin = build.FromOption
	}
	l.renewAll(l.option(release, c.Option), c, origin)
}

func (l *dumbLife) renewAll(o *build.Option, c build.Change, origin build.Origin) {
	for _, f := range o.Fitments {
		l.renew(f.Position, c, origin)
	}
	for _, p := range o.Removes {
		l.renew(p, c, origin)
	}
}

// renew puts what is called for at a position, unless it is there and not the
// owner's own.
func (l *dumbLife) renew(position string, c build.Change, origin build.Origin) {
	part := l.calls(position)
	u, there := l.units[position]
	switch {
	case part == "":
		delete(l.units, position)
	case there && u.part == part && u.origin != build.FromOwner:
	default:
		l.units[position] = dumbUnit{part: part, origin: origin, fitted: c.Date,
			traits: fmt.Sprint(l.callsFor(position).Traits), from: build.TraitsOfSpecification}
	}
}

// text is the life as it stands, for comparison.
func (l *dumbLife) text() string {
	s := fmt.Sprintf("%v %v %q\n", l.tyre, l.ratio, l.plate)
	for _, o := range l.options {
		s += o.id + " "
	}
	for _, p := range slices.Sorted(maps.Keys(l.units)) {
		u := l.units[p]
		release := l.rec.Release
		if later, ok := l.follows[p]; ok {
			release = later
		}
		standard := u.origin != build.FromOwner && u.part == l.calls(p)
		s += fmt.Sprintf("\n%s: %v %s %v", p, u, release, standard)
	}
	return s
}

func textOf(c build.Configuration) string {
	s := fmt.Sprintf("%v %v %q\n", c.Tyre, c.Drive.AxleRatio, c.Plate)
	for _, o := range c.Options {
		s += o + " "
	}
	for _, f := range c.Fitted {
		u := f.Component
		s += fmt.Sprintf("\n%s: %v %s %v", u.Position, dumbUnit{u.Part, u.Serial, u.Lot, f.Origin, u.Fitted, u.BeddingIn,
			fmt.Sprint(u.Traits), f.TraitsFrom}, f.Release, f.Standard)
	}
	return s
}

// lives draws changes in the order in which they were recorded, their days in
// any order.
func lives(releases build.ReleaseSet) *rapid.Generator[[]build.Change] {
	positions := []string{"gearbox", "transfer-case", "rear-axle-differential", "winch", "front-bumper", "brakes-front", "tow-hitch", "snorkel"}
	options := []string{"lsd-rear", "winch", "winch-rope", "tow-hitch-front", "disc-front", "no-such"}
	ratios := []vehicle.Decimal{{Coefficient: 470, Scale: 2}, {Coefficient: 41, Scale: 1}}
	one := rapid.Custom(func(t *rapid.T) build.Change {
		return build.Change{
			Serial: "AM0147P",
			Kind:   build.ChangeKind(rapid.IntRange(1, 11).Draw(t, "kind")),
			Source: build.ChangeSource(rapid.IntRange(1, 4).Draw(t, "source")),
			Date:   day(2012, 4, 10).AddDays(rapid.IntRange(0, 40).Draw(t, "day")),
			Component: build.Component{
				Position: rapid.SampledFrom(positions).Draw(t, "position"),
				Part:     rapid.SampledFrom([]string{"", "AP-1100", "AP-1101", "AP-2045", "AP-2046", "AP-3100", "AP-3101", "X-1"}).Draw(t, "part"),
				Traits:   rapid.SampledFrom([][]string{nil, nil, {"hand-made"}}).Draw(t, "traits"),
				Serial:   rapid.SampledFrom([]string{"", "S1", "S2"}).Draw(t, "serial"),
				Lot:      rapid.SampledFrom([]string{"", "L1"}).Draw(t, "lot"),
			},
			Tyre:      drivetrain.Tyre{Size: rapid.SampledFrom([]string{"7.50-16", "205R16"}).Draw(t, "tyre")},
			Drive:     drivetrain.Drive{AxleRatio: rapid.SampledFrom(ratios).Draw(t, "ratio")},
			Dial:      vehicle.Dial{Digits: 5, Unit: vehicle.Miles, TurnsPerUnit: 1000},
			Release:   rapid.SampledFrom([]string{"R1", "R2", "R3"}).Draw(t, "release"),
			Positions: rapid.SliceOfNDistinct(rapid.SampledFrom(positions), 1, 4, rapid.ID).Draw(t, "positions"),
			Option:    rapid.SampledFrom(options).Draw(t, "option"),
			Plate:     rapid.SampledFrom([]string{"", "P1", "P2"}).Draw(t, "plate"),
		}
	})
	return rapid.Custom(func(t *rapid.T) []build.Change {
		changes := rapid.SliceOfN(one, 0, 14).Draw(t, "changes")
		for i := range changes {
			changes[i].ID = fmt.Sprintf("c%02d", len(changes)-i) // names in no useful order
			changes[i].Created = time.Date(2020, 1, 1, 0, 0, i, 0, time.UTC)
		}
		return changes
	})
}

func TestConfigureAgreesWithGoingThroughEveryDay(t *testing.T) {
	rec, releases := first(t)
	rapid.Check(t, func(t *rapid.T) {
		changes := lives(releases).Draw(t, "life")
		on := day(2012, 4, 10).AddDays(rapid.IntRange(0, 45).Draw(t, "on"))
		got, err := build.Configure(rec, rapid.Permutation(changes).Draw(t, "order"), releases, on)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := textOf(got), dumbConfigure(rec, changes, releases, on).text(); got != want {
			t.Fatalf("got\n%s\nwant\n%s", got, want)
		}
		for i := range got.Fitted {
			for _, r := range got.Fitted[i].Reasons() {
				if r.Rule == "" || r.Sentence == "" {
					t.Fatalf("an empty reason at %s: %+v", got.Fitted[i].Component.Position, r)
				}
			}
		}
	})
}

func TestTheTimelineSaysWhatConfigureSaysOfEveryDay(t *testing.T) {
	rec, releases := first(t)
	rec.Components[1].Fitted = vehicle.Date{} // every unit from the build on
	rapid.Check(t, func(t *rapid.T) {
		changes := lives(releases).Draw(t, "life")
		line, err := build.TimelineOf(rec, changes, releases)
		if err != nil {
			t.Fatal(err)
		}
		for n := range 45 {
			on := rec.Built.AddDays(n)
			c, err := build.Configure(rec, changes, releases, on)
			if err != nil {
				t.Fatal(err)
			}
			there := 0
			for _, s := range line.Stays {
				if s.From.After(on) || !s.Until.IsZero() && !s.Until.After(on) {
					continue
				}
				there++
				f := c.At(s.Component.Position)
				if f == nil || f.Component.Serial != serialOn(s, on) {
					t.Fatalf("on %s the timeline has %+v, the configuration %+v", on, s, f)
				}
			}
			if there != len(c.Fitted) {
				t.Fatalf("on %s the timeline has %d units, the configuration %d", on, there, len(c.Fitted))
			}
		}
		checkSegments(t, rec, changes, releases, line.Segments)
	})
}

// serialOn is the serial of a stay's unit as it was known on a day.
func serialOn(s build.Stay, on vehicle.Date) string {
	serial := s.Component.Serial
	for _, o := range s.Overhauls {
		if !o.Date.After(on) {
			serial = o.Component.Serial
		}
	}
	return serial
}

func checkSegments(t *rapid.T, rec build.Record, changes []build.Change, releases build.ReleaseSet, segments []build.Segment) {
	if segments[0].From != rec.Delivered || !segments[len(segments)-1].Until.IsZero() {
		t.Fatalf("segments begin %v and end %v", segments[0].From, segments[len(segments)-1].Until)
	}
	for i, s := range segments {
		if i > 0 && segments[i-1].Until != s.From {
			t.Fatalf("a gap before %v", s.From)
		}
		if s.Until == s.From {
			continue // something happened on the day of the delivery
		}
		c, err := build.Configure(rec, changes, releases, s.From)
		if err != nil {
			t.Fatal(err)
		}
		if c.Tyre != s.Tyre || c.Drive != s.Drive || c.Dial != s.Dial {
			t.Fatalf("segment from %v: got %v %v %v, want %v %v %v", s.From, s.Tyre, s.Drive, s.Dial, c.Tyre, c.Drive, c.Dial)
		}
	}
}
