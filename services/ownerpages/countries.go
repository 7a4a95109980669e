package ownerpages

import (
	"slices"
	"strings"

	"golang.org/x/text/collate"
	"golang.org/x/text/language"
	"golang.org/x/text/language/display"
)

// zones are the countries that a page offers, by ISO 3166 code, with their
// time zones by the names of the IANA database. Where a country has several,
// each city stands by itself; where places share a clock today, the best-known
// one speaks for them. Whoever lives elsewhere chooses a place with the same
// clock, or calls.
var zones = map[string][]string{
	"AT": {"Europe/Vienna"}, "AU": {"Australia/Adelaide", "Australia/Brisbane", "Australia/Darwin", "Australia/Hobart", "Australia/Perth", "Australia/Sydney"},
	"BE": {"Europe/Brussels"}, "BG": {"Europe/Sofia"},
	"CA": {"America/Edmonton", "America/Halifax", "America/Regina", "America/St_Johns", "America/Toronto", "America/Vancouver", "America/Winnipeg"},
	"CH": {"Europe/Zurich"}, "CY": {"Asia/Nicosia"}, "CZ": {"Europe/Prague"}, "DE": {"Europe/Berlin"}, "DK": {"Europe/Copenhagen"},
	"EE": {"Europe/Tallinn"}, "ES": {"Atlantic/Canary", "Europe/Madrid"}, "FI": {"Europe/Helsinki"}, "FR": {"Europe/Paris"},
	"GB": {"Europe/London"}, "GG": {"Europe/Guernsey"}, "GR": {"Europe/Athens"}, "HR": {"Europe/Zagreb"}, "HU": {"Europe/Budapest"},
	"IE": {"Europe/Dublin"}, "IM": {"Europe/Isle_of_Man"}, "IS": {"Atlantic/Reykjavik"}, "IT": {"Europe/Rome"}, "JE": {"Europe/Jersey"},
	"JP": {"Asia/Tokyo"}, "KE": {"Africa/Nairobi"}, "LI": {"Europe/Vaduz"}, "LT": {"Europe/Vilnius"}, "LU": {"Europe/Luxembourg"},
	"LV": {"Europe/Riga"}, "MC": {"Europe/Monaco"}, "MT": {"Europe/Malta"}, "NA": {"Africa/Windhoek"}, "NL": {"Europe/Amsterdam"},
	"NO": {"Europe/Oslo"}, "NZ": {"Pacific/Auckland"}, "PL": {"Europe/Warsaw"}, "PT": {"Atlantic/Azores", "Atlantic/Madeira", "Europe/Lisbon"},
	"RO": {"Europe/Bucharest"}, "SE": {"Europe/Stockholm"}, "SI": {"Europe/Ljubljana"}, "SK": {"Europe/Bratislava"},
	"US": {"America/Anchorage", "America/Chicago", "America/Denver", "America/Detroit", "America/Los_Angeles", "America/New_York", "America/Phoenix", "Pacific/Honolulu"},
	"ZA": {"Africa/Johannesburg"},
}

// regionOf is the country of a zone that is offered.
func regionOf(zone string) (string, bool) {
	for region, names := range zones {
		if slices.Contains(names, zone) {
			return region, true
		}
	}
	return "", false
}

// zoneGroup is a country with its zones.
type zoneGroup struct {
	Country string
	Zones   []choice
}

// zones offers the countries by their names in the reader's language. Nothing
// is chosen but where the reader's habits name a country with one zone.
func (r reader) zones(chosen string) []zoneGroup {
	tag := language.Make(r.words.Tag())
	names, order := display.Regions(tag), collate.New(tag)
	if chosen == "" {
		if own := zones[r.region]; len(own) == 1 {
			chosen = own[0]
		}
	}
	var groups []zoneGroup
	for region, all := range zones {
		country := names.Name(language.MustParseRegion(region))
		group := zoneGroup{Country: country}
		for _, zone := range all {
			label := country
			if len(all) > 1 {
				label += ": " + strings.ReplaceAll(zone[strings.LastIndexByte(zone, '/')+1:], "_", " ")
			}
			group.Zones = append(group.Zones, choice{zone, label, zone == chosen})
		}
		groups = append(groups, group)
	}
	slices.SortFunc(groups, func(a, b zoneGroup) int { return order.CompareString(a.Country, b.Country) })
	return groups
}
