package parts_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

func oil(id, fluid string, c parts.Conditions) parts.Capacity {
	return parts.Capacity{ID: id, Position: "gearbox", Fluid: fluid, Family: "gear-oil",
		Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 2}, Unit: "l"}, Conditions: c}
}

// Two fluids between which nothing on record decides are two fluids and a
// question, wherever they are asked for; never none without a word.
func TestAFluidThatTheRecordsDoNotDecideIsAskedFor(t *testing.T) {
	for _, test := range []struct {
		name string
		c    parts.Conditions
		asks string
	}{
		{"by the market", parts.Conditions{Markets: []string{"GB"}}, "For which market was the vehicle built?"},
		{"by the lot", parts.Conditions{Lots: []string{"L1", "L2"}}, "Which lot is marked at the gearbox: L1 or L2, or another?"},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := shedTechnical(t)
			c.PutCapacity(oil("F8", "SAE 30", test.c))
			c.PutCapacity(oil("F9", "SAE 90", parts.Conditions{Otherwise: true}))
			c.Seal()
			car := built("AM0101", "R1")
			asked := askOf(t, c, shedReleases(), car, today, "gearbox oil")
			if len(asked.Fluids) != 2 || asked.AskBack != test.asks {
				t.Errorf("gearbox oil: %d fluids, asks %q, want 2 and %q", len(asked.Fluids), asked.AskBack, test.asks)
			}
			choice := askOf(t, c, shedReleases(), car, today, "gearbox").Choices[0]
			i := slices.IndexFunc(choice.Reasons, func(r vehicle.Reason) bool { return r.Rule == "UNDECIDED" })
			if i < 0 || !strings.HasSuffix(choice.Reasons[i].Sentence, test.asks) || len(choice.Capacities) != 0 {
				t.Errorf("gearbox: fluids %v and reasons %v, want no fluid and %q", choice.Capacities, choice.Reasons, test.asks)
			}
		})
	}
}

func TestTheSheetSaysThatNoFluidOnRecordIsForWhatIsFitted(t *testing.T) {
	c := shedTechnical(t)
	c.PutCapacity(oil("F8", "SAE 30", parts.Conditions{Releases: []string{"R2"}}))
	c.Seal()
	conf, specified, err := build.ConfigureSpecified(built("AM0101", "R1").record, nil, shedReleases(), day(today))
	if err != nil {
		t.Fatal(err)
	}
	a := parts.Answerer{Catalogue: c, Places: parts.NewPlaces(shedReleases())}
	sheet := a.Prepare(&parts.Vehicle{Configuration: conf, Specified: specified}).Sheet("gearbox")
	const want = "None of the fluids on record is for the gearbox of this vehicle: capacities/F8 is for release R2, and this position follows R1."
	if len(sheet.Fluids) != 0 || len(sheet.Open) != 1 || sheet.Open[0].Sentence != want {
		t.Errorf("got %+v, want only %q", sheet, want)
	}
}
