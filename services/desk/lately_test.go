package desk

import (
	"testing"

	"google.golang.org/genproto/googleapis/type/date"

	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
)

func TestTheReadingsOfTwoYearsAreDrawnAndTheOneBefore(t *testing.T) {
	of := func(years ...int32) (all []*schedulev1.Reading) {
		for _, y := range years {
			all = append(all, &schedulev1.Reading{ReadingDate: &date.Date{Year: y, Month: 6, Day: 1}})
		}
		return all
	}
	for _, c := range []struct {
		years []int32
		want  int
	}{{nil, 0}, {[]int32{2012}, 1}, {[]int32{2012, 2013}, 1}, {[]int32{2012, 2013, 2025, 2026}, 3}, {[]int32{2025, 2026}, 2}} {
		if got := lately(of(c.years...), vehicle.MustDate(2026, 7, 1)); len(got) != c.want {
			t.Errorf("%v: got %d, want %d", c.years, len(got), c.want)
		}
	}
}
