package partsrpc_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/testing/protocmp"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
)

func qty(value, unit string) *vehiclev1.Quantity {
	return &vehiclev1.Quantity{Value: value, Unit: unit}
}

func applicationRow(a *partsv1.Application) *partsv1.PartRow {
	return &partsv1.PartRow{Row: &partsv1.PartRow_Application{Application: a}}
}

func capacityRow(c *partsv1.Capacity) *partsv1.PartRow {
	return &partsv1.PartRow{Row: &partsv1.PartRow_Capacity{Capacity: c}}
}

// gearboxRows are a gearbox with a drain plug, its oil and its torque.
func gearboxRows() []*partsv1.PartRow {
	return append(gearboxes(),
		partRow(aPart("AP-2110", "Drain plug")), partRow(aPart("AP-2111", "Drain plug, magnetic")),
		positionRow(&partsv1.Position{Name: "positions/gearbox-drain-plug", Title: "Drain plug, gearbox", Within: "gearbox", Words: []string{"sump plug"}}),
		applicationRow(&partsv1.Application{Name: "applications/A1", Position: "gearbox-drain-plug", Part: "parts/AP-2110",
			Conditions: &partsv1.Conditions{BuiltUntilDate: on(2012, 12, 31)}}),
		applicationRow(&partsv1.Application{Name: "applications/A2", Position: "gearbox-drain-plug", Part: "parts/AP-2111", Conditions: &partsv1.Conditions{Otherwise: true}}),
		settingRow(&partsv1.Setting{Name: "settings/T1", Position: "gearbox", Characteristic: "torque", Subject: "drain plug", Unit: "N.m", Lower: "30", Upper: "40", Sample: true}),
		capacityRow(&partsv1.Capacity{Name: "capacities/F1", Position: "gearbox", Fluid: "SAE 80W-90 API GL-4", Family: "gear-oil-gl4", NeverMix: []string{"gear-oil-gl5"}, Quantity: qty("1.5", "l")}),
	)
}

func TestAPlaceOnAnAssemblyIsAnsweredWithItsOilAndItsTorque(t *testing.T) {
	w := start(t)
	name := w.addVehicle(t, "AM0101")
	must(w.load(t, "first", gearboxRows()...))(t)
	a := must(w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "sump plug"}))(t)
	if len(a.GetChoices()) != 1 {
		t.Fatalf("got %v", a)
	}
	c := a.GetChoices()[0]
	if c.GetOrder().GetName() != "parts/AP-2110" || c.GetPositionTitle() != "Drain plug, gearbox" || c.GetApplication() != "applications/A1" {
		t.Errorf("got %v", c)
	}
	if len(c.GetCapacities()) != 1 || len(c.GetSettings()) != 1 || c.GetSettings()[0].GetWindow() != "30 to 40 N·m (22 to 30 lbf·ft)" {
		t.Errorf("fluids %v, settings %v", c.GetCapacities(), c.GetSettings())
	}
	oil := must(w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "which oil for the gearbox"}))(t)
	if len(oil.GetFluids()) != 1 || len(oil.GetChoices()) != 0 {
		t.Errorf("which oil: %v", oil)
	}
	sheet := must(w.GetTechnicalSheet(t.Context(), &partsv1.GetTechnicalSheetRequest{Build: name, Position: "gearbox"}))(t)
	if len(sheet.GetFluids()) != 1 || len(sheet.GetSettings()) != 1 || len(sheet.GetOpenQuestions()) != 0 {
		t.Errorf("sheet %v", sheet)
	}
	if words := must(w.GetTechnicalSheet(t.Context(), &partsv1.GetTechnicalSheetRequest{Build: name, Position: "gear box"}))(t); len(words.GetFluids()) != 1 {
		t.Errorf("in words: %v", words)
	}
	_, err := w.GetTechnicalSheet(t.Context(), &partsv1.GetTechnicalSheetRequest{Build: name, Position: "winch"})
	refused(t, err, fault.NotFound, "POSITION_NOT_ON_VEHICLE")
}

