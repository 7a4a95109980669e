package parts_test

import (
	"slices"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

// A supplier called a hose what the works calls a clip: whoever asks by the
// number is given what fits, and asked, never told only that the clip does not.
func TestANumberOfTwoPartsIsAskedAbout(t *testing.T) {
	known := func(numbers ...string) func(*parts.Part) { return func(p *parts.Part) { p.OtherNumbers = numbers } }
	c := catalogueOf([]parts.Part{
		part("AP-1", "Clip"), part("AP-2", "Hose", known("AP-1", "ZX 77")), part("AP-3", "Belt", known("zx77")), part("AP-4", "Lamp", known("ZX-77")),
	}, nil)
	releases := func(here ...string) build.ReleaseSet {
		r := &build.Release{ID: "R1", Effective: day("2008-01-01")}
		for _, number := range here {
			r.Fitments = append(r.Fitments, fitment("place-of-"+number[3:], number, 1))
		}
		return build.ReleaseSet{"R1": r}
	}
	for _, test := range []struct {
		name, question string
		here           []string
		want           []string
		rule, asks     string
	}{
		{"only the other is here", "AP-1", []string{"AP-2"}, []string{"AP-2"}, parts.NotOnThisVehicle, "Is this meant: Hose (AP-2) at the place of 2?"},
		{"both are here", "ap1", []string{"AP-1", "AP-2"}, []string{"AP-1", "AP-2"}, "", "Which is meant: Clip (AP-1) at the place of 1 or Hose (AP-2) at the place of 2?"},
		{"only its own is here", "AP-1", []string{"AP-1"}, []string{"AP-1"}, "", ""},
		{"nobody's own, and two of three are here", "ZX-77", []string{"AP-2", "AP-4"}, []string{"AP-2", "AP-4"}, "", "Which is meant: Hose (AP-2) at the place of 2 or Lamp (AP-4) at the place of 4?"},
		{"none is here", "ZX77", []string{"AP-1"}, nil, parts.NotOnThisVehicle, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			a := askOf(t, c, releases(test.here...), built("AM0101", "R1"), today, test.question)
			var got []string
			for _, choice := range a.Choices {
				got = append(got, choice.Order.Number)
			}
			rule := ""
			if a.Refusal != nil {
				rule = a.Refusal.Rule
			}
			if !slices.Equal(got, test.want) || rule != test.rule || a.AskBack != test.asks {
				t.Errorf("got %v, refused %q, asks %q; want %v, %q, %q", got, rule, a.AskBack, test.want, test.rule, test.asks)
			}
		})
	}
}
