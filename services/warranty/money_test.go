package warranty_test

import (
	"testing"

	. "halfshaft/services/warranty"
)

func TestCodesOfCurrencies(t *testing.T) {
	for code, want := range map[string]bool{"GBP": true, "EUR": true, "gbp": false, "GB": false, "GBPX": false, "G1P": false, "": false, "É£": false} {
		if got := IsCurrency(code); got != want {
			t.Errorf("%q: got %v", code, got)
		}
	}
}
