package parts_test

import (
	"slices"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/parts"
)

// A hub has a seal, and the seal a spring, each a place on the other.
func hubCatalogue(rows ...parts.Application) *parts.Catalogue {
	c := catalogueOf([]parts.Part{part("HUB", "Hub"), part("SEAL", "Seal"), part("SPRING-1", "Spring"), part("SPRING-2", "Spring, stronger"),
		part("GONE", "Spring, early", status(parts.Unavailable))}, nil)
	c.PutPosition(parts.Position{ID: "hub-seal", Title: "Hub seal", Within: "hub", Tools: []string{"seal drift"}, Caution: "The lip cuts"})
	c.PutPosition(parts.Position{ID: "hub-seal-spring", Title: "Spring of the hub seal", Within: "hub-seal"})
	c.PutApplication(parts.Application{ID: "A0", Position: "hub-seal", Part: "SEAL"})
	for _, a := range rows {
		c.PutApplication(a)
	}
	c.Seal()
	return c
}

func hubReleases() build.ReleaseSet {
	return build.ReleaseSet{"R1": {ID: "R1", Effective: day("2008-01-01"), Fitments: []build.Fitment{fitment("hub", "HUB", 2)}}}
}

func ofLot(id, number string, n int, lots ...string) parts.Application {
	return parts.Application{ID: id, Position: "hub-seal-spring", Part: number, Quantity: n, Conditions: parts.Conditions{Lots: lots}, Text: "made at the works (" + id + ")"}
}

func TestAPlaceOnAPlaceIsJudgedByAllThatItIsOn(t *testing.T) {
	c := hubCatalogue(ofLot("A1", "SPRING-1", 1, "L1"), ofLot("A2", "SPRING-2", 1, "L2"))
	c.PutSetting(parts.Setting{ID: "T1", Position: "hub-seal", Characteristic: "length", Subject: "spring", Unit: "mm", Target: "60"})
	c.PutCapacity(parts.Capacity{ID: "F1", Position: "hub-seal", Fluid: "grease", Family: "grease"})
	c.Seal()
	for name, lots := range map[string][3]string{
		"the lot of the assembly":        {"L2", "L8", "L9"},
		"the lot of the place it is on":  {"L8", "L2", "L9"},
		"the lot of what stands at it":   {"L8", "L9", "L2"},
		"no lot of the place it is on":   {"L2", "", "L9"},
		"no lot but that of the nearest": {"", "", "L2"},
	} {
		t.Run(name, func(t *testing.T) {
			l := built("AM0101", "R1")
			for i, f := range [][2]string{{"hub", "HUB"}, {"hub-seal", "SEAL"}, {"hub-seal-spring", "SPRING-2"}} {
				l.record.Components = append(l.record.Components, build.Component{Position: f[0], Part: f[1], Lot: lots[i]})
			}
			got := askOf(t, c, hubReleases(), l, today, "hub-seal-spring")
			if bare := slices.Contains(lots[:], ""); (len(got.Choices) > 1) != bare || got.Choices[len(got.Choices)-1].Order.Number != "SPRING-2" {
				t.Fatalf("got %+v, want SPRING-2, alone only where all lots are on record", got)
			}
			choice := got.Choices[0]
			if len(choice.Settings) != 1 || len(choice.Capacities) != 1 || !slices.Contains(choice.Tools, "seal drift") || choice.Caution != "The lip cuts." {
				t.Errorf("got settings %v, capacities %v, tools %v and caution %q, want those of the seal", choice.Settings, choice.Capacities, choice.Tools, choice.Caution)
			}
		})
	}
}

