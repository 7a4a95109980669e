package parts_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"halfshaft/services/build"
	"halfshaft/services/internal/predicate"
	"halfshaft/services/parts"
	"halfshaft/services/vehicle"
)

// The shed's places: small positions on the assemblies of shed_test.go, one for
// each kind of condition. All of it is invented.

func place(id, within string, words ...string) parts.Position {
	return parts.Position{ID: id, Title: strings.ReplaceAll(id, "-", " "), Within: within, Words: words}
}

func applies(id, position, part string, c parts.Conditions) parts.Application {
	return parts.Application{ID: id, Position: position, Part: part, Conditions: c}
}

func shedPlaces() []parts.Position {
	return []parts.Position{
		{ID: "transfer-case", Title: "Transfer case", Words: []string{"drop box"}, Tools: []string{"bearing puller"}, Caution: "Chock the wheels."},
		place("gearbox-top-cover-gasket", "gearbox", "lid gasket"), place("gearbox-drain-plug", "gearbox"), place("gearbox-lever", "gearbox"),
		place("pinion-seal-front", "front-axle-differential"), place("pinion-seal-rear", "rear-axle-differential"),
		place("winch-clutch", "winch"), place("transfer-case-plate", "transfer-case"), place("transfer-case-label", "transfer-case"),
		place("damper-bush", "shock-absorbers"), place("output-spacer", "output-shaft-bearing"),
		place("output-spacer-circlip", "output-spacer"), place("output-spacer-plate", "output-spacer"),
	}
}

func shedSmallParts() []parts.Part {
	var all []parts.Part
	for _, number := range []string{
		"AP-2100", "AP-2101", "AP-2110", "AP-2111", "AP-2120", "AP-2121", "AP-5090", "AP-5190", "AP-9010", "AP-4020", "AP-4021", "AP-4030", "AP-4031",
		"AP-6590", "AP-4190", "AP-4191", "AP-4195", "AP-7050",
	} {
		all = append(all, part(number, "Small part "+number))
	}
	return append(all, part("AP-4300", "Output bush and seal in one", words("one-piece bush")))
}

func shedApplications() []parts.Application {
	return []parts.Application{
		applies("A01", "gearbox-top-cover-gasket", "AP-2100", parts.Conditions{Releases: []string{"R1"}}),
		applies("A02", "gearbox-top-cover-gasket", "AP-2101", parts.Conditions{Otherwise: true}),
		applies("A03", "gearbox-drain-plug", "AP-2110", parts.Conditions{FirstSerial: serial("AM0101"), LastSerial: serial("AM0110"), Except: []vehicle.Serial{serial("AM0104")}}),
		applies("A04", "gearbox-drain-plug", "AP-2111", parts.Conditions{Otherwise: true}),
		applies("A05", "gearbox-lever", "AP-2120", parts.Conditions{BuiltUntil: day("2012-12-31")}),
		applies("A06", "gearbox-lever", "AP-2121", parts.Conditions{BuiltFrom: day("2013-01-01")}),
		applies("A07", "pinion-seal-front", "AP-5090", parts.Conditions{}),
		applies("A08", "pinion-seal-rear", "AP-5090", parts.Conditions{Without: []string{"lsd-rear"}}),
		applies("A09", "pinion-seal-rear", "AP-5190", parts.Conditions{Options: []string{"lsd-rear"}}),
		{ID: "A10", Position: "winch-clutch", Part: "AP-9010", Quantity: 2},
		applies("A11", "transfer-case-plate", "AP-4020", parts.Conditions{Lots: []string{"L1", "L2"}}),
		applies("A12", "transfer-case-plate", "AP-4021", parts.Conditions{Otherwise: true}),
		applies("A13", "transfer-case-label", "AP-4030", parts.Conditions{Markets: []string{"GB"}}),
		applies("A14", "transfer-case-label", "AP-4031", parts.Conditions{Otherwise: true}),
		{ID: "A15", Position: "damper-bush", Conditions: parts.Conditions{Releases: []string{"R2"}}, Text: "sealed for life: order the shock absorber"},
		applies("A16", "damper-bush", "AP-6590", parts.Conditions{Releases: []string{"R1"}, Together: []string{"AP-6500"}}),
		applies("A17", "output-spacer", "AP-4190", parts.Conditions{Together: []string{"AP-4100"}}),
		applies("A18", "output-spacer-circlip", "AP-4195", parts.Conditions{AppliesWhen: `"steering-damper" in fitted`}),
		applies("A20", "output-spacer-plate", "AP-4020", parts.Conditions{AppliesWhen: `"hydraulic" in fitted["steering-damper"]`}),
		applies("A21", "output-spacer-plate", "AP-4021", parts.Conditions{Otherwise: true}),
		applies("A19", "fan-belt", "AP-7050", parts.Conditions{FirstSerial: serial("AM0120"), LastSerial: serial("AM0129")}),
	}
}

