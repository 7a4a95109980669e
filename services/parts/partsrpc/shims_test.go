package partsrpc_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

func quantity(text string) *vehiclev1.Quantity {
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return vehiclewire.QuantityProto(q)
}

func settingRow(s *partsv1.Setting) *partsv1.PartRow {
	return &partsv1.PartRow{Row: &partsv1.PartRow_Setting{Setting: s}}
}

func positionRow(p *partsv1.Position) *partsv1.PartRow {
	return &partsv1.PartRow{Row: &partsv1.PartRow_Position{Position: p}}
}

// shimSizes makes sizes of which there are always enough.
func shimSizes(texts ...string) (sizes []*partsv1.ShimSize) {
	for _, text := range texts {
		sizes = append(sizes, &partsv1.ShimSize{Thickness: quantity(text)})
	}
	return sizes
}

// endFloat is the setting of checks O-71 as the catalogue has it.
func endFloat() *partsv1.Setting {
	return &partsv1.Setting{
		Name: "settings/T0031", Position: "output-shaft-bearing", Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.10",
		Caution: "Measure cold", Shims: &partsv1.ShimDesign{Sign: partsv1.ShimSign_SHIM_SIGN_ADDS_FLOAT},
		ShimSizes: shimSizes("0.08 mm", "0.13 mm", "0.25 mm", "0.51 mm"),
	}
}

// swivelLoad is a setting that is measured as a load.
func swivelLoad(sign partsv1.ShimSign) *partsv1.Setting {
	return &partsv1.Setting{
		Name: "settings/T0040", Position: "swivel-pin-left", Characteristic: "preload", Unit: "kgf", Lower: "5", Upper: "8",
		Shims:     &partsv1.ShimDesign{Sign: sign, LoadPerMm: "12", LargestCount: 4},
		ShimSizes: shimSizes("0.08 mm", "0.13 mm", "0.25 mm", "0.51 mm", "0.76 mm"),
	}
}

// bench is a vehicle with an output-shaft bearing and a swivel pin, and what
// the catalogue has for them.
func shimBench(t testing.TB, more ...*partsv1.PartRow) (*works, string) {
	t.Helper()
	w := start(t)
	name := w.addVehicle(t, "AM0101",
		&buildv1.Fitment{Position: "output-shaft-bearing", Part: "AP-2040", Quantity: 1},
		&buildv1.Fitment{Position: "swivel-pin-left", Part: "AP-3040", Quantity: 1})
	bearing := aPart("AP-2040", "Output-shaft bearing set")
	bearing.RenewWith = []*partsv1.KitLine{{Part: "parts/AP-20401", Quantity: 1}, {Part: "parts/AP-20405", Quantity: 2}}
	tab := aPart("AP-20405", "Locking tab")
	tab.Caution = "A tab that was bent twice breaks"
	rows := append(gearboxes(), partRow(bearing), partRow(aPart("AP-20401", "Housing gasket")), partRow(tab), partRow(aPart("AP-3040", "Swivel pin")))
	must(w.load(t, "first", append(rows, more...)...))(t)
	return w, name
}

// packText writes "2 x 0.08 mm + 0.51 mm", the thinnest first, and what it gives.
func packText(p *partsv1.ShimPack) string {
	var shims []string
	for _, s := range slices.Backward(p.GetShims()) {
		text := s.GetThickness().GetValue() + " " + s.GetThickness().GetUnit()
		if s.GetCount() > 1 {
			text = fmt.Sprintf("%d x %s", s.GetCount(), text)
		}
		shims = append(shims, text)
	}
	return fmt.Sprintf("%s -> %s %s", strings.Join(shims, " + "), p.GetResult().GetValue(), p.GetResult().GetUnit())
}

func packTexts(packs []*partsv1.ShimPack) (all []string) {
	for _, p := range packs {
		all = append(all, packText(p))
	}
	return all
}