func TestTheSheetOfAPlaceHasWhatIsOnIt(t *testing.T) {
	c := hubCatalogue()
	c.PutSetting(parts.Setting{ID: "T1", Position: "hub-seal", Characteristic: "depth", Unit: "mm", Target: "2"})
	c.PutSetting(parts.Setting{ID: "T2", Position: "hub-seal-spring", Characteristic: "length", Unit: "mm", Target: "60"})
	c.Seal()
	conf, specified, err := build.ConfigureSpecified(built("AM0101", "R1").record, nil, hubReleases(), day(today))
	if err != nil {
		t.Fatal(err)
	}
	ready := (&parts.Answerer{Catalogue: c, Places: parts.NewPlaces(hubReleases())}).Prepare(&parts.Vehicle{Configuration: conf, Specified: specified})
	for position, want := range map[string]int{"hub": 2, "hub-seal": 2, "hub-seal-spring": 1, "": 2, "wheel": 0} {
		if got := len(ready.Sheet(position).Settings); got != want {
			t.Errorf("sheet of %q: %d settings, want %d", position, got, want)
		}
	}
}

func TestWhatIsNotToldApartIsNotGuessed(t *testing.T) {
	none := func(id string, lots ...string) parts.Application { return ofLot(id, "", 0, lots...) }
	for _, test := range []struct {
		name string
		rows []parts.Application
		want []string // choices
		asks bool
		rule string
	}{
		{name: "each of two has its own quantity", rows: []parts.Application{ofLot("A1", "SPRING-1", 1, "L1"), ofLot("A2", "SPRING-2", 3, "L2")},
			want: []string{"SPRING-1 x1 also ", "SPRING-2 x3 also "}, asks: true},
		{name: "one of two gives no part: a question all the same", rows: []parts.Application{ofLot("A1", "SPRING-1", 2, "L1"), none("A2", "L2")},
			want: []string{"SPRING-1 x2 also "}, asks: true},
		{name: "one of two cannot be had: a question all the same", rows: []parts.Application{ofLot("A1", "SPRING-1", 2, "L1"), ofLot("A2", "GONE", 1, "L2")},
			want: []string{"SPRING-1 x2 also "}, asks: true, rule: parts.CannotBeHad},
		{name: "neither gives a part", rows: []parts.Application{none("A1", "L1"), none("A2", "L2")}, rule: parts.NothingSupplied},
	} {
		t.Run(test.name, func(t *testing.T) {
			got := askOf(t, hubCatalogue(test.rows...), hubReleases(), built("AM0101", "R1"), today, "hub-seal-spring")
			var choices []string
			for i := range got.Choices {
				choices = append(choices, plain(&got.Choices[i]))
			}
			if !slices.Equal(choices, test.want) || (got.AskBack != "") != test.asks {
				t.Errorf("got %q and the question %q, want %q and a question: %v", choices, got.AskBack, test.want, test.asks)
			}
			rule, sentence := "", ""
			if got.Refusal != nil {
				rule, sentence = got.Refusal.Rule, got.Refusal.Sentence
			}
			if rule != test.rule {
				t.Errorf("refused %q (%s), want %q", rule, sentence, test.rule)
			}
			if both := "Made at the works (A1). Or: Made at the works (A2)."; rule == parts.NothingSupplied && sentence != both {
				t.Errorf("refused with %q, want %q", sentence, both)
			}
		})
	}
}

// A row that gives no part outranks the release, which nobody recorded, and not
// what somebody fitted.
func TestNothingIsSuppliedWhereARowSaysSo(t *testing.T) {
	c := hubCatalogue(parts.Application{ID: "A9", Position: "hub", Text: "the hub is made to order"})
	got := askOf(t, c, hubReleases(), built("AM0101", "R1"), today, "hub")
	if len(got.Choices) != 0 || got.Refusal == nil || got.Refusal.Rule != parts.NothingSupplied || got.Refusal.Sentence != "The hub is made to order." {
		t.Errorf("as built: got %+v, want that the hub is made to order", got)
	}
	fitted := built("AM0101", "R1").change("2015-05-01", build.Fit, build.SourceService, "hub", "SEAL")
	got = askOf(t, c, hubReleases(), fitted, today, "hub")
	if len(got.Choices) != 1 || got.Choices[0].Order.Number != "SEAL" || got.Choices[0].Quantity != 2 {
		t.Errorf("with something recorded: got %+v, want 2 of what was fitted", got)
	}
}
