package schedulerpc_test

import (
	"slices"
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
)

// endFloat is an item that measures the end float of the output shaft bearing.
func endFloat(action string) *schedulev1.Item {
	it := every("T02", "", 24)
	it.Position, it.Title, it.Caution = "output-shaft-bearing", "Output-shaft end float", "Chock all wheels."
	it.Measured = []*schedulev1.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: "0.05", Upper: "0.15", Action: action, Method: "cold, dial gauge"}}
	return it
}

// plugs are an item that measures a gap, and the renewal that does it too.
func plugs() []*schedulev1.Item {
	gap := []*schedulev1.MeasuredLimit{{Characteristic: "gap", Unit: "mm", Lower: "0.65", Upper: "0.80", Action: "0.90", Method: "cold"}}
	check, renew := every("E07", "", 24), every("E07R", "", 48)
	check.Position, check.Measured = "engine", gap
	renew.Position, renew.Measured, renew.Title, renew.Resets = "engine", gap, "Spark-plug renewal", []string{"E07"}
	return []*schedulev1.Item{check, renew}
}

// quantity reads "0.11 mm" for a message.
func quantity(text string) *vehiclev1.Quantity {
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return vehiclewire.QuantityProto(q)
}

// measured records work with one measured value.
func (w *works) measured(on, reading, item, what, value string) *schedulev1.ServiceEntry {
	w.t.Helper()
	e := &schedulev1.ServiceEntry{ServiceDate: calendar(on), DoneBy: "Harbour Road Garage", Items: []*schedulev1.ItemDone{{
		ItemId: item, Measured: []*schedulev1.MeasuredValue{{Characteristic: what, Value: quantity(value)}}}}}
	if reading != "" {
		e.Reading = miles(reading)
	}
	return must(w.RecordService(w.t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: e}))(w.t)
}

// overhaulOf is the overhaul of a component.
func overhaulOf(position, on string) *buildv1.Change {
	return &buildv1.Change{Kind: buildv1.ChangeKind_CHANGE_KIND_OVERHAUL, ChangeDate: calendar(on), Component: &buildv1.Component{Position: position}}
}

// series gives the one series of a position by a day.
func (w *works) series(on, position, what string) *schedulev1.MeasuredSeries {
	w.t.Helper()
	r := must(w.ListMeasuredSeries(w.t.Context(), &schedulev1.ListMeasuredSeriesRequest{
		Parent: theVehicle, Position: position, Characteristic: what, OnDate: calendar(on)}))(w.t)
	if len(r.GetMeasuredSeries()) != 1 {
		w.t.Fatalf("%d series of the %s of the %s", len(r.GetMeasuredSeries()), what, position)
	}
	return r.GetMeasuredSeries()[0]
}

// judge asks what a value means.
func (w *works) judge(r *schedulev1.JudgeMeasurementRequest) *schedulev1.MeasurementJudgement {
	w.t.Helper()
	r.Parent = theVehicle
	return must(w.JudgeMeasurement(w.t.Context(), r))(w.t)
}

// said are the sentences of a judgement.
func said(j *schedulev1.MeasurementJudgement) string {
	var all []string
	for _, r := range j.GetReasons() {
		all = append(all, r.GetSentence())
	}
	return strings.Join(all, "\n")
}

// worn starts the vehicle with a bearing that was measured at its build and
// wore.
func worn(t *testing.T) *works {
	w := start(t, "2016-01-01", append(plugs(), endFloat("0.20"))...)
	b := must(w.builds.GetBuild(t.Context(), &buildv1.GetBuildRequest{Name: "builds/AM0147P"}))(t)
	b.Measurements = []*buildv1.Measurement{
		{Position: "output-shaft-bearing", Characteristic: "end-float", Value: quantity("0.10 mm"), MeasuredDate: calendar("2015-12-20"), MeasuredBy: "works, bench 2", Instrument: "dial gauge 4"},
		{Position: "output-shaft-bearing", Characteristic: "shim-pack", Value: quantity("0.59 mm")},
	}
	must(w.builds.AmendBuild(t.Context(), &buildv1.AmendBuildRequest{Build: b, Reason: "from the bench book"}))(t)
	w.measured("2018-01-10", "1000", "T02", "end-float", "0.11 mm")
	w.measured("2020-01-10", "", "T02", "end-float", "0.12 mm")
	w.measured("2022-01-10", "3000", "T02", "end-float", "0.13 mm")
	w.measured("2024-01-10", "4000", "T02", "end-float", "0.14 mm")
	return w
}

