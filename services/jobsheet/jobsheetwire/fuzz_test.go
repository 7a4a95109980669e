package jobsheetwire

import (
	"reflect"
	"testing"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/proto"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	jobsheetv1 "halfshaft/proto/halfshaft/jobsheet/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/jobsheet"
	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// aSheet is one with a value, shims, a part and the remedy of a campaign.
func aSheet(t testing.TB) jobsheet.Sheet {
	t.Helper()
	least, most := vehicle.Decimal{Coefficient: 5, Scale: 2}, vehicle.Decimal{Coefficient: 15, Scale: 2}
	pack, err := vehicle.ParseQuantity("0.55 mm")
	if err != nil {
		t.Fatal(err)
	}
	s, err := jobsheet.Make(jobsheet.Facts{
		Serial: "AM0147P", Visit: vehicle.MustDate(2026, 5, 18),
		Items: []jobsheet.Item{{ID: "T02", Title: "End float", Group: "transfer case", Position: "output-shaft-bearing", Doc: "G3",
			Measured: []schedule.MeasuredLimit{{Characteristic: "end-float", Unit: "mm", Lower: &least, Upper: &most}}, Needs: []jobsheet.Need{{Position: "seal"}}}},
		Parts:    map[string][]jobsheet.Part{"seal": {{Number: "AP-2041", Quantity: 1}}},
		Settings: []jobsheet.SheetSetting{{Setting: jobsheet.Setting{Title: "end float", Position: "output-shaft-bearing"}, Characteristic: "end-float", Doc: "G3", Shimmed: true}},
		Packs:    []jobsheet.Pack{{Position: "output-shaft-bearing", Characteristic: "end-float", Thickness: pack}},
		Remedies: []jobsheet.Remedy{{FollowUp: "vehicles/AM0147P/followUps/C-2026-02", Campaign: "C-2026-02", Title: "A nut", Items: []jobsheet.RemedyItem{{ID: "C1", Title: "Fit it", Parts: []jobsheet.Part{{Number: "AP-3", Quantity: 1}}}}}},
	})
	if err != nil {
		t.Fatal(err)
	}
	s.Number = 1
	return s
}

func TestASheetIsReadAsItWasWritten(t *testing.T) {
	s := aSheet(t)
	s.Distance = jobsheet.Distance{Unit: vehicle.Miles, Dial: "miles, 5 digits", Expected: 1604 * vehicle.Mile}
	s.Jobs[1].Shims[0].Choices = []jobsheet.Choice{{Measured: s.Jobs[1].Shims[0].Pack, Last: true, PackText: "0.51 mm", Pack: s.Jobs[1].Shims[0].Pack, Result: s.Jobs[1].Shims[0].Pack, Sentence: "Fit it."}}
	got, err := Sheet(SheetProto(&s))
	if err != nil {
		t.Fatal(err)
	}
	if !proto.Equal(SheetProto(&got), SheetProto(&s)) || !reflect.DeepEqual(got.Jobs[1].Shims, s.Jobs[1].Shims) {
		t.Errorf("got  %v\nwant %v", SheetProto(&got), SheetProto(&s))
	}
}

// FuzzReturn reads what somebody sends as a return. What can be read is looked over
// and followed without falling over, and written as it was read.
func FuzzReturn(f *testing.F) {
	for _, p := range []*jobsheetv1.JobReturn{
		{},
		{ServiceDate: &date.Date{Year: 2026, Month: 5, Day: 18}, DoneBy: "Ned", Reading: &vehiclev1.Distance{EnteredValue: "1600", EnteredUnit: "mi"},
			Jobs: []*jobsheetv1.JobDone{{Number: 1, Done: true}, {Number: 2, Done: true, Values: []*jobsheetv1.JobMeasured{{Line: "2.1", Value: &vehiclev1.Quantity{Value: "0.21", Unit: "mm"}}},
				Shims: []*schedulev1.ShimWork{{Position: "output-shaft-bearing", Characteristic: "end-float", Shims: []*schedulev1.ShimUsed{{Thickness: &vehiclev1.Quantity{Value: "0.51", Unit: "mm"}}}, MeasuredAfter: &vehiclev1.Quantity{Value: "0.17", Unit: "mm"}}}}},
			Parts: []*schedulev1.PartUsed{{Part: "AP-3", Quantity: 1}}, Confirmed: []*jobsheetv1.JobConfirmation{{Line: "2.s1", Text: "why"}}},
		{Jobs: []*jobsheetv1.JobDone{{Number: -1}, {Number: 2}, {Number: 2}}, Changes: []*buildv1.Change{{Kind: 9}}},
	} {
		raw, err := proto.Marshal(p)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw)
	}
	sheet := aSheet(f)
	f.Fuzz(func(t *testing.T, raw []byte) {
		p := &jobsheetv1.JobReturn{}
		if proto.Unmarshal(raw, p) != nil {
			return
		}
		back, err := Return(p)
		if err != nil {
			return
		}
		doubts := sheet.Check(&back, jobsheet.Heard{})
		work := sheet.Follow(&back)
		OutcomeProto(&work)
		if len(doubts) == 0 && back.DoneBy == "" {
			t.Errorf("a return without who did it is taken in: %v", p)
		}
		written := ReturnProto(&back)
		again, err := Return(written)
		if err != nil || !proto.Equal(ReturnProto(&again), written) {
			t.Errorf("%v, %v is not read as it was written", written, err)
		}
	})
}

// FuzzSheetID reads the name of a sheet: one sheet has one name.
func FuzzSheetID(f *testing.F) {
	for _, name := range []string{"vehicles/AM0147P/jobSheets/1", "vehicles/AM0147P/jobSheets/01", "vehicles/AM0147P/jobSheets/-1", "vehicles/AM0147P/jobSheets/", "jobSheets/1", "vehicles/AM0147P/jobSheets/99999999999999999999"} {
		f.Add(name)
	}
	f.Fuzz(func(t *testing.T, name string) {
		serial, n, err := SheetID("name", name)
		if err == nil && jobsheet.Name(serial, n) != name {
			t.Errorf("%q is sheet %d of %s, whose name is %q", name, n, serial, jobsheet.Name(serial, n))
		}
	})
}