func TestThePackToFitIsThatOfTheChecks(t *testing.T) {
	w, name := shimBench(t, settingRow(endFloat()))
	nearest := partsv1.ShimRule_SHIM_RULE_NEAREST_THEN_FEWEST
	for _, c := range []struct {
		measured, pack string
		rule           partsv1.ShimRule
		needed         string
		want           string
	}{
		// checks.md O-71, made by exhaustive search: shims of 8, 13, 25 and 51
		// hundredths of a millimetre, at most 6, window 5 to 10, more shim gives
		// more float. R2 is the fewest, then nearest; R1 the nearest, then fewest.
		{"0.15 mm", "0.76 mm", 0, "0.685 mm", "2 x 0.08 mm + 0.51 mm -> 0.06 mm"},
		{"0.15 mm", "0.76 mm", nearest, "0.685 mm", "2 x 0.08 mm + 4 x 0.13 mm -> 0.07 mm"},
		{"0.02 mm", "0.51 mm", 0, "0.565 mm", "0.08 mm + 0.51 mm -> 0.10 mm"},
		{"0.02 mm", "0.51 mm", nearest, "0.565 mm", "4 x 0.08 mm + 0.25 mm -> 0.08 mm"},
		{"-0.04 mm", "0.38 mm", 0, "0.495 mm", "0.51 mm -> 0.09 mm"},
		{"-0.04 mm", "0.38 mm", nearest, "0.495 mm", "2 x 0.25 mm -> 0.08 mm"},
	} {
		answer := must(w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
			Build: name, Position: "output-shaft-bearing", Measured: quantity(c.measured), FittedPack: quantity(c.pack), Rule: c.rule,
		}))(t)
		if got := packTexts(answer.GetPacks()); len(got) != 1 || got[0] != c.want || answer.GetBestPacks() != 1 {
			t.Errorf("%s with %s by %s: %v, want %s", c.measured, c.pack, c.rule, got, c.want)
		}
		if got := answer.GetNeededPack().GetValue() + " " + answer.GetNeededPack().GetUnit(); got != c.needed {
			t.Errorf("%s with %s: needed %s, want %s", c.measured, c.pack, got, c.needed)
		}
	}
}

func TestAPackInThousandthsOfAnInchIsThatOfTheChecks(t *testing.T) {
	w, name := shimBench(t, settingRow(endFloat()))
	// checks.md O-72, made by exhaustive search: 3, 5, 10 and 20 thou, window 1
	// to 3. The setting is in millimetres; a thou is 0.0254 mm, exactly.
	answer := must(w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
		Build: name, Position: "output-shaft-bearing", Measured: quantity("0 thou"), FittedPack: quantity("18 thou"),
		Lower: "1 thou", Upper: "0.0762", Sizes: shimSizes("3 thou", "5 thou", "10 thou", "20 thou"),
	}))(t)
	if got := packTexts(answer.GetPacks()); len(got) != 1 || got[0] != "20 thou -> 2 thou" {
		t.Errorf("got %v, want 20 thou -> 2 thou", got)
	}
	if p := answer.GetPacks()[0]; p.GetFromTarget().GetValue() != "0" || p.GetRounded() {
		t.Errorf("the target is met exactly, got %v", p)
	}
}

func TestAnAnswerSaysWhatToRenewAndWhatToMind(t *testing.T) {
	w, name := shimBench(t, settingRow(endFloat()),
		positionRow(&partsv1.Position{Name: "positions/output-shaft-bearing", Title: "Output-shaft bearing", Caution: "The propshaft is off"}))
	answer := must(w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
		Build: name, Position: "output-shaft-bearing", Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm"),
	}))(t)
	if want := []string{"AP-20401, Housing gasket", "2 x AP-20405, Locking tab"}; !slices.Equal(answer.GetRenewWith(), want) {
		t.Errorf("to renew: %q, want %q", answer.GetRenewWith(), want)
	}
	if l := answer.GetRenew(); len(l) != 2 || l[1].GetPart() != "parts/AP-20405" || l[1].GetQuantity() != 2 {
		t.Errorf("lines to renew: %v", l)
	}
	for _, part := range []string{"Measure cold. ", "The propshaft is off. ", "A tab that was bent twice breaks. ", "Chock the wheels"} {
		if !strings.Contains(answer.GetCaution(), part) {
			t.Errorf("the caution lacks %q: %s", part, answer.GetCaution())
		}
	}
	var rules []string
	for _, r := range answer.GetReasons() {
		rules = append(rules, r.GetRule())
	}
	if want := []string{"TECHNICAL_ROW", "MEASURED", "NEEDED", "FEWEST_THEN_NEAREST", "RECORD_THE_OVERHAUL"}; !slices.Equal(rules, want) {
		t.Errorf("reasons %v, want %v", rules, want)
	}
	if answer.GetBuild() != name || !proto.Equal(answer.GetOnDate(), on(2026, 11, 25)) || answer.GetSetting().GetName() != "settings/T0031" || answer.GetWithin() {
		t.Errorf("got %v", answer)
	}
}