func TestASeriesTellsWhereEachValueComesFrom(t *testing.T) {
	w := worn(t)
	s := w.series("2026-05-18", "output shaft bearing", "end-float")
	if s.GetName() != theVehicle+"/measuredSeries/output-shaft-bearing.end-float" || s.GetItemId() != "T02" || s.GetUnit() != "mm" || !s.GetSample() || len(s.GetValues()) != 5 {
		t.Fatal(s)
	}
	first, second, third := s.GetValues()[0], s.GetValues()[1], s.GetValues()[2]
	if first.GetRecord() != "builds/AM0147P" || first.GetInstrument() != "dial gauge 4" || first.GetMeasuredBy() != "works, bench 2" ||
		first.GetLifeDistance() == nil || first.GetLifeDistance().GetMillimetres() != 0 || first.GetResolution().GetValue() != "0.01" ||
		first.GetVerdict() != schedulev1.MeasuredVerdict_MEASURED_VERDICT_WITHIN || !first.GetInTrend() {
		t.Error(first)
	}
	if !strings.HasPrefix(second.GetRecord(), theVehicle+"/serviceEntries/") || second.GetMeasuredBy() != "Harbour Road Garage" ||
		vehicle.Distance(second.GetLifeDistance().GetMillimetres()).Whole(vehicle.Miles) != 1000 || second.GetItemId() != "T02" {
		t.Error(second)
	}
	if third.GetLifeDistance() != nil {
		t.Errorf("nobody read the dial on that day: %v", third)
	}
	tr := s.GetTrend()
	if tr.GetDirection() != schedulev1.TrendDirection_TREND_DIRECTION_RISING || tr.GetBasis() != schedulev1.TrendBasis_TREND_BASIS_TIME ||
		tr.GetValueCount() != 5 || len(tr.GetForecasts()) != 2 || tr.GetForecasts()[0].GetBound() != schedulev1.LimitBound_LIMIT_BOUND_UPPER {
		t.Error(tr)
	}
	pack := w.series("2026-05-18", "output-shaft-bearing", "shim-pack")
	if pack.GetLimit() != nil || pack.GetTrend().GetOutlook().GetRule() != "NO_LIMIT" || iso(pack.GetValues()[0].GetMeasuredDate()) != "2016-01-01" {
		t.Error(pack)
	}
	if before := w.series("2019-01-01", "output-shaft-bearing", "end-float"); len(before.GetValues()) != 2 {
		t.Errorf("by 2019: %v", before.GetValues())
	}
}

func TestTheWindowIsThatOfItsDay(t *testing.T) {
	w := worn(t)
	must(w.CreateProgramme(t.Context(), &schedulev1.CreateProgrammeRequest{Programme: programme(2, "2023-01-01", append(plugs(), func() *schedulev1.Item {
		it := endFloat("0.20")
		it.Measured[0].Upper = "0.12"
		return it
	}())...)}))(t)
	var got []string
	for _, v := range w.series("2026-05-18", "output-shaft-bearing", "end-float").GetValues() {
		got = append(got, v.GetValue().GetValue()+" "+v.GetLimit().GetUpper()+" "+v.GetVerdict().String()[len("MEASURED_VERDICT_"):])
	}
	if want := []string{"0.10 0.15 WITHIN", "0.11 0.15 WITHIN", "0.12 0.15 WITHIN", "0.13 0.15 WITHIN", "0.14 0.12 OUTSIDE_WINDOW"}; !slices.Equal(got, want) {
		t.Errorf("got %v\nwant %v", got, want)
	}
}

func TestAStruckOutEntryIsNoValue(t *testing.T) {
	w := worn(t)
	e := w.measured("2025-01-10", "", "T02", "end-float", "0.71 mm")
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Reason: "another vehicle", Etag: e.GetEtag()}))(t)
	if s := w.series("2026-05-18", "output-shaft-bearing", "end-float"); len(s.GetValues()) != 5 {
		t.Error(s.GetValues())
	}
}

