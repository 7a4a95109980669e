package build_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/vehicle"
)

// braked are two releases and an option that differ in the brake fluid, and a
// vehicle with the option: what is put in must not follow from what used to
// stand there.
func braked() (build.Record, build.ReleaseSet) {
	glycol, silicone := []string{"glycol-dot4"}, []string{"silicone-dot5"}
	brakes := func(part string, traits []string) []build.Fitment {
		return []build.Fitment{{Position: "brake-hydraulics", Part: part, Traits: traits}, {Position: "brake-servo", Part: "AP-4060"}}
	}
	releases := build.ReleaseSet{
		"R1": {ID: "R1", Effective: day(2010, 1, 1), Fitments: brakes("AP-4040", glycol), Options: []build.Option{
			{ID: "early", Fitments: brakes("AP-4041", []string{"glycol-dot4", "steel"})[:1]},
		}},
		"R2": {ID: "R2", Effective: day(2014, 1, 1), Fitments: brakes("AP-4041", glycol), Options: []build.Option{
			{ID: "silicone", Fitments: brakes("AP-4045", silicone)[:1]},
			{ID: "wading", Fitments: []build.Fitment{{Position: "clutch-hydraulics", Part: "AP-4070", Traits: []string{"sealed"}}}},
		}},
		// The number of R1 again, for what R1 did not mean by it.
		"R3": {ID: "R3", Effective: day(2018, 1, 1), Fitments: brakes("AP-4040", []string{"glycol-dot4", "cupro-nickel"})},
	}
	rec := build.Record{Serial: "AM0147P", Release: "R2", Options: []string{"silicone"}, Built: day(2015, 5, 1), Delivered: day(2015, 5, 1)}
	return rec, releases
}

// brakesOn is what stands at the brakes of a vehicle on a day.
func brakesOn(t *testing.T, rec build.Record, releases build.ReleaseSet, on vehicle.Date, changes ...build.Change) *build.Fitted {
	t.Helper()
	c := configure(t, rec, changes, releases, on)
	return c.At("brake-hydraulics")
}

func TestAPartIsLikeWhatAReleaseSaysOfItAndNotLikeWhatStoodThere(t *testing.T) {
	fit := func(part string, traits ...string) build.Change {
		return build.Change{Kind: build.Fit, Source: build.SourceService, Date: day(2020, 1, 1),
			Component: build.Component{Position: "brake-hydraulics", Part: part, Traits: traits}}
	}
	follows := func(release string) build.Change {
		return build.Change{Kind: build.Upgrade, Source: build.SourceWorks, Date: day(2019, 1, 1), Release: release, Positions: []string{"brake-hydraulics"}}
	}
	overhauled := func(part string) build.Change {
		return build.Change{Kind: build.Overhaul, Source: build.SourceService, Date: day(2021, 1, 1),
			Component: build.Component{Position: "brake-hydraulics", Part: part}}
	}
	for name, c := range map[string]struct {
		changes []build.Change
		traits  string
		from    build.TraitsFrom
		like    string
		rule    string // of the reason, "" for none
	}{
		"the part called for":                           {nil, "silicone-dot5", build.TraitsOfSpecification, "", ""},
		"the part called for, fitted again":             {[]build.Change{fit("AP-4045")}, "silicone-dot5", build.TraitsOfSpecification, "", ""},
		"the part called for, written otherwise":        {[]build.Change{fit("ap 4045")}, "silicone-dot5", build.TraitsOfSpecification, "", ""},
		"traits on record stand":                        {[]build.Change{fit("AP-4040", "mineral")}, "mineral", build.TraitsRecorded, "", ""},
		"the standard of its own release":               {[]build.Change{fit("AP-4041")}, "glycol-dot4", build.TraitsOfFitment, "", "TRAITS_OF_FITMENT"},
		"of two other releases the latest":              {[]build.Change{fit("AP-4040")}, "glycol-dot4 cupro-nickel", build.TraitsOfFitment, "", "TRAITS_OF_FITMENT"},
		"the release that the position follows first":   {[]build.Change{follows("R1"), fit("AP-4041")}, "glycol-dot4 steel", build.TraitsOfFitment, "", "TRAITS_OF_FITMENT"},
		"a part of another position":                    {[]build.Change{fit("AP-4070")}, "sealed", build.TraitsOfFitment, "", "TRAITS_OF_FITMENT"},
		"a part that is known to have no traits":        {[]build.Change{fit("AP-4060")}, "", build.TraitsOfFitment, "", ""},
		"a part nobody knows is taken to be like it":    {[]build.Change{fit("X-1")}, "silicone-dot5", build.TraitsAssumed, "AP-4045", "TRAITS_ASSUMED"},
		"and stays so when it is overhauled":            {[]build.Change{fit("X-1"), overhauled("")}, "silicone-dot5", build.TraitsAssumed, "AP-4045", "TRAITS_ASSUMED"},
		"an overhaul that found out the number":         {[]build.Change{fit("X-1"), overhauled("AP-4041")}, "glycol-dot4", build.TraitsOfFitment, "", "TRAITS_OF_FITMENT"},
		"an overhaul to a number that nobody knows":     {[]build.Change{fit("AP-4041"), overhauled("X-2")}, "glycol-dot4", build.TraitsAssumed, "AP-4041", "TRAITS_ASSUMED"},
		"an overhaul that keeps the number keeps all":   {[]build.Change{fit("AP-4040", "mineral"), overhauled("AP-4040")}, "mineral", build.TraitsRecorded, "", ""},
		"an overhaul that says nothing keeps all":       {[]build.Change{fit("AP-4041"), overhauled("")}, "glycol-dot4", build.TraitsOfFitment, "", "TRAITS_OF_FITMENT"},
		"the standard again when the option comes away": {[]build.Change{fit("X-1"), {Kind: build.OptionRemoved, Source: build.SourceWorks, Date: day(2021, 1, 1), Option: "silicone"}}, "glycol-dot4", build.TraitsOfSpecification, "", ""},
	} {
		t.Run(name, func(t *testing.T) {
			rec, releases := braked()
			f := brakesOn(t, rec, releases, day(2022, 1, 1), history(c.changes...)...)
			if got := strings.Join(f.Component.Traits, " "); got != c.traits || f.TraitsFrom != c.from || f.Likeness() != c.like {
				t.Errorf("got %q from %d like %q, want %q from %d like %q", got, f.TraitsFrom, f.Likeness(), c.traits, c.from, c.like)
			}
			got := slices.DeleteFunc(rules(f), func(r string) bool { return !strings.HasPrefix(r, "TRAITS_") })
			if strings.Join(got, " ") != c.rule {
				t.Errorf("reasons about traits: got %v, want %q", got, c.rule)
			}
		})
	}
}