func shedTechnical(t testing.TB) *parts.Catalogue {
	t.Helper()
	compiler, err := predicate.NewCompiler()
	if err != nil {
		t.Fatal(err)
	}
	c := parts.NewCatalogue()
	c.Expressions(compiler)
	for _, p := range append(shedParts(), shedSmallParts()...) {
		c.Put(p)
	}
	for _, s := range shedSupersessions() {
		c.PutSupersession(s)
	}
	for _, p := range shedPlaces() {
		c.PutPosition(p)
	}
	for _, a := range shedApplications() {
		c.PutApplication(a)
	}
	c.PutSetting(parts.Setting{ID: "T1", Position: "transfer-case", Characteristic: "torque", Subject: "case bolts", Unit: "N.m", Lower: "40", Upper: "50", Tools: []string{"torque wrench"}, Sample: true})
	c.PutSetting(parts.Setting{ID: "T2", Position: "transfer-case", Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Target: "0.10", Conditions: parts.Conditions{Releases: []string{"R2"}}})
	c.PutCapacity(parts.Capacity{ID: "F1", Position: "rear-axle-differential", Fluid: "SAE 90 GL-5", Family: "gear-oil", Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 17, Scale: 1}, Unit: "l"}, Conditions: parts.Conditions{Without: []string{"lsd-rear"}}, Caution: "Hot oil burns."})
	c.PutCapacity(parts.Capacity{ID: "F2", Position: "rear-axle-differential", Fluid: "SAE 90 GL-5 LS", Family: "gear-oil-ls", NeverMix: []string{"gear-oil"}, Quantity: vehicle.Quantity{Value: vehicle.Decimal{Coefficient: 17, Scale: 1}, Unit: "l"}, Conditions: parts.Conditions{Options: []string{"lsd-rear"}}})
	c.Seal()
	return c
}

func (l life) lot(position, lot string) life {
	l.record.Components = append(slices.Clone(l.record.Components), build.Component{Position: position, Lot: lot})
	return l
}

func (l life) lotOfLast(lot string) life {
	l.changes = slices.Clone(l.changes)
	l.changes[len(l.changes)-1].Component.Lot = lot
	return l
}

func (l life) market(code string) life { l.record.Market = code; return l }
func (l life) on(built string) life    { l.record.Built = day(built); return l }

