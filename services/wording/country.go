package wording

import (
	"cmp"

	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
)

// Country is what people call a country by its code of ISO 3166-1, in English by
// the Unicode CLDR: "United Kingdom" for GB. A code of no country stays as it is, and so does one whose country is
// no more and has no name there, as SU.
func Country(code string) string {
	region, err := language.ParseRegion(code)
	if err != nil || !region.IsCountry() {
		return code
	}
	return cmp.Or(display.English.Regions().Name(region), code)
}

// Countries is Country for each of several codes.
func Countries(codes []string) []string {
	names := make([]string, len(codes))
	for i, code := range codes {
		names[i] = Country(code)
	}
	return names
}