func TestTheSearchTellsHowAPartWasFoundAndWhereItGoes(t *testing.T) {
	w := start(t)
	name := w.addVehicle(t, "AM0101")
	must(w.load(t, "first", gearboxRows()...))(t)
	for _, test := range []struct{ query, build, want string }{
		{"drain plug", "", "AP-2110 WORDS, AP-2111 WORDS"},
		{"drain plug", name, "AP-2110 WORDS at gearbox-drain-plug"},
		{"ap2111", "", "AP-2111 NUMBER"},
		{"dran plug", name, "AP-2110 MISSPELT at gearbox-drain-plug"},
		{"ap2111", name, "AP-2110 NEAR_NUMBER at gearbox-drain-plug"}, // to be read out, not taken for it
	} {
		resp := must(w.SearchParts(t.Context(), &partsv1.SearchPartsRequest{Query: test.query, Build: test.build}))(t)
		var got []string
		for _, f := range resp.GetFound() {
			text := strings.TrimPrefix(f.GetPart().GetName(), "parts/") + " " + strings.TrimPrefix(f.GetMatch().String(), "PART_MATCH_")
			if len(f.GetPositions()) > 0 {
				text += " at " + strings.Join(f.GetPositions(), " ")
			}
			got = append(got, text)
		}
		if strings.Join(got, ", ") != test.want {
			t.Errorf("%q on %q finds %v, want %s", test.query, test.build, got, test.want)
		}
	}
	_, err := w.SearchParts(t.Context(), &partsv1.SearchPartsRequest{Query: "  "})
	refused(t, err, fault.Invalid, "INVALID_FIELD")
}

// A release that comes after the parts may leave gaps; nobody is stopped from
// creating it, and the check tells.
func TestAReleaseThatCameLaterIsCheckedToo(t *testing.T) {
	w := start(t)
	w.addVehicle(t, "AM0101")
	rows := gearboxRows()
	rows = append(rows, applicationRow(&partsv1.Application{Name: "applications/A3", Position: "fan-belt", Part: "parts/AP-7000",
		Conditions: &partsv1.Conditions{Releases: []string{"releases/R1"}}}))
	for _, r := range rows {
		if a := r.GetApplication(); a.GetName() == "applications/A2" {
			a.Conditions = &partsv1.Conditions{BuiltFromDate: on(2013, 1, 1), Releases: []string{"releases/R1"}}
		}
	}
	must(w.load(t, "first", rows...))(t)
	if found := must(w.CheckCatalogue(t.Context(), &partsv1.CheckCatalogueRequest{}))(t); len(found.GetFaults()) != 0 {
		t.Fatalf("got %v", found)
	}
	r := must(w.builds.GetRelease(t.Context(), &buildv1.GetReleaseRequest{Name: "releases/R1"}))(t)
	r.Name, r.EffectiveDate, r.Etag, r.CreateTime = "releases/R2", on(2014, 1, 1), "", nil
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: r}))(t)
	found := must(w.CheckCatalogue(t.Context(), &partsv1.CheckCatalogueRequest{}))(t)
	if len(found.GetFaults()) != 1 || found.GetFaults()[0].GetField() != "applications/A1.conditions" || !strings.HasPrefix(found.GetFaults()[0].GetGot(), "release R2") {
		t.Errorf("got %v", found)
	}
}

func TestTheRecordsOfTheCatalogueAreListedAsTheyWereImported(t *testing.T) {
	w := start(t)
	w.addVehicle(t, "AM0101")
	stock := int32(4)
	setting := &partsv1.Setting{Name: "settings/T2", Position: "gearbox", Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Target: "0.10",
		Method: "cold", Tools: []string{"dial gauge"}, Caution: "Chocks.", DocRef: "B1", SourceMark: "b", Sample: true,
		Shims:     &partsv1.ShimDesign{Sign: partsv1.ShimSign_SHIM_SIGN_ADDS_FLOAT, LargestCount: 4, Rule: partsv1.ShimRule_SHIM_RULE_NEAREST_THEN_FEWEST},
		ShimSizes: []*partsv1.ShimSize{{Thickness: qty("0.13", "mm"), Part: "parts/AP-2110", Stock: &stock}, {Thickness: qty("5", "thou")}},
		Conditions: &partsv1.Conditions{Releases: []string{"releases/R1"}, FirstSerial: serial(t, "AM0101"), LastSerial: serial(t, "AM0110"),
			ExceptSerials: []string{serial(t, "AM0104")}, BuiltFromDate: on(2011, 1, 1), BuiltUntilDate: on(2020, 1, 1), Markets: []string{"GB"},
			Lots: []string{"L1"}, TogetherWith: []string{"parts/AP-2000"}, AppliesWhen: `"gearbox" in fitted`}}
	must(w.load(t, "first", append(gearboxRows(), settingRow(setting))...))(t)
	all := must(w.ListSettings(t.Context(), &partsv1.ListSettingsRequest{}))(t).GetSettings()
	if diff := cmp.Diff([]*partsv1.Setting{setting}, all[1:], protocmp.Transform(), protocmp.IgnoreFields(&partsv1.Setting{}, "etag", "create_time")); diff != "" {
		t.Errorf("(-imported +listed)\n%s", diff)
	}
	page := must(w.ListApplications(t.Context(), &partsv1.ListApplicationsRequest{PageSize: 1}))(t)
	next := must(w.ListApplications(t.Context(), &partsv1.ListApplicationsRequest{PageSize: 1, PageToken: page.GetNextPageToken()}))(t)
	if page.GetApplications()[0].GetName() != "applications/A1" || next.GetApplications()[0].GetName() != "applications/A2" || next.GetNextPageToken() != "" {
		t.Errorf("pages %v and %v", page, next)
	}
	for part, want := range map[string]int{page.GetApplications()[0].GetPart(): 1, "parts/NONE": 0} {
		if got := must(w.ListApplications(t.Context(), &partsv1.ListApplicationsRequest{Part: part}))(t).GetApplications(); len(got) != want || want > 0 && got[0].GetName() != "applications/A1" {
			t.Errorf("that give %s: %v", part, got)
		}
	}
	if p := must(w.ListPositions(t.Context(), &partsv1.ListPositionsRequest{}))(t).GetPositions(); len(p) != 1 || p[0].GetEtag() == "" {
		t.Errorf("positions %v", p)
	}
	if c := must(w.ListCapacities(t.Context(), &partsv1.ListCapacitiesRequest{}))(t).GetCapacities(); len(c) != 1 || c[0].GetQuantity().GetValue() != "1.5" {
		t.Errorf("capacities %v", c)
	}
	// The catalogue is read again from the store at a start.
	w.close()
	again := open(t, w.store)
	if len(must(again.ListSettings(t.Context(), &partsv1.ListSettingsRequest{}))(t).GetSettings()) != 2 {
		t.Error("the settings are gone after a start")
	}
}

