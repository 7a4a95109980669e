package handbook_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/handbook"
	"halfshaft/services/vehicle"
)

// A predicate that is true of every vehicle, or of none, says nothing: a slip of
// the pen in it would be seen by nobody.
func TestEachPredicateOfTheDemoBookHasVehiclesOnBothSides(t *testing.T) {
	var fleet []vehicle.Makeup
	for _, m := range demoFleet(t) {
		fleet = append(fleet, m)
	}
	all := demoBook(t).Coverage(fleet)
	if len(all) < 80 {
		t.Fatalf("the book has only %d predicates", len(all))
	}
	for _, c := range all {
		switch {
		case c.Failed != nil:
			t.Errorf("%s: %s cannot be put to a vehicle: %v", c.Where, c.Expression, c.Failed)
		case c.Expression == `"heater" in fitted` || c.Expression == `"adjustable-tappets" in fitted["engine"]`:
			// of every release there is; the other side is put to a made-up vehicle below
		case c.Held == 0 || c.Not == 0:
			t.Errorf("%s: %s holds for %d vehicles and not for %d", c.Where, c.Expression, c.Held, c.Not)
		}
	}
	odd := fleet[0]
	odd.Fitted = map[string][]string{}
	for position, traits := range fleet[0].Fitted {
		odd.Fitted[position] = traits
	}
	delete(odd.Fitted, "heater")
	odd.Fitted["engine"] = []string{"hydraulic-tappets"}
	for _, c := range demoBook(t).Coverage([]vehicle.Makeup{odd}) {
		if c.Expression == `"heater" in fitted` && c.Not != 1 || c.Expression == `"adjustable-tappets" in fitted["engine"]` && c.Not != 1 {
			t.Errorf("%s: %s holds for a vehicle without it", c.Where, c.Expression)
		}
	}
}

// three are as different as the demo's vehicles get: an early one, one with
// everything, and a late one with silicone brakes and a soft top.
var three = []string{"AM0101G", "AM0147P", "AM0157L"}

// The dumb twin: a section differs between two vehicles exactly when one of the
// predicates in it does, or something it asked for.
func TestWhatDiffersInTheVehicleDiffersInTheTextAndNothingElse(t *testing.T) {
	book, fleet := demoBook(t), demoFleet(t)
	serials := append(slices.Clone(three), sortedKeys(fleet)...) // the three, and all others against them
	for i, a := range serials {
		for _, b := range serials[i+1:] {
			if i >= len(three) || a == b {
				continue
			}
			compareTwo(t, book, a, b, fleet)
		}
	}
}

// valuesOf is what a dumb record would say of a vehicle: tyres and fluids.
func valuesOf(serial string, m vehicle.Makeup) map[string]string {
	return map[string]string{
		"{serial}": serial, "{release}": m.Release, "{tyre}": m.TyreSize, "{fluid brake-hydraulics}": strings.Join(m.Fitted["brake-hydraulics"], " "),
		"{fluid fuel-system}": m.Release, "{setting tyres pressure on soft sand}": m.TyreSize, "table identity": fmt.Sprint(m), "table road-speeds": m.TyreSize,
		"picture gear-levers": fmt.Sprint(m.Fitted["gearbox"]),
	}
}

func compareTwo(t *testing.T, book *handbook.Compiled, a, b string, fleet map[string]vehicle.Makeup) {
	t.Helper()
	makeOne := func(serial string) (texts, said map[string]string) {
		m := fleet[serial]
		said = valuesOf(serial, m)
		e := newEcho(said)
		made := book.Make(handbook.Subject{Serial: "X", Makeup: vehicle.Makeup{Release: "X", Options: m.Options, Fitted: m.Fitted, Wheelbase: m.Wheelbase, Market: m.Market, TyreSize: m.TyreSize}}, e)
		if len(made.Problems) > 0 {
			t.Fatalf("%s: %s", serial, strings.Join(made.Problems, "\n"))
		}
		return sectionsOf(t, &made.Handbook), said
	}
	textsA, saidA := makeOne(a)
	textsB, saidB := makeOne(b)
	for _, chapter := range book.Chapters {
		for i := range chapter.Sections {
			s := &chapter.Sections[i]
			differs := sidesOf(t, s, fleet[a]) != sidesOf(t, s, fleet[b])
			shown := shownAsks(t, s, fleet[a])
			for ask := range shown {
				differs = differs || saidA[ask] != saidB[ask]
			}
			if _, in := textsA[s.ID]; !in {
				if _, inB := textsB[s.ID]; !inB {
					continue // in neither, whatever it would say
				}
			}
			if got := textsA[s.ID] != textsB[s.ID]; got != differs {
				t.Errorf("%s against %s: section %s differs: %v, want %v\n%s\n%s", a, b, s.ID, got, differs, textsA[s.ID], textsB[s.ID])
			}
		}
	}
}