func TestWithoutAPackTheAnswerSaysWhatStandsInTheWay(t *testing.T) {
	w, name := shimBench(t, settingRow(endFloat()))
	one := int32(1)
	sizes := shimSizes("0.08 mm", "0.13 mm", "0.51 mm")
	sizes[0].Stock, sizes[0].Part = &one, "parts/AP-20801"
	answer := must(w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
		Build: name, Position: "output-shaft-bearing", Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm"), Sizes: sizes, LargestCount: 2,
	}))(t)
	if len(answer.GetPacks()) != 0 || answer.GetBestPacks() != 0 {
		t.Fatalf("got %v", answer.GetPacks())
	}
	// The values are those of services/shims/testdata, where they were worked out
	// by hand: 0.13 + 0.51 makes 0.64, which is 0.12 less than 0.76.
	if m := answer.GetNearestMiss(); packText(m) != "0.13 mm + 0.51 mm -> 0.03 mm" || m.GetMissesBy().GetValue() != "0.02" {
		t.Errorf("the nearest miss: %v", m)
	}
	if m := answer.GetOtherMiss(); packText(m) != "2 x 0.51 mm -> 0.41 mm" {
		t.Errorf("on the other side: %v", m)
	}
	r := answer.GetReliefs()
	if len(r) != 1 || !r[0].GetStock() || !r[0].GetLargestCount() || packText(r[0].GetPack()) != "2 x 0.08 mm + 0.51 mm -> 0.06 mm" {
		t.Fatalf("reliefs: %v", r)
	}
	if thin := r[0].GetPack().GetShims()[1]; thin.GetShort() != 1 || thin.GetPart() != "parts/AP-20801" {
		t.Errorf("short of: %v", thin)
	}
	if len(answer.GetLookFor()) == 0 || answer.GetReasons()[len(answer.GetReasons())-1].GetRule() == "RECORD_THE_OVERHAUL" {
		t.Errorf("look for %v, because %v", answer.GetLookFor(), answer.GetReasons())
	}
}

func TestPacksThatNothingTellsApartAreAllGiven(t *testing.T) {
	w, name := shimBench(t, settingRow(endFloat()))
	answer := must(w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
		Build: name, Position: "output-shaft-bearing", Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm"),
		Sizes: shimSizes("0.10 mm", "0.20 mm", "0.30 mm", "0.39 mm", "0.49 mm", "0.59 mm"), // each pair makes 0.69 mm
	}))(t)
	want := []string{"0.10 mm + 0.59 mm -> 0.08 mm", "0.20 mm + 0.49 mm -> 0.08 mm", "0.30 mm + 0.39 mm -> 0.08 mm"}
	if got := packTexts(answer.GetPacks()); !slices.Equal(got, want) || answer.GetBestPacks() != 3 {
		t.Errorf("got %v of %d, want %v", got, answer.GetBestPacks(), want)
	}
}

func TestALoadIsWorkedOutByItsSlope(t *testing.T) {
	for _, c := range []struct {
		sign           partsv1.ShimSign
		measured, want string
	}{
		// 3.5 kgf is 3 too little, which at 12 kgf/mm is 0.25 mm less shim under a
		// cap, 0.51 for 0.76, or 0.25 mm more behind a bearing, 0.76 for 0.51.
		{partsv1.ShimSign_SHIM_SIGN_ADDS_FLOAT, "0.76 mm", "0.51 mm -> 6.5 kgf"},
		{partsv1.ShimSign_SHIM_SIGN_TAKES_FLOAT, "0.51 mm", "0.76 mm -> 6.5 kgf"},
	} {
		w, name := shimBench(t, settingRow(swivelLoad(c.sign)))
		answer := must(w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
			Build: name, Position: "swivel-pin-left", Measured: quantity("3.5 kgf"), FittedPack: quantity(c.measured),
		}))(t)
		if got := packTexts(answer.GetPacks()); len(got) != 1 || got[0] != c.want {
			t.Errorf("%s: got %v, want %s", c.sign, got, c.want)
		}
		// A spring balance in pounds reads the same load.
		inPounds := must(w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
			Build: name, Position: "swivel-pin-left", Measured: quantity("7.7 lbf"), FittedPack: quantity(c.measured),
		}))(t)
		if p := inPounds.GetPacks(); len(p) != 1 || p[0].GetResult().GetUnit() != "lbf" || !p[0].GetRounded() ||
			!proto.Equal(p[0].GetThickness(), answer.GetPacks()[0].GetThickness()) {
			t.Errorf("in pounds: %v", p)
		}
	}
}

