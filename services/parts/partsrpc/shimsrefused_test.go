package partsrpc_test

import (
	"slices"
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
)

func TestEverythingWrongInAQuestionAboutShimsIsSaidAtOnce(t *testing.T) {
	w, name := shimBench(t, settingRow(endFloat()))
	minus := int32(-1)
	_, err := w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
		Build: name, Position: "output-shaft-bearing", Measured: &vehiclev1.Quantity{Value: "0.15"},
		FittedShims: []*partsv1.ShimCount{{Thickness: quantity("0.51 kgf"), Count: 2, Part: "AP-1"}, {Thickness: quantity("0.51 mm"), Count: -2}},
		Lower:       "0,05", Target: "x", Rule: 9, LargestCount: 13,
		Sizes: []*partsv1.ShimSize{{Thickness: quantity("0 mm")}, {Thickness: quantity("0.08 mm"), Stock: &minus}},
	})
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	var names []string
	for _, field := range f.Fields {
		names = append(names, field.Name)
	}
	slices.Sort(names)
	want := []string{
		"fitted_shims[0].part", "fitted_shims[0].thickness", "fitted_shims[1].count", "largest_count", "lower", "measured", "rule",
		"sizes[0].thickness", "sizes[1].stock", "target",
	}
	if !slices.Equal(names, want) {
		t.Errorf("got %v\nwant %v\n%v", names, want, f)
	}
}

func TestAValueOfAnotherKindThanTheSettingIsRefused(t *testing.T) {
	w, name := shimBench(t, settingRow(endFloat()), settingRow(swivelLoad(partsv1.ShimSign_SHIM_SIGN_ADDS_FLOAT)))
	for _, c := range []struct{ position, measured, field, want string }{
		{"output-shaft-bearing", "6 kgf", "measured", "a value in mm"},
		{"swivel-pin-left", "0.10 mm", "measured", "a value in kgf"},
		{"swivel-pin-left", "0 kgf", "measured", "more than nothing"},
		{"", "0.10 mm", "position", "a position of the vehicle"},
	} {
		_, err := w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
			Build: name, Position: c.position, Measured: quantity(c.measured), FittedPack: quantity("0.76 mm"),
		})
		f := refused(t, err, fault.Invalid, "INVALID_FIELD")
		if len(f.Fields) != 1 || f.Fields[0].Name != c.field || !strings.Contains(f.Fields[0].Want, c.want) {
			t.Errorf("%s at %s: %v", c.measured, c.position, f)
		}
	}
}

func TestASettingWithoutShimsOnRecordAsksForThem(t *testing.T) {
	setting := endFloat()
	setting.ShimSizes = nil
	w, name := shimBench(t, settingRow(setting))
	req := &partsv1.SelectShimsRequest{Build: name, Position: "output-shaft-bearing", Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm")}
	_, err := w.SelectShims(t.Context(), req)
	if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); len(f.Fields) != 1 || f.Fields[0].Name != "sizes" {
		t.Errorf("got %v", f)
	}
	req.Sizes = shimSizes("0.69 mm")
	if answer := must(w.SelectShims(t.Context(), req))(t); len(answer.GetPacks()) != 1 {
		t.Errorf("got %v", answer)
	}
}

func TestAPositionWithoutShimsSaysWhichHaveThem(t *testing.T) {
	plain := &partsv1.Setting{Name: "settings/T1", Position: "gearbox", Characteristic: "torque", Unit: "N.m", Lower: "50", Upper: "60"}
	w, name := shimBench(t, settingRow(endFloat()), settingRow(swivelLoad(partsv1.ShimSign_SHIM_SIGN_ADDS_FLOAT)), settingRow(plain))
	for position, reason := range map[string]string{"gearbox": "NO_SHIM_SETTING", "swivel-pin-right": "POSITION_NOT_ON_VEHICLE"} {
		_, err := w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
			Build: name, Position: position, Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm"),
		})
		f := refused(t, err, fault.NotFound, reason)
		if !strings.HasSuffix(f.Message, "With shims are set: output-shaft-bearing and swivel-pin-left.") {
			t.Errorf("at the %s: %s", position, f.Message)
		}
	}
}