func TestWhatBeginsASeriesAnew(t *testing.T) {
	w := worn(t)
	w.changed("AM0147P", overhaulOf("output-shaft-bearing", "2024-06-01"))
	w.measured("2025-01-10", "", "T02", "end-float", "0.07 mm")
	s := w.series("2026-05-18", "output-shaft-bearing", "end-float")
	if b := s.GetBreaks(); len(b) != 1 || b[0].GetText() != "the output shaft bearing was overhauled" || iso(b[0].GetBreakDate()) != "2024-06-01" {
		t.Errorf("breaks %v", b)
	}
	if got := s.GetTrend().GetReason().GetSentence(); got != "There is one value only since the output shaft bearing was overhauled on 1 June 2024, so no trend can be told." {
		t.Error(got)
	}
	w.measured("2018-03-01", "", "E07", "gap", "0.85 mm")
	w.measured("2019-03-01", "", "E07R", "gap", "0.70 mm")
	gap := w.series("2026-05-18", "engine", "gap")
	if b := gap.GetBreaks(); len(b) != 1 || b[0].GetText() != "Spark-plug renewal (E07R) was done" {
		t.Errorf("breaks %v", b)
	}
	if last := gap.GetValues()[1]; last.GetStage() != schedulev1.MeasuredStage_MEASURED_STAGE_AS_LEFT || !last.GetInTrend() || gap.GetValues()[0].GetInTrend() {
		t.Error(gap.GetValues())
	}
}

func TestAMeasuredValueIsJudged(t *testing.T) {
	w := worn(t)
	j := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity("0.18 mm"), Position: "output-shaft-bearing", MeasuredDate: calendar("2026-01-10")})
	if j.GetVerdict() != schedulev1.MeasuredVerdict_MEASURED_VERDICT_OUTSIDE_WINDOW || j.GetAdvice() != schedulev1.MeasuredAdvice_MEASURED_ADVICE_PLAN ||
		!j.GetSameComponent() || j.GetPrevious().GetValue().GetValue() != "0.14" || j.GetCaution() != "Chock all wheels." || !j.GetSample() ||
		j.GetQuantity().GetLimit().GetMethod() != "cold, dial gauge" || j.GetQuantity().GetItemId() != "T02" || j.GetValueInLimitUnit() != "0.18" {
		t.Error(j)
	}
	for _, part := range []string{
		"0.18 mm is outside its window of 0.05 to 0.15 mm, 0.03 mm above it, and short of its action limit of 0.20 mm.",
		"Last time, on 10 January 2024, it was 0.14 mm: 0.04 mm more now.", "6 values, from 20 December 2015 to 10 January 2026: rising",
		"its action limit, 0.20 mm, ", "Plan to put it right at the next visit",
	} {
		if !strings.Contains(said(j), part) {
			t.Errorf("not said: %s\nin: %s", part, said(j))
		}
	}
	inThou := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity("5 thou"), ItemId: "t02"})
	if inThou.GetVerdict() != schedulev1.MeasuredVerdict_MEASURED_VERDICT_WITHIN || inThou.GetValueInLimitUnit() != "0.127" {
		t.Error(inThou)
	}
	if s := w.series("2026-05-18", "output-shaft-bearing", "end-float"); len(s.GetValues()) != 5 {
		t.Error("judging recorded something")
	}
}

func TestWhereSeveralCouldBeMeantItAsksBack(t *testing.T) {
	w := worn(t)
	j := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity("0.14 mm")})
	var got []string
	for _, c := range j.GetCandidates() {
		got = append(got, c.GetPosition()+"."+c.GetCharacteristic()+" "+c.GetItemId())
	}
	// The value is in the window of the first. The shim pack has no limit to be judged by.
	if want := []string{"output-shaft-bearing.end-float T02", "engine.gap E07"}; !slices.Equal(got, want) ||
		j.GetQuestion() != "0.14 mm may be any of 2 quantities of AM0147P: which was measured?" || j.GetAdvice() != 0 || len(j.GetReasons()) > 0 {
		t.Errorf("got %v\nwant %v\n%v", got, want, j)
	}
	if j := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity("0.14 mm"), Characteristic: "end float"}); j.GetQuantity().GetCharacteristic() != "end-float" {
		t.Error(j)
	}
	if j := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity("0.6 mm"), Position: "output", Characteristic: "shim pack"}); j.GetPrevious().GetValue().GetValue() != "0.59" ||
		j.GetVerdict() != 0 || j.GetAdvice() != 0 {
		t.Error(j)
	}
}

