package vehicle_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/fault"
	"halfshaft/services/vehicle"
)

func TestSizesAreReadHoweverPeopleCount(t *testing.T) {
	for text, want := range map[string]string{
		"":                                "",
		"0.25 mm x2; 0.13 mm":             "0.25 mm x2; 0.13 mm",
		"0.25mm x2,0.13mm×1\n 3 thou X 4": "0.25 mm x2; 0.13 mm x1; 3 thou x4",
		"0.25mmx2":                        "0.25 mm x2",
		"0.51 mm x1 (AP-2074);;":          "0.51 mm x1 (AP-2074)",
		"0.51 mm (AP-2074)":               "0.51 mm (AP-2074)",
		"0.010 in x 12":                   "0.010 in x12",
		"2 × 0.08 mm + 0.51 mm":           "0.08 mm x2; 0.51 mm",
		"2x 0.25 mm (AP-2074)":            "0.25 mm x2 (AP-2074)",
	} {
		got, err := vehicle.ParseCounted(text)
		var texts []string
		for _, c := range got {
			texts = append(texts, c.String())
		}
		if err != nil || strings.Join(texts, "; ") != want {
			t.Errorf("%q is %q, %v; want %q", text, texts, err, want)
		}
	}
	for _, text := range []string{"0.25", "two of 0.25 mm", "2x 0.25 mm x2", "0.25 mm x2 0.13 mm", "x2", "0.25 mm xx2", "0.25 mm; 13", "3 sheets", "0.25 mm x0"} {
		if got, err := vehicle.ParseCounted(text); !fault.Is(err, fault.Invalid) {
			t.Errorf("%q is taken for %v, %v", text, got, err)
		}
	}
}

func TestAListOfSizesIsReadAsItIsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var want []vehicle.Counted
		var texts []string
		for range rapid.IntRange(1, 5).Draw(t, "sizes") {
			q, err := vehicle.ParseQuantity(fmt.Sprintf("%s %s", vehicle.Decimal{Coefficient: rapid.Int64Range(-999, 99999).Draw(t, "digits"), Scale: uint8(rapid.IntRange(0, 9).Draw(t, "scale"))},
				rapid.SampledFrom([]string{"mm", "thou", "in", "µm", `"`}).Draw(t, "unit")))
			if err != nil {
				t.Fatal(err)
			}
			c := vehicle.Counted{Size: q, Count: rapid.IntRange(0, 99).Draw(t, "count"), Part: rapid.SampledFrom([]string{"", "AP-2074", "x2"}).Draw(t, "part")}
			want, texts = append(want, c), append(texts, c.String())
		}
		got, err := vehicle.ParseCounted(strings.Join(texts, "; "))
		if err != nil || !slices.Equal(got, want) {
			t.Fatalf("%v is read as %v, %v", texts, got, err)
		}
	})
}