func TestOfSeveralSettingsWithShimsOneMustBeNamed(t *testing.T) {
	drag := swivelLoad(partsv1.ShimSign_SHIM_SIGN_ADDS_FLOAT)
	drag.Name, drag.Position, drag.Characteristic = "settings/T0032", "output-shaft-bearing", "turning-torque"
	upper := endFloat()
	upper.Name, upper.Subject = "settings/T0033", "front bearing"
	w, name := shimBench(t, settingRow(endFloat()), settingRow(drag), settingRow(upper))
	ask := func(characteristic, subject string) (*partsv1.ShimSelection, error) {
		return w.SelectShims(t.Context(), &partsv1.SelectShimsRequest{
			Build: name, Position: "output-shaft-bearing", Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm"),
			Characteristic: characteristic, Subject: subject,
		})
	}
	for _, c := range []struct{ characteristic, subject, field, want string }{
		{"", "", "characteristic", "which is set: end-float or turning-torque"},
		{"end-float", "", "subject", "of what the end float is set: front bearing or itself (the output shaft bearing)"},
		{"gap", "", "characteristic", "end-float, end-float of front bearing or turning-torque"},
		{"end-float", "rear bearing", "subject", "end-float of front bearing"},
	} {
		_, err := ask(c.characteristic, c.subject)
		f := refused(t, err, fault.Invalid, "INVALID_FIELD")
		if len(f.Fields) != 1 || f.Fields[0].Name != c.field || !strings.Contains(f.Fields[0].Want, c.want) {
			t.Errorf("%s of %s: %v, want %s: %s", c.characteristic, c.subject, f, c.field, c.want)
		}
	}
	for subject, want := range map[string]string{"front bearing": "settings/T0033", "itself": "settings/T0031"} {
		if answer := must(ask("end-float", subject))(t); answer.GetSetting().GetName() != want {
			t.Errorf("%s is set by %v", subject, answer.GetSetting())
		}
	}
}

func TestASettingThatTheRecordsDoNotDecideSaysWhatWouldTell(t *testing.T) {
	early, late := endFloat(), endFloat()
	early.Conditions = &partsv1.Conditions{Lots: []string{"L1"}}
	late.Name, late.Conditions = "settings/T0034", &partsv1.Conditions{Otherwise: true}
	other := endFloat()
	other.Name, other.Conditions = "settings/T0035", &partsv1.Conditions{Lots: []string{"L2"}}
	w, name := shimBench(t, settingRow(early), settingRow(late), settingRow(other))
	req := &partsv1.SelectShimsRequest{
		Build: name, Position: "output-shaft-bearing", Measured: quantity("0.15 mm"), FittedPack: quantity("0.76 mm"),
	}
	_, err := w.SelectShims(t.Context(), req)
	f := refused(t, err, fault.FailedPrecondition, "SHIM_SETTING_UNDECIDED")
	for _, part := range []string{"settings/T0031 (", "settings/T0035 (", "Which lot is marked at the output shaft bearing: L1, or another?"} {
		if !strings.Contains(f.Message, part) {
			t.Errorf("no %q in %s", part, f.Message)
		}
	}
	// The lot on record decides.
	must(w.builds.RecordChange(t.Context(), &buildv1.RecordChangeRequest{Parent: name, Change: &buildv1.Change{
		Kind: buildv1.ChangeKind_CHANGE_KIND_FIT, Source: buildv1.ChangeSource_CHANGE_SOURCE_SERVICE, ChangeDate: on(2020, 1, 1),
		Component: &buildv1.Component{Position: "output-shaft-bearing", Part: "AP-2040", Lot: "L2"}, Reason: "worn",
	}}))(t)
	if answer := must(w.SelectShims(t.Context(), req))(t); answer.GetSetting().GetName() != "settings/T0035" {
		t.Errorf("decided for %v", answer.GetSetting())
	}
}
