package parts_test

import (
	"slices"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

func TestAKitThatNothingBringsIsOfferedWhereItMayStand(t *testing.T) {
	c := shedTechnical(t)
	c.Put(part("AP-5900", "Pinion seal kit, front", at("pinion-seal-front"), holds(line("AP-5090", 1), line("AP-1103", 2))))
	c.Put(part("AP-5901", "Pinion seal kit of another maker", holds(line("AP-5090", 1)))) // says nothing of where
	c.Put(part("AP-5902", "Pinion seal kit, early", at("pinion-seal-front"), forReleases("R2"), holds(line("AP-5090", 1))))
	c.Seal()
	for question, want := range map[string]string{
		"AP-5900": "front-axle-differential: AP-5900 x1", "pinion seal kit front": "front-axle-differential: AP-5900 x1", "AP-5901": "", "AP-5902": "",
	} {
		a := askOf(t, c, shedReleases(), built("AM0101", "R1"), today, question)
		got := ""
		if len(a.Choices) > 0 {
			got = summary(&a.Choices[0])
		}
		if got != want {
			t.Errorf("%s gives %q, want %q; %+v", question, got, want, a.Refusal)
		}
	}
}

func TestTheStandardPartComesWithItsOwnFluidAndNotThatOfTheOwners(t *testing.T) {
	c := shedTechnical(t)
	standard := part("AP-5000", "Differential", at("front-axle-differential", "rear-axle-differential"))
	standard.Traits = []string{"open"}
	c.Put(standard)
	c.PutCapacity(parts.Capacity{ID: "F5", Position: "front-axle-differential", Fluid: "SAE 90", Family: "gear-oil", Conditions: parts.Conditions{AppliesWhen: `"open" in fitted["front-axle-differential"]`}})
	c.PutCapacity(parts.Capacity{ID: "F6", Position: "front-axle-differential", Fluid: "SAE 90 LS", Family: "gear-oil-ls", Conditions: parts.Conditions{Otherwise: true}})
	c.Seal()
	l := built("AM0101", "R1").change("2013-05-05", build.Fit, build.SourceOwner, "front-axle-differential", "AP-5200")
	a := askOf(t, c, shedReleases(), l, "2014-01-01", "front axle differential")
	if len(a.Choices) != 1 || len(a.Choices[0].Capacities) != 1 || a.Choices[0].Capacities[0].ID != "F5" {
		t.Errorf("got %+v", a.Choices)
	}
	if !hasRule(a.Choices[0].Reasons, "FOR_THE_STANDARD") {
		t.Errorf("reasons %v", a.Choices[0].Reasons)
	}
}

func hasRule(reasons []vehicle.Reason, rule string) bool {
	return slices.ContainsFunc(reasons, func(r vehicle.Reason) bool { return r.Rule == rule })
}

func TestAPartRecordedInAnotherSpellingIsThatPart(t *testing.T) {
	l := built("AM0101", "R2").change("2020-02-02", build.Fit, build.SourceWorks, "output-shaft-bearing", "ap 4110")
	a := ask(t, l, today, "transfer-case")
	if len(a.Choices) != 1 || a.Choices[0].Order.Number != "AP-4010" { // together with AP-4110
		t.Errorf("got %+v", a)
	}
}
