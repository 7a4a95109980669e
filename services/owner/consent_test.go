package owner

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var morning = time.Date(2026, time.November, 25, 9, 0, 0, 0, time.UTC)

// anyConsents draws consents in order.
func anyConsents(t *rapid.T) []Consent {
	out := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Consent {
		return Consent{
			ID: rapid.StringMatching(`[a-z]{4}`).Draw(t, "id"), Purpose: Purpose(rapid.IntRange(1, 2).Draw(t, "purpose")), Way: Way(rapid.IntRange(0, 3).Draw(t, "way")),
			Given: rapid.Bool().Draw(t, "given"), Said: morning.Add(time.Duration(rapid.IntRange(0, 3).Draw(t, "said")) * time.Hour),
		}
	}), 0, 12).Draw(t, "consents")
	slices.SortStableFunc(out, OrderConsents)
	return out
}

// Against a plain reading: go through all that was ever said, and let each
// overwrite what it speaks of.
func TestTheLastThatSpeaksOfAPurposeAndAWayCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		consents := anyConsents(t)
		type asked struct {
			purpose Purpose
			way     Way
		}
		said := map[asked]bool{}
		for _, c := range consents {
			for _, w := range []Way{Mail, Text, Letter} {
				if c.Way == AnyWay || c.Way == w {
					said[asked{c.Purpose, w}] = c.Given
				}
			}
		}
		counting := Counting(consents)
		for _, p := range []Purpose{Service, YearLetter} {
			for _, w := range []Way{Mail, Text, Letter} {
				want, spoken := said[asked{p, w}]
				for name, list := range map[string][]Consent{"of all": consents, "of those that count": counting} {
					if given, ok := Consented(list, p, w); given != want || ok != spoken {
						t.Errorf("%s, purpose %d by %s: got %v, %v, want %v, %v", name, p, w, given, ok, want, spoken)
					}
				}
			}
		}
		if len(counting) > 6 {
			t.Errorf("%d count, of two purposes and three ways", len(counting))
		}
	})
}

func TestWhatIsWrongWithAConsentIsSaidByField(t *testing.T) {
	good := Consent{Purpose: YearLetter, Given: true, Wording: "Yes.\nPlease do.", Said: morning, Source: OnPaper}
	if f := good.Faults(morning); len(f) > 0 {
		t.Errorf("got %v", f)
	}
	stop := Consent{Purpose: Service, Way: Text, Said: morning, Source: ByText}
	if f := stop.Faults(morning); len(f) > 0 {
		t.Errorf("taken back without a word: got %v", f)
	}
	for field, spoil := range map[string]func(*Consent){
		"purpose":      func(c *Consent) { c.Purpose = Safety },
		"way":          func(c *Consent) { c.Way = 9 },
		"wording":      func(c *Consent) { c.Wording = "" },
		"consent_time": func(c *Consent) { c.Said = morning.Add(time.Second) },
		"source":       func(c *Consent) { c.Source = NoSource },
	} {
		c := good
		spoil(&c)
		if f := c.Faults(morning); len(f) != 1 || f[0].Name != field {
			t.Errorf("%s: got %v", field, f)
		}
	}
	for name, wording := range map[string]string{"a control": "a\x07b", "too long": strings.Repeat("x", maxWording+1), "spaces around": " x", "no text": "\xff"} {
		c := good
		c.Wording = wording
		if f := c.Faults(morning); len(f) != 1 || f[0].Name != "wording" {
			t.Errorf("%s: got %v", name, f)
		}
	}
}
