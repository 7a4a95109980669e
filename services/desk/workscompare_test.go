package desk

import (
	"fmt"
	"testing"
)

func TestWhatDiffersBetweenTwoVersions(t *testing.T) {
	earlier := []described{
		{"E01", "Engine oil", []fact{{Label: "Every", Value: "3000 mi or 6 months"}, {Label: "Tools", Value: "none"}}},
		{"B02", "Brake fluid", []fact{{Label: "Every", Value: "24 months"}}},
		{"X09", "Points", []fact{{Label: "Every", Value: "12 months"}, {Label: "Caution", Value: ""}}},
	}
	later := []described{
		{"H01", "Hubs", []fact{{Label: "First", Value: "500 mi"}}},
		{"E01", "Engine oil", []fact{{Label: "Every", Value: "2500 mi or 6 months"}, {Label: "Caution", Value: "hot oil"}}},
		{"B02", "Brake fluid", []fact{{Label: "Every", Value: "24 months"}}},
	}
	want := `[{Hubs new [{First  500 mi}]} {Engine oil changed [{Every 3000 mi or 6 months 2500 mi or 6 months} {Caution  hot oil} {Tools none }]} {Points gone [{Every 12 months }]}]`
	if got := fmt.Sprint(differences(earlier, later)); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if got := differences(earlier, earlier); len(got) != 0 {
		t.Errorf("a version differs from itself: %v", got)
	}
	if table := differenceTable(differences(earlier, later), "2", "3"); len(table.Rows) != 3+5 || !table.Rows[0][0].Over {
		t.Errorf("got %d rows", len(table.Rows))
	}
}