func TestApplicationsSayWhichPartBelongsWhere(t *testing.T) {
	c := shedTechnical(t)
	for _, test := range []struct {
		name, question string
		life           life
		want           []string // as in answer_test.go
		rule, asks     string
		says           string // within the refusal
	}{
		{name: "by release", question: "gearbox top cover gasket", life: built("AM0101", "R1"), want: []string{"gearbox-top-cover-gasket: AP-2100 x1"}},
		{name: "otherwise", question: "gearbox top cover gasket", life: built("AM0101", "R2"), want: []string{"gearbox-top-cover-gasket: AP-2101 x1"}},
		{name: "a place follows the release of its assembly", question: "lid gasket", life: built("AM0101", "R1").upgraded("2019-01-01", "R2", "gearbox"),
			want: []string{"gearbox-top-cover-gasket: AP-2101 x1"}},
		{name: "within the range of serials", question: "gearbox drain plug", life: built("AM0110", "R1"), want: []string{"gearbox-drain-plug: AP-2110 x1"}},
		{name: "excepted from the range", question: "gearbox drain plug", life: built("AM0104", "R1"), want: []string{"gearbox-drain-plug: AP-2111 x1"}},
		{name: "after the range", question: "gearbox drain plug", life: built("AM0111", "R1"), want: []string{"gearbox-drain-plug: AP-2111 x1"}},
		{name: "the last day it was built", question: "gearbox lever", life: built("AM0101", "R1").on("2012-12-31"), want: []string{"gearbox-lever: AP-2120 x1"}},
		{name: "the day after", question: "gearbox lever", life: built("AM0101", "R1").on("2013-01-01"), want: []string{"gearbox-lever: AP-2121 x1"}},
		{name: "without the option", question: "rear pinion seal", life: built("AM0101", "R1"), want: []string{"pinion-seal-rear: AP-5090 x1"}},
		{name: "with the option", question: "pinion seal rear", life: built("AM0101", "R1", "lsd-rear"), want: []string{"pinion-seal-rear: AP-5190 x1"}},
		{name: "front or rear is asked", question: "pinion seal", life: built("AM0101", "R1"), want: []string{"pinion-seal-front: AP-5090 x1", "pinion-seal-rear: AP-5090 x1"}, asks: "Front or rear? The part is the same on each."},
		{name: "a place on an option's assembly, with its quantity", question: "winch clutch", life: built("AM0101", "R1", "winch"), want: []string{"winch-clutch: AP-9010 x2"}},
		{name: "a place on what the vehicle has not", question: "winch clutch", life: built("AM0101", "R1"), rule: parts.PositionEmpty},
		{name: "the lot on record", question: "transfer case plate", life: built("AM0101", "R1").lot("transfer-case", "L2"), want: []string{"transfer-case-plate: AP-4020 x1"}},
		{name: "the lot as somebody else writes it", question: "transfer case plate", life: built("AM0101", "R1").lot("transfer-case", "l-2"), want: []string{"transfer-case-plate: AP-4020 x1"}},
		{name: "another lot on record", question: "transfer case plate", life: built("AM0101", "R1").lot("transfer-case", "L9"), want: []string{"transfer-case-plate: AP-4021 x1"}},
		{name: "a lot that nobody recorded is asked for", question: "transfer case plate", life: built("AM0101", "R1"),
			want: []string{"transfer-case-plate: AP-4020 x1", "transfer-case-plate: AP-4021 x1"}, asks: "Which lot is marked at the transfer case: L1 or L2, or another?"},
		{name: "a dash is no lot", question: "transfer case plate", life: built("AM0101", "R1").lot("transfer-case", "-"),
			want: []string{"transfer-case-plate: AP-4020 x1", "transfer-case-plate: AP-4021 x1"}, asks: "Which lot is marked at the transfer case: L1 or L2, or another?"},
		{name: "the lot of a small part says nothing of its assembly's", question: "transfer case plate",
			life: built("AM0101", "R1").change("2020-02-02", build.Fit, build.SourceWorks, "transfer-case-plate", "AP-4020").lotOfLast("Q7"),
			want: []string{"transfer-case-plate: AP-4020 x1", "transfer-case-plate: AP-4021 x1"}, asks: "Which lot is marked at the transfer case: L1 or L2, or another?"},
		{name: "nor the assembly's of the small part's", question: "transfer case plate",
			life: built("AM0101", "R1").lot("transfer-case", "L9").change("2020-02-02", build.Fit, build.SourceWorks, "transfer-case-plate", "AP-4020"),
			want: []string{"transfer-case-plate: AP-4020 x1", "transfer-case-plate: AP-4021 x1"}, asks: "Which lot is marked at the transfer case plate: L1 or L2, or another?"},
		{name: "the market", question: "transfer case label", life: built("AM0101", "R1").market("GB"), want: []string{"transfer-case-label: AP-4030 x1"}},
		{name: "a market that is not on record is asked for", question: "transfer case label", life: built("AM0101", "R1"),
			want: []string{"transfer-case-label: AP-4030 x1", "transfer-case-label: AP-4031 x1"}, asks: "For which market was the vehicle built?"},
		{name: "nothing is supplied, and why", question: "damper bush", life: built("AM0101", "R2"), rule: parts.NothingSupplied, says: "Sealed for life: order the shock absorber."},
		{name: "only together with the standard assembly", question: "damper bush", life: built("AM0101", "R1"), want: []string{"damper-bush: AP-6590 x1"}},
		{name: "an owner's own assembly has none of its small parts", question: "damper bush",
			life: built("AM0101", "R1").change("2021-05-05", build.Fit, build.SourceOwner, "shock-absorbers", "AP-6520"), rule: parts.NoApplication,
			says: "AP-6590 holds only together with AP-6500, which is not on this vehicle"},
		{name: "what took the place of an assembly counts as it", question: "output spacer",
			life: built("AM0101", "R2").change("2020-02-02", build.Fit, build.SourceWorks, "output-shaft-bearing", "AP-4110"), want: []string{"output-spacer: AP-4190 x1"}},
		{name: "a place on a place, by an expression", question: "output spacer circlip", life: built("AM0101", "R1"), want: []string{"output-spacer-circlip: AP-4195 x1"}},
		{name: "an expression about what is off the vehicle now is not taken to fail", question: "output spacer plate", life: built("AM0101", "R1").change("2021-05-05", build.Remove, build.SourceWorks, "steering-damper", ""),
			want: []string{"output-spacer-plate: AP-4020 x1", "output-spacer-plate: AP-4021 x1"},
			asks: "The catalogue gives AP-4020 and AP-4021 for the output spacer plate, and nothing on record tells them apart: which number is on the part that is fitted?"},
		{name: "an application refines what the release says", question: "fan belt", life: built("AM0120", "R1"), want: []string{"fan-belt: AP-7050 x1"}},
		{name: "and leaves the others as they are", question: "fan belt", life: built("AM0130", "R1"), want: []string{"fan-belt: AP-7000 x1"}},
		{name: "what the build record lists outranks it", question: "fan belt", want: []string{"fan-belt: AP-7010 x1"},
			life: func() life {
				l := built("AM0120", "R1")
				l.record.Components = []build.Component{{Position: "fan-belt", Part: "AP-7010"}}
				return l
			}()},
		{name: "a number that belongs to another release is told where, and what is here instead", question: "AP-2100", life: built("AM0101", "R2"), rule: parts.NotOnThisVehicle,
			want: []string{"gearbox-top-cover-gasket: AP-2101 x1"}, says: "AP-2100 at the gearbox top cover gasket: release R1"},
		{name: "other words for an assembly", question: "drop box", life: built("AM0101", "R1"), want: []string{"transfer-case: AP-4000 x1"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			a := askOf(t, c, shedReleases(), test.life, today, test.question)
			var got []string
			for i := range a.Choices {
				got = append(got, summary(&a.Choices[i]))
			}
			if !slices.Equal(got, test.want) {
				t.Errorf("choices %v, want %v; refusal %+v", got, test.want, a.Refusal)
			}
			rule, says := "", ""
			if a.Refusal != nil {
				rule, says = a.Refusal.Rule, a.Refusal.Sentence+strings.Join(a.Refusal.BelongsTo, " ")
			}
			if rule != test.rule || !strings.Contains(says, test.says) {
				t.Errorf("refused by %q with %q, want %q with %q", rule, says, test.rule, test.says)
			}
			if a.AskBack != test.asks {
				t.Errorf("asks %q, want %q", a.AskBack, test.asks)
			}
		})
	}
}

