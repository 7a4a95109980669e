package enquiryrpc

import (
	"maps"
	"slices"
	"strings"
	"sync"

	"golang.org/x/text/language"
	"golang.org/x/text/language/display"

	ownerv1 "halfshaft/proto/halfshaft/owner/v1"
	"halfshaft/services/vehicle"
)

// countries are the codes by ISO 3166-1 alpha-2 by the names that the last line
// of an address has: those of the Unicode CLDR in the languages of the notices,
// and what people in such countries write, which is common use and no source.
var countries = sync.OnceValue(func() map[string]string {
	names := map[string]string{
		"uk": "GB", "great britain": "GB", "england": "GB", "scotland": "GB", "wales": "GB", "northern ireland": "GB",
		"usa": "US", "u.s.a.": "US", "united states of america": "US",
	}
	for _, in := range []language.Tag{language.English, language.German} {
		namer := display.Regions(in)
		for a := 'A'; a <= 'Z'; a++ {
			for b := 'A'; b <= 'Z'; b++ {
				code := string([]rune{a, b})
				if region, err := language.ParseRegion(code); err == nil && region.IsCountry() && region.Canonicalize().String() == code {
					names[strings.ToLower(namer.Name(region))] = code
				}
			}
		}
	}
	return names
})

// countryOf gives the country that somebody lives in: that of the last line of
// their address, or else of their habits of writing dates and numbers; empty
// where neither says.
func countryOf(p *ownerv1.Person) string {
	if lines := p.GetPostalLines(); len(lines) > 0 {
		if code, ok := countries()[strings.ToLower(strings.TrimSpace(lines[len(lines)-1]))]; ok {
			return code
		}
	}
	for _, tag := range []string{p.GetFormatLocale(), p.GetLanguage()} {
		if region, sure := language.Make(tag).Region(); sure == language.Exact && region.IsCountry() {
			return region.Canonicalize().String()
		}
	}
	return ""
}

// countryName is how a country is called within an English sentence.
func countryName(code string) string {
	region, err := language.ParseRegion(code)
	if err != nil {
		return code
	}
	name := display.English.Regions().Name(region)
	if strings.HasPrefix(name, "United ") || strings.HasPrefix(name, "Netherlands") || strings.HasPrefix(name, "Isle ") {
		name = "the " + name
	}
	return name
}

// habits are the country and the unit of whoever comes first among people: the
// owner's, where that is known.
func habits(people map[ownerv1.Role][]*ownerv1.Person) (country string, unit vehicle.Unit) {
	for _, role := range slices.Sorted(maps.Keys(people)) { // the owner's number is the first
		for _, p := range people[role] {
			if country == "" {
				country = countryOf(p)
			}
			if u, err := vehicle.ParseUnit(p.GetDistanceUnit()); unit == "" && err == nil {
				unit = u
			}
		}
	}
	if unit == "" {
		unit = vehicle.Miles
	}
	return country, unit
}
