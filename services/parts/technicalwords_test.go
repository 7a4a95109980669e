package parts_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// shedWorkshop has what tells questions about fluids and settings apart.
func shedWorkshop(t *testing.T) *parts.Catalogue {
	c := shedTechnical(t)
	for _, p := range []parts.Position{
		{ID: "transfer-case", Title: "Transfer case", Words: []string{"transfer box"}},
		{ID: "transfer-case-oil-pump", Title: "Oil pump", Within: "transfer-case"},
		{ID: "transfer-case-flange-nut", Title: "Output flange nut", Within: "transfer-case", Words: []string{"spinner"}},
		{ID: "transfer-case-lever", Title: "Range lever", Within: "transfer-case"},
	} {
		c.PutPosition(p)
	}
	for _, f := range []parts.Capacity{
		{ID: "F10", Position: "transfer-case", Fluid: "SAE 80W-90 API GL-4", Family: "gear-oil-gl4"},
		{ID: "F11", Position: "winch", Fluid: "transfer case oil to the plate", Family: "gear-oil-gl4"},
	} {
		c.PutCapacity(f)
	}
	for _, s := range []parts.Setting{
		{ID: "T10", Position: "transfer-case", Characteristic: "torque", Subject: "flange nuts", Unit: "N.m", Lower: "160", Upper: "190"},
		{ID: "T11", Position: "transfer-case", Characteristic: "lever-travel", Unit: "mm", Lower: "10", Upper: "20"},
		{ID: "T12", Position: "transfer-case", Characteristic: "run-out", Unit: "mm", Upper: "0.1", Conditions: parts.Conditions{Releases: []string{"R9"}}},
		{ID: "T13", Position: "winch", Characteristic: "torque", Subject: "mounting bolts", Unit: "N.m", Lower: "42", Upper: "48"},
	} {
		c.PutSetting(s)
	}
	c.Seal()
	return c
}

func TestFluidsAndSettingsAreAskedForAsPeopleSayIt(t *testing.T) {
	c := shedWorkshop(t)
	for _, test := range []struct {
		name, question string
		want           string // fluids and settings; or the rule of a refusal
		says           string
	}{
		{"a place that is named goes before a fluid that is called after it", "transfer case oil", "F10", ""},
		{"words that tell nothing are left aside", "how much oil does the transfer box take", "F10", ""},
		{"a place on the assembly stands for it", "range lever grease", "F10", ""},
		{"what a place is called by stands for the subject of its setting", "spinner torque", "T10", ""},
		{"a word that people say for torque", "how tight are the flange nuts", "T10", ""},
		{"what is set is asked for by the word that says what it is", "travel of the lever, transfer case", "T11", ""},
		{"a lever alone is a part", "range lever", "", ""},
		{"an oil pump is a part", "oil pump", "", ""},
		{"a setting of another release is refused", "transfer case run-out", parts.NotOnThisVehicle, "release R9"},
		{"a setting of what is not there is refused", "winch mounting bolt torque", parts.NotOnThisVehicle, "has no winch"},
	} {
		t.Run(test.name, func(t *testing.T) {
			a := askOf(t, c, shedReleases(), built("AM0101", "R1"), today, test.question)
			var got []string
			for _, f := range a.Fluids {
				got = append(got, f.ID)
			}
			for _, s := range a.Settings {
				got = append(got, s.ID)
			}
			if a.Refusal != nil && a.Refusal.Rule == parts.NotOnThisVehicle {
				got = append(got, a.Refusal.Rule)
				if !strings.Contains(a.Refusal.Sentence, test.says) || !slices.ContainsFunc(a.Refusal.Reasons, func(r vehicle.Reason) bool { return r.Rule == "TECHNICAL_ROW_NOT_MET" }) {
					t.Errorf("says %q with %v, want %q", a.Refusal.Sentence, a.Refusal.Reasons, test.says)
				}
			}
			if strings.Join(got, " ") != test.want {
				t.Errorf("%q gives %v (%+v), want %s", test.question, got, a.Refusal, test.want)
			}
		})
	}
}
