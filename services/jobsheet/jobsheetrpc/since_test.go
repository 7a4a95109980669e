package jobsheetrpc

import (
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/jobsheet"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// What was measured before a bearing was renewed is not as it is now: the sheet
// says so beside it, and reckons no pack from it.
func TestAValueFromBeforeARenewalSaysSoAndIsNotReckonedFrom(t *testing.T) {
	on := func(month int32) *date.Date { return &date.Date{Year: 2026, Month: month, Day: 2} }
	limit := schedule.MeasuredLimit{Characteristic: "end-float", Unit: "mm", Lower: decimal(t, "0.05"), Upper: decimal(t, "0.15")}
	for month, want := range map[int32]string{1: "", 3: "Since then, on 2 March 2026, the output shaft bearing was overhauled."} {
		g := &gathered{series: []*schedulev1.MeasuredSeries{{Position: "output-shaft-bearing", Characteristic: "end-float",
			Values: []*schedulev1.SeriesValue{{MeasuredDate: on(2), Value: &vehiclev1.Quantity{Value: "0.19", Unit: "mm"}}},
			Breaks: []*schedulev1.SeriesBreak{{BreakDate: on(month), Record: "builds/AM0147P/changes/c1", Text: "the output shaft bearing was overhauled"}}}}}
		f := jobsheet.Facts{Serial: "AM0147P", Visit: vehicle.MustDate(2026, 5, 18), Items: []jobsheet.Item{{ID: "T02", Position: "output-shaft-bearing", Measured: []schedule.MeasuredLimit{limit}}}}
		g.measured(&f)
		sheet, err := jobsheet.Make(f)
		if err != nil {
			t.Fatal(err)
		}
		j := &sheet.Jobs[0]
		if got := j.Values[0].Trend; got != want {
			t.Errorf("renewed in month %d, the sheet says %q, want %q", month, got, want)
		}
		trials := j.Trials(&jobsheet.Shims{Position: "output-shaft-bearing", Characteristic: "end-float", Pack: vehicle.Quantity{Value: *decimal(t, "0.51"), Unit: "mm"}})
		if last := trials[0].Last; last != (want == "") {
			t.Errorf("renewed in month %d, the first pack is for %v", month, trials[0])
		}
	}
}

func decimal(t *testing.T, text string) *vehicle.Decimal {
	t.Helper()
	d, err := vehicle.ParseDecimal(text)
	if err != nil {
		t.Fatal(err)
	}
	return &d
}