func TestWhatIsSaidOfAPartWhoseTraitsAreAssumed(t *testing.T) {
	rec, releases := braked()
	f := brakesOn(t, rec, releases, day(2020, 6, 1), history(
		build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2020, 1, 1), Component: build.Component{Position: "brake-hydraulics", Part: "X-1"}},
		build.Change{Kind: build.Overhaul, Source: build.SourceOwner, Date: day(2021, 1, 1), Component: build.Component{Position: "brake-hydraulics", Part: "X-2"}},
	)...)
	got := f.Reasons()[len(f.Reasons())-1]
	const want = "What X-1 is like is not on record. It is taken to be like AP-4045, which the specification calls for (silicone dot5): " +
		"check on the vehicle before anything is filled in, adjusted or ordered by it."
	if got.Sentence != want || got.Record != "releases/R2" {
		t.Errorf("got %q by %s\nwant %q", got.Sentence, got.Record, want)
	}
	f = brakesOn(t, rec, releases, day(2022, 1, 1), history(
		build.Change{Kind: build.Fit, Source: build.SourceOwner, Date: day(2020, 1, 1), Component: build.Component{Position: "brake-hydraulics", Part: "AP-4070"}},
		build.Change{Kind: build.Overhaul, Source: build.SourceOwner, Date: day(2021, 1, 1), Component: build.Component{Position: "brake-hydraulics", Part: "X-2"}},
	)...)
	got = f.Reasons()[len(f.Reasons())-1]
	const since = "What X-2 is like is not on record. It is taken to be like AP-4070, the number that the unit had before (sealed): " +
		"check on the vehicle before anything is filled in, adjusted or ordered by it."
	if got.Sentence != since || got.Record != "builds/AM0147P/changes/c2" {
		t.Errorf("got %q by %s\nwant %q", got.Sentence, got.Record, since)
	}
}

// What was assumed of a unit on one vehicle is not on record on another because
// it moved there.
func TestAMoveMakesNothingKnownThatWasAssumed(t *testing.T) {
	rec, releases := braked()
	other := rec
	other.Serial, other.Options = "AM0148N", nil
	for part, want := range map[string]struct {
		traits string
		from   build.TraitsFrom
	}{
		"X-1":     {"glycol-dot4", build.TraitsAssumed}, // like the standard of the vehicle it came to
		"AP-4045": {"silicone-dot5", build.TraitsRecorded},
	} {
		there := history(build.Change{Kind: build.Fit, Source: build.SourceService, Date: day(2020, 1, 1),
			Component: build.Component{Position: "brake-hydraulics", Part: part}})
		m := build.Move{From: &rec, To: &other, FromPosition: "brake-hydraulics", ToPosition: "brake-hydraulics", Date: day(2021, 1, 1)}
		_, fitted, err := m.Changes(there, releases)
		if err != nil {
			t.Fatal(err)
		}
		f := brakesOn(t, other, releases, day(2022, 1, 1), fitted)
		if got := strings.Join(f.Component.Traits, " "); got != want.traits || f.TraitsFrom != want.from {
			t.Errorf("%s: got %q from %d, want %q from %d", part, got, f.TraitsFrom, want.traits, want.from)
		}
	}
}
