package figure_test

import (
	"slices"
	"strings"
	"testing"

	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
)

func TestOfAVisitWithManyItemsTheNumberIsReadOut(t *testing.T) {
	v := figure.Visits{Vehicle: "AM0147P", Today: day("2026-11-20"), Months: 24, Visits: []figure.Visit{
		{On: day("2027-04-12"), Items: strings.Split("E01,E02,E03,E04,E05,E06,E07", ",")}, {On: day("2027-10-04"), Items: []string{"E01"}},
	}}
	f := v.Figure(figure.Reader{Language: "en", Unit: vehicle.Miles}, figure.Wide)
	want := []string{"2 visits are planned until October 2028, the first on 12 April 2027.", "12 April 2027: 7 items.", "4 October 2027: E01."}
	if !slices.Equal(f.Description, want) {
		t.Errorf("got %q", f.Description)
	}
}
