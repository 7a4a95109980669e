package schedulerpc_test

import (
	"slices"
	"strings"
	"testing"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
)

// floats are measured values of an end float, for an item done.
func floats(item string, values ...string) *schedulev1.ItemDone {
	d := &schedulev1.ItemDone{ItemId: item}
	for _, v := range values {
		d.Measured = append(d.Measured, &schedulev1.MeasuredValue{Characteristic: "end-float", Position: "output-shaft-bearing", Value: quantity(v),
			Instrument: "dial gauge 7", MeasuredBy: "J. Reed"})
	}
	return d
}

// repacked adds a change of a pack: float before and after, pack before and
// after, each "" where nobody measured it.
func repacked(d *schedulev1.ItemDone, before, after, packBefore, pack string) *schedulev1.ItemDone {
	w := &schedulev1.ShimWork{Position: "output-shaft-bearing", Characteristic: "end-float", Pack: quantity(pack)}
	if before != "" {
		w.MeasuredBefore = quantity(before)
	}
	if after != "" {
		w.MeasuredAfter = quantity(after)
	}
	if packBefore != "" {
		w.PackBefore = quantity(packBefore)
	}
	d.Shims = append(d.Shims, w)
	return d
}

// reshimmed records an entry of 10 January 2026 at 4,500 miles.
func (w *works) reshimmed(items ...*schedulev1.ItemDone) *schedulev1.ServiceEntry {
	w.t.Helper()
	return must(w.RecordService(w.t.Context(), &schedulev1.RecordServiceRequest{Parent: theVehicle, ServiceEntry: &schedulev1.ServiceEntry{
		ServiceDate: calendar("2026-01-10"), Reading: miles("4500"), DoneBy: "Quay Street Workshop", Items: items}}))(w.t)
}

// ofThatDay writes the values of 10 January 2026: "0.18 mm AS_FOUND" with an
// asterisk where the trend rests on it.
func ofThatDay(s *schedulev1.MeasuredSeries) []string {
	var all []string
	for _, v := range s.GetValues() {
		if iso(v.GetMeasuredDate()) != "2026-01-10" {
			continue
		}
		text := v.GetValue().GetValue() + " " + v.GetValue().GetUnit() + " " + strings.TrimPrefix(v.GetStage().String(), "MEASURED_STAGE_")
		if v.GetInTrend() {
			text += " *"
		}
		all = append(all, text)
	}
	return all
}

func TestShimWorkTellsWhatWasFoundAndWhatWasLeft(t *testing.T) {
	w := worn(t)
	e := w.reshimmed(repacked(floats("T02"), "0.18 mm", "0.11 mm", "0.58 mm", "0.51 mm"))
	s := w.series("2026-05-18", "output-shaft-bearing", "end-float")
	if got, want := ofThatDay(s), []string{"0.18 mm AS_FOUND", "0.11 mm AS_LEFT *"}; !slices.Equal(got, want) {
		t.Fatalf("got %v, want %v", got, want)
	}
	for _, v := range s.GetValues()[5:] {
		if v.GetRecord() != e.GetName() || v.GetMeasuredBy() != "Quay Street Workshop" || v.GetInstrument() != "" || v.GetItemId() != "T02" ||
			vehicle.Distance(v.GetLifeDistance().GetMillimetres()).Whole(vehicle.Miles) != 4500 || v.GetLimit().GetUpper() != "0.15" {
			t.Error(v)
		}
	}
	if b := s.GetBreaks(); len(b) != 1 || b[0].GetText() != "the output shaft bearing was re-shimmed" || b[0].GetRecord() != e.GetName() ||
		b[0].GetPackBefore().GetValue() != "0.58" || b[0].GetPackAfter().GetValue() != "0.51" || b[0].GetPackAfter().GetUnit() != "mm" {
		t.Error(b)
	}
	// The packs are of the series that began at the build, and there they are
	// values.
	pack := w.series("2026-05-18", "output-shaft-bearing", "shim-pack")
	if got, want := ofThatDay(pack), []string{"0.58 mm AS_FOUND", "0.51 mm AS_LEFT *"}; !slices.Equal(got, want) ||
		pack.GetValues()[0].GetValue().GetValue() != "0.59" || len(pack.GetValues()) != 3 {
		t.Errorf("got %v, want %v; all %v", got, want, pack.GetValues())
	}
	if b := pack.GetBreaks(); len(b) != 1 || b[0].GetPackBefore() != nil || b[0].GetPackAfter() != nil {
		t.Error(b)
	}
	if s := w.series("2026-01-09", "output-shaft-bearing", "end-float"); len(s.GetValues()) != 5 || len(s.GetBreaks()) != 0 {
		t.Error("seen on the day before")
	}
	j := w.judge(&schedulev1.JudgeMeasurementRequest{Value: quantity("0.12 mm"), Position: "output-shaft-bearing", Characteristic: "end-float", MeasuredDate: calendar("2026-05-18")})
	if !j.GetSameComponent() || j.GetPrevious().GetStage() != schedulev1.MeasuredStage_MEASURED_STAGE_AS_LEFT ||
		!strings.Contains(said(j), "Last time, on 10 January 2026, it was left at 0.11 mm with a pack of 0.51 mm: 0.01 mm more now") {
		t.Error(j)
	}
	must(w.VoidServiceEntry(t.Context(), &schedulev1.VoidServiceEntryRequest{Name: e.GetName(), Reason: "another vehicle", Etag: e.GetEtag()}))(t)
	if s := w.series("2026-05-18", "output-shaft-bearing", "end-float"); len(s.GetValues()) != 5 || len(s.GetBreaks()) != 0 {
		t.Error("a struck out entry is seen")
	}
}