func TestAChoiceHasWhatIsFilledAndSetThere(t *testing.T) {
	c := shedTechnical(t)
	choice := askOf(t, c, shedReleases(), built("AM0101", "R2"), today, "transfer case").Choices[0]
	if got := fmt.Sprint(settingTexts(choice.Settings), choice.Tools, " "+choice.Caution); got !=
		"[torque 40 to 50 N·m (30 to 37 lbf·ft) end-float 0.05 to 0.15 mm (2.0 to 5.9 thou), aim at 0.10 mm] [bearing puller torque wrench] Chock the wheels." {
		t.Error(got)
	}
	seal := askOf(t, c, shedReleases(), built("AM0101", "R1"), today, "rear pinion seal").Choices[0]
	if len(seal.Capacities) != 1 || seal.Capacities[0].ID != "F1" || !strings.Contains(seal.Caution, "Hot oil burns.") {
		t.Errorf("the oil of the axle does not come with its seal: %+v, %s", seal.Capacities, seal.Caution)
	}
}

func settingTexts(settings []*parts.Setting) []string {
	var out []string
	for _, s := range settings {
		out = append(out, s.Characteristic+" "+s.Window())
	}
	return out
}

func TestTheSheetSaysWhatIsFilledAndWhatMustNotMeet(t *testing.T) {
	conf, specified, err := build.ConfigureSpecified(built("AM0101", "R1", "lsd-rear").record, nil, shedReleases(), day(today))
	if err != nil {
		t.Fatal(err)
	}
	a := parts.Answerer{Catalogue: shedTechnical(t), Places: parts.NewPlaces(shedReleases())}
	sheet := a.Prepare(&parts.Vehicle{Configuration: conf, Specified: specified, Filled: []build.FluidFill{{Position: "rear-axle-differential", Fluid: "SAE 90 GL-5"}}}).Sheet("")
	if len(sheet.Fluids) != 1 || sheet.Fluids[0].ID != "F2" || len(sheet.Settings) != 1 || len(sheet.Open) != 0 {
		t.Fatalf("%+v", sheet)
	}
	var said []string
	for _, r := range sheet.Fluids[0].Reasons {
		said = append(said, r.Rule)
	}
	if want := []string{"TECHNICAL_ROW", "NEVER_MIX", "FILLED_OTHERWISE"}; !slices.Equal(said, want) {
		t.Errorf("reasons %v, want %v", said, want)
	}
}