// sidesOf says on which side of each predicate of a section a vehicle is.
func sidesOf(t *testing.T, s *handbook.Section, m vehicle.Makeup) string {
	t.Helper()
	var sides []string
	for _, e := range expressionsOf(s) {
		sides = append(sides, fmt.Sprint(holds(t, e, m)))
	}
	return strings.Join(sides, " ")
}

func holds(t *testing.T, expression string, m vehicle.Makeup) bool {
	t.Helper()
	if expression == "" {
		return true
	}
	p, wrong := compiler(t).Compile(expression)
	if len(wrong) > 0 {
		t.Fatal(wrong)
	}
	held, err := p.Applies(m)
	if err != nil {
		t.Fatal(err)
	}
	return held
}

func expressionsOf(s *handbook.Section) []string {
	all := []string{s.AppliesWhen}
	for _, p := range s.Passages {
		all = append(all, p.AppliesWhen)
		for _, one := range p.Steps {
			all = append(all, one.AppliesWhen)
		}
		for _, one := range p.Points {
			all = append(all, one.AppliesWhen)
		}
	}
	return slices.DeleteFunc(all, func(e string) bool { return e == "" })
}

// shownAsks is what a section asks for of a vehicle, found in its texts by their
// braces.
func shownAsks(t *testing.T, s *handbook.Section, m vehicle.Makeup) map[string]bool {
	t.Helper()
	asks := map[string]bool{}
	take := func(text string) {
		for _, rest := range strings.Split(text, "{")[1:] {
			inner, _, _ := strings.Cut(rest, "}")
			asks["{"+inner+"}"] = true
		}
	}
	for _, p := range s.Passages {
		if !holds(t, p.AppliesWhen, m) {
			continue
		}
		take(p.Text)
		if p.Warning != nil {
			take(p.Warning.Text)
		}
		for _, one := range p.Steps {
			if holds(t, one.AppliesWhen, m) {
				take(one.Text)
				if one.Warning != nil {
					take(one.Warning.Text)
				}
			}
		}
		for _, one := range p.Points {
			if holds(t, one.AppliesWhen, m) {
				take(one.Text)
			}
		}
		if p.Values != nil {
			asks["table "+p.Values.Kind.String()] = true
		}
		if p.Picture != nil {
			asks["picture "+p.Picture.Kind.String()] = true
		}
	}
	return asks
}

// What the works promises about three vehicles: who has which page.
func TestThreeVehiclesHaveThePagesThatTheyShould(t *testing.T) {
	book, fleet := demoBook(t), demoFleet(t)
	want := map[string]string{ // in the order of three: + has it, - has not
		"double-declutching": "+--", "winch": "++-", "winch-wire": "+--", "winch-synthetic": "-+-",
		"limited-slip-front": "-++", "limited-slip-rear": "-++", "wading-plug": "+++", "soft-top": "--+", "hard-top": "+--",
		"brake-fluid-glycol": "++-", "brake-fluid-silicone": "--+", "free-wheel-hubs": "---", "towing-others": "-+-",
		"swivels-oil": "+--", "swivels-grease": "-++", "re-inflate": "+++", "jacking": "+++", "salt": "+++",
	}
	for i, serial := range three {
		made := book.Make(handbook.Subject{Serial: vehicle.Serial(serial), Makeup: fleet[serial]}, newEcho(nil))
		in := sectionsOf(t, &made.Handbook)
		for _, id := range sortedKeys(want) {
			if _, got := in[id]; got != (want[id][i] == '+') {
				t.Errorf("%s has the page %s: %v", serial, id, got)
			}
		}
	}
}

// The cautions that keep people alive stand in every handbook.
func TestTheCautionAboutTheHandBrakeStandsInEveryHandbook(t *testing.T) {
	book := demoBook(t)
	for serial, m := range demoFleet(t) {
		made := book.Make(handbook.Subject{Serial: vehicle.Serial(serial), Makeup: m}, newEcho(nil))
		var all strings.Builder
		for _, text := range sectionsOf(t, &made.Handbook) {
			all.WriteString(text)
		}
		for _, words := range []string{
			"The hand brake holds nothing with a driven wheel off the ground, a half shaft out or a propshaft off",
			"Driving home at beach pressure has killed people", "Nobody goes under a vehicle that stands on a jack",
			"Exhaust gas kills without a smell",
		} {
			if !strings.Contains(all.String(), words) {
				t.Errorf("%s: no caution %q", serial, words)
			}
		}
	}
}
