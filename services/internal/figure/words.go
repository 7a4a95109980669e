package figure

// The phrases of the figures. A name in braces is a place to fill; of two
// phrases that end in ".one" and ".other", the first is for one thing. Both
// languages have the same phrases with the same places: a test compares them.

var english = map[string]string{
	"number.group": ",", "number.point": ".",
	"date": "{day} {month} {year}", "day": "{day} {month}",
	"list":    "{first} and {last}",
	"table":   "The same as a table",
	"month.1": "January", "month.2": "February", "month.3": "March", "month.4": "April",
	"month.5": "May", "month.6": "June", "month.7": "July", "month.8": "August",
	"month.9": "September", "month.10": "October", "month.11": "November", "month.12": "December",
	"unit.mi": "miles", "unit.km": "km",
	"distance.mi.one": "{n} mile", "distance.mi.other": "{n} miles",
	"distance.km.one": "{n} km", "distance.km.other": "{n} km",
	"today": "today", "head.date": "Date", "head.what": "What", "head.note": "Note",
	"head.distance": "Distance, {unit}", "yes": "yes", "no": "no",

	"ledger.title":  "Distance of {vehicle}",
	"ledger.none":   "There is no reading yet.",
	"ledger.likely": "likely", "ledger.range": "in {chance} of 100 cases", "ledger.doubtful": "doubted",
	"ledger.limit": "{at}: {name}", "ledger.limits": "{at}: {name}, {more} more",
	"ledger.says.one":     "One reading counts: on {last} it was {distance}.",
	"ledger.says.other":   "{n} readings count, from {first} to {last}; the last comes to {distance}.",
	"ledger.doubts.one":   "One more is doubted and does not count.",
	"ledger.doubts.other": "{n} more are doubted and do not count.",
	"ledger.event":        "{date}: {name}.",
	"ledger.goes":         "On {date} it is likely to be {likely}.",
	"ledger.between":      "In {chance} of 100 cases it is then between {low} and {high}.",
	"ledger.due":          "{name} is due at {at}.",
	"ledger.caption":      "Readings, what happened to the instrument, forecast and limits of {vehicle}",
	"ledger.reading":      "reading", "ledger.doubted": "doubted reading", "ledger.forecast": "forecast", "ledger.limited": "limit: {name}",
	"between": "between {low} and {high}",
}

var german = map[string]string{
	"number.group": ".", "number.point": ",",
	"date": "{day}. {month} {year}", "day": "{day}. {month}",
	"list":    "{first} und {last}",
	"table":   "Dasselbe als Tabelle",
	"month.1": "Januar", "month.2": "Februar", "month.3": "März", "month.4": "April",
	"month.5": "Mai", "month.6": "Juni", "month.7": "Juli", "month.8": "August",
	"month.9": "September", "month.10": "Oktober", "month.11": "November", "month.12": "Dezember",
	"unit.mi": "Meilen", "unit.km": "km",
	"distance.mi.one": "{n} Meile", "distance.mi.other": "{n} Meilen",
	"distance.km.one": "{n} km", "distance.km.other": "{n} km",
	"today": "heute", "head.date": "Datum", "head.what": "Was", "head.note": "Bemerkung",
	"head.distance": "Strecke, {unit}", "yes": "ja", "no": "nein",

	"ledger.title":  "Strecke von {vehicle}",
	"ledger.none":   "Es gibt noch keinen Stand.",
	"ledger.likely": "wahrscheinlich", "ledger.range": "in {chance} von 100 Fällen", "ledger.doubtful": "zweifelhaft",
	"ledger.limit": "{at}: {name}", "ledger.limits": "{at}: {name}, {more} weitere",
	"ledger.says.one":     "Ein Stand zählt: am {last} waren es {distance}.",
	"ledger.says.other":   "{n} Stände zählen, vom {first} bis zum {last}; der letzte ergibt {distance}.",
	"ledger.doubts.one":   "Ein weiterer ist zweifelhaft und zählt nicht.",
	"ledger.doubts.other": "{n} weitere sind zweifelhaft und zählen nicht.",
	"ledger.event":        "{date}: {name}.",
	"ledger.goes":         "Am {date} sind es wahrscheinlich {likely}.",
	"ledger.between":      "In {chance} von 100 Fällen liegt es dann zwischen {low} und {high}.",
	"ledger.due":          "{name} ist fällig bei {at}.",
	"ledger.caption":      "Stände, Geschehen am Instrument, Vorhersage und Grenzen von {vehicle}",
	"ledger.reading":      "Stand", "ledger.doubted": "zweifelhafter Stand", "ledger.forecast": "Vorhersage", "ledger.limited": "Grenze: {name}",
	"between": "zwischen {low} und {high}",
}
