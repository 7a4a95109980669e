package desk

import (
	"fmt"
	"net/http/httptest"
	"strings"
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

// Two versions can differ in all that they say: each difference is on one of the
// pages, whole, and no page is long.
func TestWhatDiffersIsPaged(t *testing.T) {
	var all []difference
	for n := range 200 {
		all = append(all, difference{fmt.Sprintf("Item %03d", n), "changed", []changedFact{{"Why", strings.Repeat("a", 300), strings.Repeat("b", 300)}, {"Every", "3 months", "4 months"}}})
	}
	seen, pages := 0, 0
	for path := "/works/compare-programmes?from=a&to=b"; path != ""; pages++ {
		v := &visit{r: httptest.NewRequest("GET", path, nil)}
		shown, further := v.differing(all, "1", "2")
		for _, row := range shown.Rows {
			if row[0].Over {
				if want := all[seen].title + ": changed"; row[0].Text != want {
					t.Fatalf("page %d: got %q, want %q", pages+1, row[0].Text, want)
				}
				seen++
			}
		}
		if len(shown.Rows)%3 != 0 || len(shown.Rows) > 150 {
			t.Errorf("page %d has %d rows", pages+1, len(shown.Rows))
		}
		if path = ""; len(further) > 0 {
			path = further[0].Path
			if want := fmt.Sprintf("The other %d that differ", len(all)-seen); further[0].Label != want || !strings.Contains(path, "from=a") {
				t.Errorf("got %+v, want %q", further[0], want)
			}
		}
	}
	if seen != len(all) || pages < 2 {
		t.Errorf("%d of %d are on %d pages", seen, len(all), pages)
	}
	for _, page := range []string{"-4", "900", "x"} { // an address that somebody made up
		v := &visit{r: httptest.NewRequest("GET", "/works/compare-programmes?page="+page, nil)}
		if shown, _ := v.differing(all[:1], "1", "2"); shown == nil {
			t.Errorf("page %s", page)
		}
	}
}
