package ownerpages

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/nyaruka/phonenumbers"
	"golang.org/x/text/language"
	"golang.org/x/text/language/display"

	"halfshaft/services/fault"
	"halfshaft/services/wording"
)

// home is where somebody lives, as far as their form says it.
type home struct {
	country string // its name, in the reader's language where it is offered
	region  string // by ISO 3166 code; "" where nobody knows the name
	zone    string // time zone
	bad     string // name of the field that is wrong; "" for none
}

// elsewhere is chosen by whoever lives in a country that is not offered.
const elsewhere = "other"

// maxCountry is the longest name of a country, in characters.
const maxCountry = 80

// homeOf reads the country: one that is offered, or another by its name with a
// time zone.
func (p *pages) homeOf(who reader, f form) home {
	zone := f.text("zone")
	if region, known := regionOf(zone); known {
		return home{country: who.country(region), region: region, zone: zone}
	}
	if zone != elsewhere {
		return home{bad: "zone"}
	}
	h := home{country: strings.Join(strings.Fields(f.text("country")), " "), zone: zoneNamed(f.text("clock"))}
	h.region = who.regionNamed(h.country)
	switch {
	case h.country == "" || fault.Longer(h.country, maxCountry):
		h.bad = "country"
	case h.zone == "":
		h.bad = "clock"
	}
	return h
}

// country is the name of a region in the reader's language.
func (r reader) country(region string) string {
	return display.Regions(language.Make(r.words.Tag())).Name(language.MustParseRegion(region))
}

// regionNamed is the country of a name in the reader's language or in English;
// "" for none.
func (r reader) regionNamed(name string) string {
	for region := range phonenumbers.GetSupportedRegions() {
		if strings.EqualFold(name, r.country(region)) || strings.EqualFold(name, inEnglish(region)) {
			return region
		}
	}
	return ""
}

func inEnglish(region string) string {
	return display.English.Regions().Name(language.MustParseRegion(region))
}

// continents are the areas of the IANA database that hold cities.
var continents = []string{"Africa", "America", "Antarctica", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific"}

// zoneNamed is the time zone of a name of the IANA database, or of a city that it
// names; "" for none.
func zoneNamed(text string) string {
	if text == "" || fault.Longer(text, maxCountry) {
		return ""
	}
	area, city, whole := strings.Cut(text, "/")
	names := []string{text, area + "/" + inCapitals(city), inCapitals(area) + "/" + inCapitals(city)}
	if !whole {
		names = nil
		for _, area := range continents {
			names = append(names, area+"/"+inCapitals(text))
		}
	}
	for _, name := range names {
		if _, err := time.LoadLocation(name); err == nil {
			return name
		}
	}
	return ""
}

// inCapitals writes a city as the IANA database does: "Port_of_Spain".
func inCapitals(city string) string {
	words := strings.FieldsFunc(strings.ToLower(city), func(r rune) bool { return r == ' ' || r == '_' })
	for i, word := range words {
		if i == 0 || word != "of" && word != "es" {
			words[i] = wording.UpperFirst(word)
		}
	}
	return strings.Join(words, "_")
}

// habits are the language's, as they are usual in the country.
func (h home) habits(language string) string {
	if h.region == "" {
		return language
	}
	return language + "-" + h.region
}

// mostPostal is how many lines a postal address has at most, the country among
// them.
const mostPostal = 7

// address reads a postal address. The country is its last line, in capitals and
// in English, so that a letter from anywhere finds it (a rule of the Universal
// Postal Union, from memory).
func (h home) address(text string) []string {
	var lines []string
	for line := range strings.Lines(strings.ReplaceAll(text, "\r", "\n")) {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
	}
	if len(lines) == 0 || h.country == "" {
		return lines
	}
	country := h.country
	if h.region != "" {
		country = cmp.Or(inEnglish(h.region), country)
	}
	if last := lines[len(lines)-1]; strings.EqualFold(last, h.country) || strings.EqualFold(last, country) {
		lines = lines[:len(lines)-1]
	}
	return append(lines, strings.ToUpper(country))
}

// telephone reads a telephone number as it is dialled in the country, or with a
// plus and the code of another; "" for what is no whole number.
func (h home) telephone(text string) string {
	number, err := phonenumbers.Parse(text, cmp.Or(h.region, "ZZ"))
	if err != nil || !whole(number) {
		return ""
	}
	return phonenumbers.Format(number, phonenumbers.E164)
}

// whole says whether a number has all its digits: it is of a range that the
// library knows, or of one that it does not and as long as its country's are. A
// number that does within a town is none.
func whole(number *phonenumbers.PhoneNumber) bool {
	if phonenumbers.IsValidNumber(number) {
		return true
	}
	region := phonenumbers.GetRegionCodeForCountryCode(int(number.GetCountryCode()))
	return slices.ContainsFunc([]phonenumbers.PhoneNumberType{phonenumbers.FIXED_LINE, phonenumbers.MOBILE}, func(kind phonenumbers.PhoneNumberType) bool {
		like := phonenumbers.GetExampleNumberForType(region, kind)
		return like != nil && like.GetItalianLeadingZero() == number.GetItalianLeadingZero() &&
			len(phonenumbers.GetNationalSignificantNumber(like)) == len(phonenumbers.GetNationalSignificantNumber(number))
	})
}
