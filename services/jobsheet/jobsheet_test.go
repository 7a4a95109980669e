package jobsheet

import (
	"fmt"
	"math/big"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

func decimal(text string) *vehicle.Decimal {
	d, err := vehicle.ParseDecimal(text)
	if err != nil {
		panic(err)
	}
	return &d
}

func quantity(text string) vehicle.Quantity {
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return q
}

// randomFacts are items of some groups, each with parts, fluids and values.
func randomFacts(t *rapid.T) Facts {
	f := Facts{Serial: "AM0147P", Visit: vehicle.MustDate(2026, 5, 18), Parts: map[string][]Part{}}
	for _, p := range []string{"a", "b", "c"} {
		f.Parts[p] = []Part{{Number: "AP-" + p, Quantity: rapid.IntRange(1, 4).Draw(t, "quantity")}}
	}
	for i := range rapid.IntRange(1, 60).Draw(t, "items") {
		item := Item{ID: fmt.Sprintf("I%02d", i), Group: rapid.SampledFrom([]string{"engine", "wheels", "brakes", "body"}).Draw(t, "group"), Position: "p"}
		for _, p := range rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"a", "b", "c"}), 0, 3, rapid.ID).Draw(t, "needs") {
			item.Needs = append(item.Needs, Need{Position: p, Quantity: rapid.IntRange(0, 3).Draw(t, "many"), IfNeeded: rapid.Bool().Draw(t, "perhaps")})
		}
		if rapid.Bool().Draw(t, "filled") {
			item.Fluid = Fluid{Fluid: rapid.SampledFrom([]string{"oil", "grease"}).Draw(t, "fluid"), Quantity: quantity(fmt.Sprintf("0.%d %s", rapid.IntRange(1, 99).Draw(t, "amount"), rapid.SampledFrom([]string{"l", "ml"}).Draw(t, "unit")))}
		}
		f.Items = append(f.Items, item)
	}
	return f
}

func TestEveryItemIsOnTheSheetOnceAndSumsAreThoseOfTheJobs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := randomFacts(t)
		s, err := Make(f)
		if err != nil {
			t.Fatal(err)
		}
		var on, want []string
		parts, oil := map[string]int{}, map[string]*big.Rat{}
		for i, j := range s.Jobs {
			on = append(on, j.Item)
			if j.Number != i+1 {
				t.Errorf("job %d has the number %d", i+1, j.Number)
			}
			for _, p := range j.Parts {
				parts[fmt.Sprint(p.Number, p.IfNeeded)] += p.Quantity
			}
			for _, fl := range j.Fluids {
				litres, _ := fl.Quantity.In("l")
				if oil[fl.Fluid] == nil {
					oil[fl.Fluid] = new(big.Rat)
				}
				oil[fl.Fluid].Add(oil[fl.Fluid], litres)
			}
		}
		for _, i := range f.Items {
			want = append(want, i.ID)
		}
		slices.Sort(on)
		if !slices.Equal(on, want) {
			t.Errorf("on the sheet are %v, want %v", on, want)
		}
		for _, p := range s.Parts {
			if key := fmt.Sprint(p.Number, p.IfNeeded); parts[key] != p.Quantity {
				t.Errorf("%s: the sum is %d, want %d", key, p.Quantity, parts[key])
			}
		}
		if len(s.Parts) != len(parts) {
			t.Errorf("%d sums, want %d", len(s.Parts), len(parts))
		}
		for _, fl := range s.Fluids {
			if litres, _ := fl.Quantity.In("l"); litres.Cmp(oil[fl.Fluid]) != 0 {
				t.Errorf("%s: the sum is %s, want %s l", fl.Fluid, fl.Quantity, oil[fl.Fluid].FloatString(4))
			}
		}
	})
}

// shafts is a sheet of one job with a value of 0.05 to 0.15 mm, act at 0.20.
func shafts(t *testing.T) *Sheet {
	t.Helper()
	s, err := Make(Facts{Serial: "AM0147P", Visit: vehicle.MustDate(2026, 5, 18), Items: []Item{{ID: "T02", Title: "End float", Position: "output-shaft-bearing",
		Measured: []schedule.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: decimal("0.05"), Upper: decimal("0.15"), Action: decimal("0.20")}}}}})
	if err != nil {
		t.Fatal(err)
	}
	return &s
}

func TestWhatIsOddAboutAReturn(t *testing.T) {
	reading := vehicle.Entered{Value: *decimal("1600"), Unit: vehicle.Miles}
	one := func(line, value string) Return {
		return Return{Date: vehicle.MustDate(2026, 5, 18), DoneBy: "Ned", Reading: reading,
			Jobs: []Done{{Number: 1, Done: true, Values: []Measured{{Line: line, Value: quantity(value)}}}}}
	}
	with := func(r Return, change func(*Return)) Return { change(&r); return r }
	for name, c := range map[string]struct {
		back Return
		want []string
	}{
		"a value within its limits is fine":                      {one("1.1", "0.15 mm"), nil},
		"the end of a window in thousandths is held exactly":     {one("1.1", "5.905 thou"), nil}, // 5.905 thou = 0.149987 mm (1 in = 25.4 mm exactly)
		"a hair above it, in thousandths, is outside":            {one("1.1", "5.906 thou"), []string{"OUTSIDE_LIMITS"}},
		"beyond the action limit says so":                        {one("1.1", "0.21 mm"), []string{"BEYOND_ACTION_LIMIT"}},
		"a unit of another kind is wrong":                        {one("1.1", "0.10 psi"), []string{"UNIT"}},
		"a line that is not on the sheet, and the one not given": {one("2.1", "0.10 mm"), []string{"LINE_UNKNOWN", "VALUE_MISSING"}},
		"confirmed with a reason it is taken in":                 {with(one("1.1", "0.18 mm"), func(r *Return) { r.Confirmed = []Confirmation{{"1.1", "re-shimmed next week"}} }), nil},
		"confirmed without a reason it is not":                   {with(one("1.1", "0.18 mm"), func(r *Return) { r.Confirmed = []Confirmation{{"1.1", " "}} }), []string{"OUTSIDE_LIMITS", "WHY_MISSING"}},
		"what is not odd needs no confirmation":                  {with(one("1.1", "0.10 mm"), func(r *Return) { r.Confirmed = []Confirmation{{"1.1", "why"}} }), []string{"NOTHING_TO_CONFIRM"}},
		"all that is wrong is said at once": {Return{Jobs: []Done{{Number: 7, Done: true}, {Number: 1}}},
			[]string{"DATE_MISSING", "JOB_UNKNOWN", "READING_MISSING", "WHO_MISSING", "WHY_NOT_MISSING"}},
		"a pack that puts it right leaves nothing to confirm": {with(one("1.1", "0.18 mm"), func(r *Return) {
			r.Jobs[0].Shims = []schedule.ShimWork{{Position: "output-shaft-bearing", Characteristic: "end-float", Pack: quantity("0.51 mm"), After: quantity("0.10 mm"),
				Shims: []schedule.ShimUsed{{Thickness: quantity("0.51 mm"), Count: 1}}}}
		}), nil},
	} {
		t.Run(name, func(t *testing.T) {
			var got []string
			for _, d := range shafts(t).Check(&c.back, Heard{}) {
				got = append(got, d.Reason.Rule)
			}
			slices.Sort(got)
			if !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}