// A merge: two old parts become one, and either leads to it.
func TestTwoPartsThatWereMergedBecomeOne(t *testing.T) {
	c := shedTechnical(t)
	c.PutSupersession(parts.Supersession{ID: "S100", Old: "AP-4190", AlsoOld: []string{"AP-4195"}, New: lines(line("AP-4300", 1)), Effective: day("2020-01-01"), OldStock: parts.Scrapped})
	c.Seal()
	for _, question := range []string{"output spacer", "output spacer circlip", "AP-4195"} {
		a := askOf(t, c, shedReleases(), built("AM0101", "R1"), today, question)
		if len(a.Choices) != 1 || a.AskBack != "" || a.Choices[0].Order.Number != "AP-4300" || a.Choices[0].Quantity != 1 {
			t.Errorf("%s: %+v", question, a)
			continue
		}
		var said []string
		for _, r := range a.Choices[0].Reasons {
			said = append(said, r.Sentence)
		}
		all := strings.Join(said, " ")
		for _, want := range []string{"AP-4300 took the place of AP-4190 and of AP-4195, one for all of them, on 1 January 2020", "Stock of AP-4190 and AP-4195 is not to be fitted any more"} {
			if !strings.Contains(all, want) {
				t.Errorf("%s: %q does not say %q", question, all, want)
			}
		}
	}
}

func TestAFluidOrASettingIsAnsweredByItsWords(t *testing.T) {
	c := shedTechnical(t)
	for _, test := range []struct{ question, want string }{
		{"rear differential oil", "F1"}, // nothing there is called oil, and what else would be meant
		{"gear oil rear differential", "F1"},
		{"which fluid, rear axle", "F1"},
		{"front axle fluid", ""},
		{"case bolt torque", "T1"},
		{"transfer case end float", "T2"},
		{"transfer case setting", "T1 T2"},
		{"transfer case", ""}, // a position
		{"winch", ""},
	} {
		a := askOf(t, c, shedReleases(), built("AM0101", "R2"), today, test.question)
		var got []string
		for _, f := range a.Fluids {
			got = append(got, f.ID)
		}
		for _, s := range a.Settings {
			got = append(got, s.ID)
		}
		if strings.Join(got, " ") != test.want {
			t.Errorf("%q gives %v, want %s", test.question, got, test.want)
		}
		if len(got) > 0 && len(a.Choices) > 0 {
			t.Errorf("%q gives parts as well", test.question)
		}
	}
}
