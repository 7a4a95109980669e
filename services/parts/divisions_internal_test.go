package parts

import (
	"slices"
	"testing"
)

func TestAVariableIsTriedWithWhatItIsComparedWith(t *testing.T) {
	for _, test := range []struct {
		variable, expression string
		want                 []string
	}{
		{"market", `wheelbase == "short" && market != "US"`, []string{"US"}},
		{"wheelbase", `wheelbase == "short" && market != "US"`, []string{"short"}},
		{"market", `market in ["GB", "IE"]`, []string{"GB", "IE"}},
		{"market", `"GB" == market`, []string{"GB"}},
		{"market", `market.startsWith("G") && "winch" in options`, []string{"G", "winch"}}, // another way: all of them
		{"market", `"winch" in options`, nil},
	} {
		if got := comparedWith(test.variable, test.expression); !slices.Equal(got, test.want) {
			t.Errorf("%s in %s: %v, want %v", test.variable, test.expression, got, test.want)
		}
	}
}
