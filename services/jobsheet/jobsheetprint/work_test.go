package jobsheetprint

import (
	"testing"

	"halfshaft/services/jobsheet"
	"halfshaft/services/vehicle"
)

// Whoever fills by the sheet fills each place once.
func TestAFillIsToldAsOftenAsItIsFilled(t *testing.T) {
	quantity := func(text string) vehicle.Quantity {
		q, err := vehicle.ParseQuantity(text)
		if err != nil {
			t.Fatal(err)
		}
		return q
	}
	grease := jobsheet.Fluid{Fluid: "grease", Quantity: quantity("60 g")}
	oil := jobsheet.Fluid{Fluid: "oil", Quantity: quantity("0.6 l"), Method: "To the mark."}
	for _, c := range []struct {
		fluids []jobsheet.Fluid
		want   string
	}{
		{nil, ""},
		{[]jobsheet.Fluid{grease}, "Fill 60\u00a0g grease."},
		{[]jobsheet.Fluid{grease, grease, oil}, "Fill 2\u00a0×\u00a060\u00a0g grease. Fill 0.6\u00a0l oil, to the mark."},
		{[]jobsheet.Fluid{grease, oil, grease}, "Fill 60\u00a0g grease. Fill 0.6\u00a0l oil, to the mark. Fill 60\u00a0g grease."},
	} {
		if got := needs(&jobsheet.Job{Fluids: c.fluids}).Text(); got != c.want {
			t.Errorf("got %q, want %q", got, c.want)
		}
	}
}