func TestAMistakeIsTakenOutOfTheCatalogue(t *testing.T) {
	w := start(t)
	name := w.addVehicle(t, "AM0101")
	must(w.load(t, "first", append(gearboxRows(),
		applicationRow(&partsv1.Application{Name: "applications/A9", Position: "fan-belt", Part: "parts/AP-2110"}))...))(t)
	order := func() string {
		return must(w.AnswerPart(t.Context(), &partsv1.AnswerPartRequest{Build: name, Question: "fan belt"}))(t).GetChoices()[0].GetOrder().GetName()
	}
	if got := order(); got != "parts/AP-2110" {
		t.Fatalf("the mistake gives %s", got)
	}
	withdrawn := applicationRow(&partsv1.Application{Name: "applications/A9", Withdrawn: true})
	if resp := must(w.load(t, "second", withdrawn))(t); resp.GetWritten() != 1 {
		t.Errorf("written %v", resp)
	}
	if got := order(); got != "parts/AP-7000" {
		t.Errorf("taken out, it gives %s", got)
	}
	if resp := must(w.load(t, "third", withdrawn))(t); resp.GetWritten() != 0 || resp.GetUnchanged() != 1 {
		t.Errorf("taken out twice: %v", resp)
	}
	// What others name cannot be taken out under them.
	_, err := w.load(t, "fourth", partRow(&partsv1.Part{Name: "parts/AP-2110", Withdrawn: true}))
	if got := names(refused(t, err, fault.Invalid, "INVALID_FIELD")); len(got) != 1 || got[0] != "rows[applications/A1].part" {
		t.Errorf("refused for %v", got)
	}
}

func TestTheWholeSheetIsAsTheCatalogueAndTheVehicleAreNow(t *testing.T) {
	w := start(t)
	name := w.addVehicle(t, "AM0101")
	whole := func() *partsv1.TechnicalSheet {
		t.Helper()
		return must(w.GetTechnicalSheet(t.Context(), &partsv1.GetTechnicalSheetRequest{Build: name}))(t)
	}
	must(w.load(t, "first", gearboxRows()...))(t)
	if first := whole(); len(first.GetSettings()) != 1 || first.GetSettings()[0].GetWindow() != "30 to 40 N·m (22 to 30 lbf·ft)" {
		t.Fatalf("the first: %v", first)
	}
	gearbox := must(w.GetTechnicalSheet(t.Context(), &partsv1.GetTechnicalSheetRequest{Build: name, Position: "gearbox"}))(t)
	if diff := cmp.Diff(gearbox.GetSettings(), whole().GetSettings(), protocmp.Transform()); diff != "" {
		t.Errorf("asked again, and for one position: %s", diff)
	}
	must(w.load(t, "second", settingRow(&partsv1.Setting{
		Name: "settings/T1", Position: "gearbox", Characteristic: "torque", Subject: "drain plug", Unit: "N.m", Lower: "32", Upper: "40", Sample: true,
	})))(t)
	if second := whole(); second.GetSettings()[0].GetSetting().GetLower() != "32" {
		t.Errorf("after the catalogue has another value: %v", second.GetSettings())
	}
	changed := w.addVehicle(t, "AM0102")
	if other := must(w.GetTechnicalSheet(t.Context(), &partsv1.GetTechnicalSheetRequest{Build: changed}))(t); other.GetBuild() != changed || whole().GetBuild() != name {
		t.Errorf("of another vehicle: %v", other)
	}
}