func TestWhatCannotBeJudgedIsRefused(t *testing.T) {
	w := worn(t)
	for _, c := range []struct {
		name   string
		r      *schedulev1.JudgeMeasurementRequest
		reason string
		field  string
		want   string
	}{
		{"a unit of nothing here", &schedulev1.JudgeMeasurementRequest{Value: quantity("12 V")}, "NO_QUANTITY_IN_UNIT", "value.unit", "mm (gap of the engine, end float of the output shaft bearing, shim pack of the output shaft bearing)"},
		{"a position without anything measured", &schedulev1.JudgeMeasurementRequest{Value: quantity("1 mm"), Position: "gearbox"}, "INVALID_FIELD", "position", "engine, output-shaft-bearing"},
		{"a characteristic that is not measured there", &schedulev1.JudgeMeasurementRequest{Value: quantity("1 mm"), Position: "engine", Characteristic: "dwell"}, "INVALID_FIELD", "characteristic", "gap"},
		{"an item that measures nothing", &schedulev1.JudgeMeasurementRequest{Value: quantity("1 mm"), ItemId: "Z99"}, "INVALID_FIELD", "item_id", "an item of this vehicle's programme"},
		{"no value", &schedulev1.JudgeMeasurementRequest{}, "INVALID_FIELD", "value", "a number and its unit"},
		{"a number without a unit", &schedulev1.JudgeMeasurementRequest{Value: &vehiclev1.Quantity{Value: "0.18"}}, "INVALID_FIELD", "value", "a number and its unit"},
		{"a day to come", &schedulev1.JudgeMeasurementRequest{Value: quantity("1 mm"), MeasuredDate: calendar("2030-01-01")}, "INVALID_FIELD", "measured_date", "a day that has come"},
	} {
		c.r.Parent = theVehicle
		_, err := w.JudgeMeasurement(t.Context(), c.r)
		f := refused(t, err, fault.Invalid, c.reason)
		if len(f.Fields) != 1 || f.Fields[0].Name != c.field || !strings.Contains(f.Fields[0].Want, c.want) {
			t.Errorf("%s: %v", c.name, f)
		}
	}
	_, err := w.JudgeMeasurement(t.Context(), &schedulev1.JudgeMeasurementRequest{Parent: "vehicles/AM01058", Value: quantity("1 mm")})
	refused(t, err, fault.NotFound, "BUILD_NOT_FOUND")
}

func TestSeriesArePaged(t *testing.T) {
	w := worn(t)
	w.measured("2018-03-01", "", "E07", "gap", "0.85 mm")
	r := &schedulev1.ListMeasuredSeriesRequest{Parent: theVehicle, PageSize: 2}
	first := must(w.ListMeasuredSeries(t.Context(), r))(t)
	r.PageToken = first.GetNextPageToken()
	second := must(w.ListMeasuredSeries(t.Context(), r))(t)
	if len(first.GetMeasuredSeries()) != 2 || len(second.GetMeasuredSeries()) != 1 || second.GetNextPageToken() != "" {
		t.Errorf("%d and %d", len(first.GetMeasuredSeries()), len(second.GetMeasuredSeries()))
	}
}

func TestAnInstrumentHasAName(t *testing.T) {
	w := worn(t)
	_, err := w.RecordService(t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2026-01-10"), Items: []*schedulev1.ItemDone{{ItemId: "T02", Measured: []*schedulev1.MeasuredValue{
			{Characteristic: "end-float", Value: quantity("0.08 mm"), Instrument: strings.Repeat("x", 201), MeasuredBy: strings.Repeat("y", 201)}}}}}})
	f := refused(t, err, fault.Invalid, "INVALID_FIELD")
	if len(f.Fields) != 2 || f.Fields[0].Name != "service_entry.items[0].measured[0].instrument" || f.Fields[1].Name != "service_entry.items[0].measured[0].measured_by" {
		t.Error(f)
	}
}