func TestAValueToldTwiceIsCountedOnce(t *testing.T) {
	both := func(d *schedulev1.ItemDone) *schedulev1.ItemDone {
		return repacked(d, "0.18 mm", "0.11 mm", "0.58 mm", "0.51 mm")
	}
	for _, c := range []struct {
		name  string
		items []*schedulev1.ItemDone
		want  []string
	}{
		{"what was found", []*schedulev1.ItemDone{both(floats("T02", "0.18 mm"))}, []string{"0.18 mm AS_FOUND", "0.11 mm AS_LEFT *"}},
		{"what was left", []*schedulev1.ItemDone{both(floats("T02", "0.11 mm"))}, []string{"0.18 mm AS_FOUND", "0.11 mm AS_LEFT *"}},
		{"both", []*schedulev1.ItemDone{both(floats("T02", "0.11 mm", "0.18 mm"))}, []string{"0.18 mm AS_FOUND", "0.11 mm AS_LEFT *"}},
		{"with one digit more", []*schedulev1.ItemDone{both(floats("T02", "0.180 mm"))}, []string{"0.180 mm AS_FOUND", "0.11 mm AS_LEFT *"}},
		{"in another unit", []*schedulev1.ItemDone{repacked(floats("T02", "0.127 mm"), "5 thou", "0.11 mm", "0.58 mm", "0.51 mm")}, []string{"0.127 mm AS_FOUND", "0.11 mm AS_LEFT *"}},
		{"at an item that comes after the shims", []*schedulev1.ItemDone{both(floats("E07")), floats("T02", "0.18 mm", "0.11 mm")}, []string{"0.18 mm AS_FOUND", "0.11 mm AS_LEFT *"}},
		{"another number stays, and nobody can tell of when it is", []*schedulev1.ItemDone{both(floats("T02", "0.15 mm"))}, []string{"0.18 mm AS_FOUND", "0.15 mm UNSPECIFIED", "0.11 mm AS_LEFT *"}},
		{"found and left alike are two values", []*schedulev1.ItemDone{repacked(floats("T02", "0.10 mm"), "0.10 mm", "0.10 mm", "", "0.51 mm")}, []string{"0.10 mm AS_FOUND", "0.10 mm AS_LEFT *"}},
		{"the same work at two items", []*schedulev1.ItemDone{both(floats("T02")), both(floats("E07"))}, []string{"0.18 mm AS_FOUND", "0.11 mm AS_LEFT *"}},
		{"only what was found was measured", []*schedulev1.ItemDone{repacked(floats("T02"), "0.18 mm", "", "", "0.51 mm")}, []string{"0.18 mm AS_FOUND"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := worn(t)
			w.reshimmed(c.items...)
			s := w.series("2026-05-18", "output-shaft-bearing", "end-float")
			if got := ofThatDay(s); !slices.Equal(got, c.want) {
				t.Errorf("got %v, want %v", got, c.want)
			}
			for _, v := range s.GetValues()[5:] {
				told := slices.ContainsFunc(c.items, func(d *schedulev1.ItemDone) bool {
					return slices.ContainsFunc(d.GetMeasured(), func(m *schedulev1.MeasuredValue) bool { return m.GetValue().GetValue() == v.GetValue().GetValue() })
				})
				if told && v.GetStage() == schedulev1.MeasuredStage_MEASURED_STAGE_AS_FOUND && v.GetInstrument() != "dial gauge 7" {
					t.Errorf("who measured is lost: %v", v)
				}
			}
			if b := s.GetBreaks(); len(b) != 1 || b[0].GetPackAfter().GetValue() != "0.51" {
				t.Error(b)
			}
		})
	}
}

func TestThePacksStandBesideAnOverhaulOfTheSameDay(t *testing.T) {
	w := worn(t)
	w.changed("AM0147P", overhaulOf("output-shaft-bearing", "2026-01-10"))
	w.reshimmed(repacked(floats("T02"), "0.18 mm", "0.11 mm", "0.58 mm", "0.51 mm"))
	s := w.series("2026-05-18", "output-shaft-bearing", "end-float")
	if b := s.GetBreaks(); len(b) != 1 || b[0].GetText() != "the output shaft bearing was overhauled" || b[0].GetPackBefore().GetValue() != "0.58" || b[0].GetPackAfter().GetValue() != "0.51" {
		t.Error(b)
	}
}

func TestAPackOfWhichOnlyTheShimsAreWrittenDownIsTheirSum(t *testing.T) {
	w := worn(t)
	work := repacked(floats("T02"), "0.18 mm", "0.10 mm", "0.59 mm", "0.51 mm")
	work.Shims[0].Pack = nil
	work.Shims[0].Shims = []*schedulev1.ShimUsed{{Thickness: quantity("0.25 mm"), Count: 1}, {Thickness: quantity("0.13 mm"), Count: 2}}
	e := &schedulev1.ServiceEntry{Name: theVehicle + "/serviceEntries/s1", ServiceDate: calendar("2026-01-10"), Items: []*schedulev1.ItemDone{work}}
	// What is recorded gets its sum written down; what is imported stays as it is.
	must(w.bring("shims", []*schedulev1.HistoryRow{{Row: &schedulev1.HistoryRow_ServiceEntry{ServiceEntry: e}}}))(t)
	if got, want := ofThatDay(w.series("2026-05-18", "output-shaft-bearing", "shim-pack")), []string{"0.59 mm AS_FOUND", "0.51 mm AS_LEFT *"}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	if b := w.series("2026-05-18", "output-shaft-bearing", "end-float").GetBreaks(); len(b) != 1 || b[0].GetPackAfter().GetValue() != "0.51" {
		t.Error(b)
	}
}