func TestWhatTheRequestGivesGoesBeforeTheSetting(t *testing.T) {
	setting := endFloat()
	setting.Target, setting.Shims.LargestCount, setting.Shims.Rule = "0.06", 2, partsv1.ShimRule_SHIM_RULE_NEAREST_THEN_FEWEST
	w, name := shimBench(t, settingRow(setting))
	ask := func(change func(*partsv1.SelectShimsRequest)) []string {
		t.Helper()
		req := &partsv1.SelectShimsRequest{
			Build: name, Position: "output-shaft-bearing", Measured: quantity("0.02 mm"), FittedPack: quantity("0.51 mm"),
		}
		change(req)
		answer := must(w.SelectShims(t.Context(), req))(t)
		for _, r := range answer.GetReasons() {
			if r.GetRule() == "MEASURED" {
				for _, f := range r.GetFacts() {
					if f.GetName() == "target" {
						return append(packTexts(answer.GetPacks()), "target "+f.GetValue())
					}
				}
			}
		}
		t.Fatalf("no target in %v", answer)
		return nil
	}
	for title, c := range map[string]struct {
		change func(*partsv1.SelectShimsRequest)
		want   []string
	}{
		// P* is 0.55 mm; of one or two shims 0.59 mm alone is in 0.54 to 0.59 mm.
		"nothing": {func(*partsv1.SelectShimsRequest) {}, []string{"0.08 mm + 0.51 mm -> 0.10 mm", "target 0.06 mm"}},
		// 0.55 mm by five shims: 0.08 + 0.08 + 0.13 + 0.13 + 0.13.
		"a larger count": {func(r *partsv1.SelectShimsRequest) { r.LargestCount = 5 },
			[]string{"2 x 0.08 mm + 3 x 0.13 mm -> 0.06 mm", "target 0.06 mm"}},
		"the fewest of a larger count": {func(r *partsv1.SelectShimsRequest) {
			r.LargestCount, r.Rule = 5, partsv1.ShimRule_SHIM_RULE_FEWEST_THEN_NEAREST
		}, []string{"0.08 mm + 0.51 mm -> 0.10 mm", "target 0.06 mm"}},
		"another target": {func(r *partsv1.SelectShimsRequest) { r.Target = "0.10" }, []string{"0.08 mm + 0.51 mm -> 0.10 mm", "target 0.10 mm"}},
		"another window that has the target": {func(r *partsv1.SelectShimsRequest) { r.Lower = "0.01" },
			[]string{"0.51 mm -> 0.02 mm", "target 0.06 mm"}},
		"another window without the target of the setting": {func(r *partsv1.SelectShimsRequest) { r.Lower, r.Upper = "0.13", "0.15" },
			[]string{"0.13 mm + 0.51 mm -> 0.15 mm", "target 0.14 mm"}},
		"other sizes": {func(r *partsv1.SelectShimsRequest) { r.Sizes = shimSizes("0.55 mm") }, []string{"0.55 mm -> 0.06 mm", "target 0.06 mm"}},
		"fitted shims again": {func(r *partsv1.SelectShimsRequest) {
			r.FittedPack, r.Sizes, r.Reuse = nil, shimSizes("0.08 mm"), true
			r.FittedShims = []*partsv1.ShimCount{{Thickness: quantity("0.51 mm")}}
		}, []string{"0.08 mm + 0.51 mm -> 0.10 mm", "target 0.06 mm"}},
	} {
		if got := ask(c.change); !slices.Equal(got, c.want) {
			t.Errorf("%s: got %v, want %v", title, got, c.want)
		}
	}
}

func TestAKitForTheWorkTakesThePlaceOfWhatItHolds(t *testing.T) {
	kit, shim := aPart("AP-2070", "Re-shim kit"), aPart("AP-2071", "Shim")
	kit.Contents = []*partsv1.KitLine{{Part: "parts/AP-20401", Quantity: 1}}
	shim.RenewWith = []*partsv1.KitLine{{Part: "parts/AP-2070", Quantity: 1}, {Part: "parts/AP-20405", Quantity: 1}}
	setting := endFloat()
	setting.ShimSizes[0].Part = "parts/AP-2071"
	w, name := shimBench(t, partRow(kit), partRow(shim), settingRow(setting))
	answer := must(w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
		Build: name, Position: "output-shaft-bearing", Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm"),
	}))(t)
	// The bearing asks for a gasket and two tabs, the shim for the kit and a tab:
	// the joint is opened once.
	if want := []string{"2 x AP-20405, Locking tab", "AP-2070, Re-shim kit"}; !slices.Equal(answer.GetRenewWith(), want) {
		t.Errorf("to renew: %q, want %q", answer.GetRenewWith(), want)
	}
}
