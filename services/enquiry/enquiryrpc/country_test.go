package enquiryrpc

import (
	"testing"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/vehicle"
)

func TestWhereSomebodyLivesIsInTheirAddressOrTheirHabits(t *testing.T) {
	for name, c := range map[string]struct {
		person *ownerv1.Person
		want   string
	}{
		"the last line names the country":       {&ownerv1.Person{PostalLines: []string{"1 Invented Row", "Fictionbury", "United Kingdom"}, Language: "en-US"}, "GB"},
		"in capitals, as post wants it":         {&ownerv1.Person{PostalLines: []string{"4 Invented Row", " AUSTRALIA "}}, "AU"},
		"in German":                             {&ownerv1.Person{PostalLines: []string{"Erfundene Zeile 3", "Österreich"}}, "AT"},
		"as people write it":                    {&ownerv1.Person{PostalLines: []string{"1 Invented Row", "Scotland"}}, "GB"},
		"an address within the country":         {&ownerv1.Person{PostalLines: []string{"1 Invented Row", "Fictionbury"}, FormatLocale: "de-CH", Language: "en-GB"}, "CH"},
		"only the language says it":             {&ownerv1.Person{Language: "en-AU"}, "AU"},
		"a language that is spoken in many":     {&ownerv1.Person{Language: "en"}, ""},
		"a country only in the line before":     {&ownerv1.Person{PostalLines: []string{"Australia", "Fictionbury"}}, ""},
		"nothing is known":                      {nil, ""},
		"a tag that is of no language whatever": {&ownerv1.Person{Language: "?"}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			if got := countryOf(c.person); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	if got := countryName("GB") + ", " + countryName("AU"); got != "the United Kingdom, Australia" {
		t.Errorf("they are called %s", got)
	}
}

// The owner's habits go before a caretaker's, and distances are in miles where
// nobody says otherwise.
func TestTheOwnersHabitsComeFirst(t *testing.T) {
	keeper := &ownerv1.Person{Language: "en-AU", DistanceUnit: "km"}
	country, unit := habits(map[ownerv1.Role][]*ownerv1.Person{ownerv1.Role_ROLE_CARETAKER: {keeper}, ownerv1.Role_ROLE_OWNER: {{Language: "en-GB", DistanceUnit: "mi"}}})
	if country != "GB" || unit != vehicle.Miles {
		t.Errorf("got %s, %s", country, unit)
	}
	if country, unit = habits(map[ownerv1.Role][]*ownerv1.Person{ownerv1.Role_ROLE_CARETAKER: {keeper}}); country != "AU" || unit != vehicle.Kilometres {
		t.Errorf("of a caretaker alone: %s, %s", country, unit)
	}
	if country, unit = habits(nil); country != "" || unit != vehicle.Miles {
		t.Errorf("of nobody: %s, %s", country, unit)
	}
}
