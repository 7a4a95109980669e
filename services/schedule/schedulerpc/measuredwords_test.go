package schedulerpc_test

import (
	"strings"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
)

// valves measure two clearances of the engine.
func valves() *schedulev1.Item {
	it := every("E04", "", 24)
	it.Position, it.Title = "engine", "Valve-clearance check"
	for _, which := range []string{"inlet-clearance", "exhaust-clearance"} {
		it.Measured = append(it.Measured, &schedulev1.MeasuredLimit{Characteristic: which, Unit: "mm", Lower: "0.22", Upper: "0.28", Action: "0.35", Method: "engine cold"})
	}
	return it
}

func TestAValueIsJudgedByTheWordsForIt(t *testing.T) {
	w := start(t, "2012-11-24", append(plugs(), endFloat("0.22"), valves())...)
	for _, c := range []struct{ words, value, judged, question, candidates string }{
		{"end float output shaft", "0.18 mm", "output-shaft-bearing end-float", "", ""},
		{"output-shaft-bearing", "0.18 mm", "output-shaft-bearing end-float", "", ""},
		{"the exhaust valves", "0.25 mm", "engine exhaust-clearance", "", ""},
		{"valve clearance", "0.25 mm", "", "0.25 mm may be any of 2 quantities of AM0147P: which was measured?", "exhaust-clearance inlet-clearance"},
		{"output shaft flaot", "0.18 mm", "", `Nothing that is measured on AM0147P in a unit like mm goes by "flaot" with the other words. Was it this?`, "end-float"},
		{"valve clearance of cylinder", "0.25 mm", "", `goes by "cylinder" with the other words. Was it one of these?`, "exhaust-clearance inlet-clearance"},
	} {
		j := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity(c.value), Words: c.words})
		var some []string
		for _, q := range j.GetCandidates() {
			some = append(some, q.GetCharacteristic())
		}
		judged := strings.TrimSpace(j.GetQuantity().GetPosition() + " " + j.GetQuantity().GetCharacteristic())
		if judged != c.judged || !strings.HasSuffix(j.GetQuestion(), c.question) || (c.question == "") != (j.GetQuestion() == "") || strings.Join(some, " ") != c.candidates {
			t.Errorf("%s: judged %q, asked %q of %v", c.words, judged, j.GetQuestion(), some)
		}
	}
	for words, want := range map[string]string{"flux of the capacitor": "words for something that is measured on AM0147P", strings.Repeat("shaft ", 40): "at most 200 characters"} {
		_, err := w.JudgeMeasurement(t.Context(), &schedulev1.JudgeMeasurementRequest{Parent: theVehicle, Value: quantity("1 mm"), Words: words})
		if f := refused(t, err, fault.Invalid, "INVALID_FIELD"); f.Fields[0].Name != "words" || !strings.Contains(f.Fields[0].Want, want) {
			t.Errorf("%q: %+v", words, f.Fields)
		}
	}
	_, err := w.JudgeMeasurement(t.Context(), &schedulev1.JudgeMeasurementRequest{Parent: theVehicle, Value: quantity("12 V"), Words: "output shaft"})
	if f := refused(t, err, fault.Invalid, "NO_QUANTITY_IN_UNIT"); !strings.Contains(f.Fields[0].Want, "mm (end float of the output shaft bearing") {
		t.Errorf("in volts: %+v", f.Fields)
	}
}

func TestAValueThatGotBetterByItselfIsDoubtedAndInNoTrend(t *testing.T) {
	lining := every("B02F", "", 12)
	lining.Position = "engine"
	lining.Measured = []*schedulev1.MeasuredLimit{{Characteristic: "lining-above-rivet", Unit: "mm", Lower: "0.8", Action: "0.8", Method: "thinnest place"}}
	w := start(t, "2012-11-24", lining)
	for on, value := range map[string]string{"2014-11-24": "6.0 mm", "2018-11-24": "3.0 mm", "2022-11-24": "1.7 mm"} {
		w.measured(on, "", "B02F", "lining-above-rivet", value)
	}
	j := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity("5.0 mm"), Words: "lining"})
	if !j.GetImplausible() || j.GetAdvice() != schedulev1.MeasuredAdvice_MEASURED_ADVICE_MEASURE_AGAIN || j.GetTrend().GetValueCount() != 3 {
		t.Errorf("%+v", j)
	}
	w.measured("2026-11-24", "", "B02F", "lining-above-rivet", "5.0 mm")
	m := w.series("2026-11-25", "engine", "lining-above-rivet")
	if last := m.GetValues()[3]; last.GetInTrend() || m.GetTrend().GetValueCount() != 3 || !strings.Contains(m.GetTrend().GetReason().GetSentence(), "or was it renewed or set anew in between? Then record that.") {
		t.Errorf("in the trend: %+v", m)
	}
}

func TestAReleaseWithoutProgrammeIsSaidToHaveNone(t *testing.T) {
	w := open(t, kv.NewStore(etcdtest.Client(t)))
	bare := release()
	bare.Programme = ""
	must(w.builds.CreateRelease(t.Context(), &buildv1.CreateReleaseRequest{Release: bare}))(t)
	must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built("AM0147P", "2012-11-24")}))(t)
	_, schedule := w.GetSchedule(t.Context(), &schedulev1.GetScheduleRequest{Name: theVehicle + "/schedule"})
	_, measured := w.ListMeasuredSeries(t.Context(), &schedulev1.ListMeasuredSeriesRequest{Parent: theVehicle})
	_, judged := w.JudgeMeasurement(t.Context(), &schedulev1.JudgeMeasurementRequest{Parent: theVehicle, Value: quantity("1 mm")})
	for what, err := range map[string]error{"schedule": schedule, "measured": measured, "judge": judged} {
		if f := refused(t, err, fault.FailedPrecondition, "RELEASE_WITHOUT_PROGRAMME"); !strings.HasPrefix(f.Message, "The release of this vehicle has no service programme") {
			t.Errorf("%s: %s", what, f.Message)
		}
	}
}
