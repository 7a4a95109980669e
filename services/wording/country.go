package wording

import (
	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
)

// Country is what people call a country by its code of ISO 3166-1, in English by
// the Unicode CLDR: "United Kingdom" for GB. A code of no country stays as it is.
func Country(code string) string {
	region, err := language.ParseRegion(code)
	if err != nil || !region.IsCountry() {
		return code
	}
	return display.English.Regions().Name(region)
}

// Countries is Country for each of several codes.
func Countries(codes []string) []string {
	names := make([]string, len(codes))
	for i, code := range codes {
		names[i] = Country(code)
	}
	return names
}
