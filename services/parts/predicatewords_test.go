package parts

import "testing"

func TestAnExpressionIsSaidInWords(t *testing.T) {
	for expression, want := range map[string]string{
		`"disc" in fitted["brakes-front"]`:                             "with disc at the brakes front",
		`"brakes-front" in fitted && "disc" in fitted["brakes-front"]`: "with disc at the brakes front",
		`"heater" in fitted`:                                           "with something at the heater",
		`wheelbase == "long" && "winch" in fitted`:                     "with the long wheelbase and with something at the winch",
		`"heater" in fitted || wheelbase == "long"`:                    `where its expression holds ("heater" in fitted || wheelbase == "long")`,
		`market == "GB"`:                                               `where its expression holds (market == "GB")`,
		"":                                                             "where its expression holds ()",
	} {
		if got := predicateWords(expression); got != want {
			t.Errorf("%s: got %q, want %q", expression, got, want)
		}
	}
}
