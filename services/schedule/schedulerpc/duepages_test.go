package schedulerpc_test

import (
	"fmt"
	"slices"
	"testing"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
)

// Schedules are worked out some at a time; how long a page is changes neither
// which there are nor their order.
func TestListDueGivesTheSameByPagesOfAnyLength(t *testing.T) {
	w := start(t, "2024-01-01", every("E01", "", 12))
	for n := range 36 {
		serial, err := vehicle.NewSerial(fmt.Sprintf("AM02%02d", n))
		if err != nil {
			t.Fatal(err)
		}
		must(w.builds.CreateBuild(t.Context(), &buildv1.CreateBuildRequest{Build: built(string(serial), fmt.Sprintf("2024-02-%02d", 1+n%17))}))(t)
	}
	pages := func(size int32) (names []string) {
		t.Helper()
		for token := ""; ; {
			r := must(w.ListDue(t.Context(), &schedulev1.ListDueRequest{WithinDays: 60, OnDate: calendar("2026-11-25"), PageSize: size, PageToken: token}))(t)
			if len(r.GetSchedules()) > int(size) {
				t.Fatalf("a page of %d has %d", size, len(r.GetSchedules()))
			}
			for _, s := range r.GetSchedules() {
				names = append(names, s.GetName()+" "+s.GetItems()[0].GetSentence())
			}
			if token = r.GetNextPageToken(); token == "" {
				return names
			}
		}
	}
	want := pages(1)
	if distinct := slices.Compact(slices.Sorted(slices.Values(want))); len(want) != 37 || len(distinct) != 37 {
		t.Fatalf("%d vehicles, %d of them distinct, want 37", len(want), len(distinct))
	}
	for _, size := range []int32{3, 16, 17, 20, 33, 37, 50} {
		if got := pages(size); !slices.Equal(got, want) {
			t.Errorf("by pages of %d: got %v, want %v", size, got, want)
		}
	}
}
