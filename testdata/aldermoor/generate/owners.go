package main

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
)

// home is where owners live and how they are told.
type home struct{ zone, unit, language, phone, name, mail string }

// zones are where they live: six time zones.
var zones = []home{
	{zone: "Europe/London", language: "en-GB", phone: "+441632960%03d"}, {zone: "America/New_York", language: "en-US", phone: "+12025550%03d"},
	{zone: "Europe/London", language: "en-GB", phone: "+441632960%03d"}, {zone: "Australia/Sydney", unit: "km", language: "en-AU", phone: "+61255500%03d"},
	{zone: "Europe/Lisbon", unit: "km", language: "en-GB", phone: "+441632960%03d"}, {zone: "America/Phoenix", language: "en-US", phone: "+12025550%03d"},
	{zone: "Pacific/Auckland", unit: "km", language: "en-GB", phone: "+441632960%03d"},
}

// elsewhere are owners who live in other places than their turn would have it:
// the German-speaking ones.
var elsewhere = map[int]home{
	11: {zone: "Europe/Berlin", unit: "km", language: "de-DE", phone: "+493023125%03d", name: "Annegret Wiesenthaler", mail: "annegret.wiesenthaler@harbour.example"},
	24: {zone: "Europe/Zurich", unit: "km", language: "de-CH", phone: "+493023125%03d", name: "Ruedi Habegger-Zwicky", mail: "ruedi.habegger@moor.example"},
	44: {zone: "Europe/Vienna", unit: "km", language: "de-AT", phone: "+493023125%03d", name: "Leopold Straßgütl", mail: "leopold.strassguetl@seaside.example"},
	59: {zone: "Europe/Berlin", unit: "km", language: "de-DE", phone: "+493023125%03d", name: "Jörn Kesselhake", mail: "joern.kesselhake@harbour.example"},
}

// habits are how some want to be told.
type habit struct {
	ways, formats, most string
	text                string // "yes": agreed to text messages; "no": refused, or took it back
	none                bool   // wants no service notices at all
}

var habits = map[int]habit{
	12: {ways: "text; mail", text: "yes"},
	16: {ways: "text; mail", text: "no"}, // asked for text messages, and thought better of it
	22: {ways: "mail; text; letter", text: "yes"},
	24: {formats: "de-CH"},
	29: {ways: "letter"},
	30: {ways: "mail", most: "1"},
	38: {none: true},
	44: {ways: "text; letter", text: "yes"},
	52: {ways: "letter; mail"},
	59: {ways: "text; mail; letter", text: "yes"},
}

// standing is what has become of some vehicles.
var standings = map[int]cells{
	14: {"state": "exported", "since date": "2024-05-01", "note": "customs papers, file 2024/31"},
	42: {"state": "scrapped", "since date": "2026-05-06", "note": "burnt out; report of the insurer, file 2026/77"},
}

// wordings are what people agreed to, as it stood there.
var wordings = map[string]string{
	"text/en":   "Aldermoor Works may send me service notices about my vehicle as text messages. I can stop them at any time by answering STOP.",
	"text/de":   "Aldermoor Works darf mir Wartungshinweise zu meinem Fahrzeug als SMS senden. Ich kann sie jederzeit beenden, indem ich mit STOP antworte.",
	"yearly/en": "Aldermoor Works may send me a letter at the end of each year with what was done on my vehicle.",
	"yearly/de": "Aldermoor Works darf mir am Jahresende einen Brief mit dem schicken, was an meinem Fahrzeug gemacht wurde.",
	"none/en":   "Please do not write to me about the service; I keep a diary of my own.",
}

func (w *works) consent(id string, said cells) {
	w.add("consents", said, "person", "id", "purpose", "way", "given", "wording", "language", "consent time", "source")
}

// said writes what an owner said about being written to.
func (w *works) said(id string, i int, language, delivered string) {
	h, at := habits[i], delivered+"T10:00:00Z"
	tongue := language[:2]
	if h.text != "" {
		w.consent(id, cells{"person": id, "id": "1", "purpose": "service", "way": "text", "given": "yes", "wording": wordings["text/"+tongue], "language": language, "consent time": at, "source": "paper"})
	}
	if h.text == "no" {
		w.consent(id, cells{"person": id, "id": "2", "purpose": "service", "way": "text", "given": "no", "wording": "STOP", "language": language, "consent time": "2025-03-02T18:20:00Z", "source": "text"})
	}
	if h.none {
		w.consent(id, cells{"person": id, "id": "1", "purpose": "service", "given": "no", "wording": wordings["none/"+tongue], "language": language, "consent time": "2024-09-14T08:30:00Z", "source": "message"})
	}
	if i%4 == 3 {
		w.consent(id, cells{"person": id, "id": "9", "purpose": "year letter", "given": "yes", "wording": wordings["yearly/"+tongue], "language": language, "consent time": at, "source": "paper"})
	}
}

// towns are where letters go, by language and country.
var towns = map[string]string{
	"en-GB": "Fictionbury; FB1 %dAA; United Kingdom", "en-US": "Fictionbury, NY 00%03d; United States", "en-AU": "Fictionbury NSW 0%03d; Australia",
	"de-DE": "00%03d Erfundingen; Deutschland", "de-CH": "0%03d Erfundigen; Schweiz", "de-AT": "0%03d Erfunding; Österreich",
}

// address is where a person lives, line by line.
func address(i int, p home) string {
	row := fmt.Sprintf("%d Invented Row", i+1)
	if strings.HasPrefix(p.language, "de") {
		row = fmt.Sprintf("Erdachte Zeile %d", i+1)
	}
	return row + "; " + fmt.Sprintf(towns[p.language], i%9+1)
}

var firstNames = []string{"Margaret", "Edwin", "Rosalind", "Tobias", "Agnes", "Hector", "Imogen", "Silas", "Beatrix", "Conrad", "Dorothea", "Fergus", "Helga", "Ivor", "Josephine", "Lambert"}

var lastNames = []string{"Harrowgate", "Penwithen", "Oakhampton", "Silverdale", "Thornbury-Vale", "Marchbank", "Underhill", "Wexcombe", "Ravenscar", "Fairweather", "Lowther-Finch", "Ashgrove"}

func homeOf(i int) home {
	if p, ok := elsewhere[i]; ok {
		return p
	}
	return zones[i%len(zones)]
}

func (w *works) owners() {
	columns := []string{"id", "full name", "email", "phone", "postal lines", "language", "distance unit", "time zone", "contact from hour", "contact until hour",
		"contact ways", "format locale", "most messages", "deceased date"}
	tie := []string{"serial", "id", "person", "role", "notices", "start date", "end date"}
	serials := w.tables["builds"]
	silent := func(i int) bool { return stories[i] != nil && stories[i].noMail }
	add := func(id string, i int, name string) {
		p := homeOf(i)
		mail := strings.ToLower(strings.ReplaceAll(name, " ", ".")) + "@" + []string{"harbour.example", "moor.example", "seaside.example"}[i%3]
		if p.name != "" {
			name, mail = p.name, p.mail
		}
		if silent(i) {
			mail = ""
		}
		from, until := "", ""
		if i%9 == 4 {
			from, until = "17", "20" // answers after work only
		}
		h, died := habits[i], ""
		if id != fmt.Sprintf("p%04d", i+1) {
			h = habit{} // somebody else about the vehicle
		} else if s := stories[i]; s != nil && s.executor != (vehicle.Date{}) {
			died = s.executor.AddDays(-12).String()
		}
		w.add("people", cells{"id": id, "full name": name, "email": mail, "phone": fmt.Sprintf(p.phone, 100+i),
			"postal lines": address(i, p), "language": p.language, "distance unit": p.unit, "time zone": p.zone,
			"contact from hour": from, "contact until hour": until, "contact ways": h.ways, "format locale": h.formats, "most messages": h.most,
			"deceased date": died}, columns...)
	}
	for i, row := range serials.rows {
		serial, delivered := row[0], row[len(serials.header)-1]
		name := firstNames[i%len(firstNames)] + " " + lastNames[(i*5+i/7)%len(lastNames)]
		id := fmt.Sprintf("p%04d", i+1)
		s := stories[i]
		switch {
		case s != nil && s.noOwner:
			continue
		case i == 40: // owns the vehicle before as well
			id = "p0040"
		case i == 50: // bears the name of another owner
			name = firstNames[0] + " " + lastNames[0]
			fallthrough
		default:
			add(id, i, name)
			w.said(id, i, homeOf(i).language, delivered)
		}
		if standing := standings[i]; standing != nil {
			standing["serial"] = serial
			w.add("standings", standing, "serial", "state", "since date", "note")
		}
		start, end := delivered, ""
		if s != nil && s.sold != (vehicle.Date{}) {
			buyer := fmt.Sprintf("p%04d", 200+i)
			add(buyer, i+3, firstNames[(i+5)%len(firstNames)]+" "+lastNames[(i+3)%len(lastNames)])
			w.add("ties", cells{"serial": serial, "person": buyer, "role": "owner", "notices": "yes", "start date": s.sold.String()}, tie...)
			end = s.sold.String()
		}
		if s != nil && s.executor != (vehicle.Date{}) {
			executor := fmt.Sprintf("p%04d", 200+i)
			add(executor, i+2, firstNames[(i+5)%len(firstNames)]+" "+lastNames[(i+3)%len(lastNames)])
			w.add("ties", cells{"serial": serial, "person": executor, "role": "executor", "notices": "yes", "start date": s.executor.String()}, tie...)
			end = s.executor.String()
		}
		w.add("ties", cells{"serial": serial, "person": id, "role": "owner", "notices": yes(s == nil || !s.payer), "start date": start, "end date": end}, tie...)
		if s != nil && s.payer {
			care, payer := fmt.Sprintf("p%04d", 300+i), fmt.Sprintf("p%04d", 400+i)
			add(care, i+1, firstNames[(i+9)%len(firstNames)]+" "+lastNames[(i+7)%len(lastNames)])
			add(payer, i+2, firstNames[(i+3)%len(firstNames)]+" "+lastNames[(i+9)%len(lastNames)])
			w.add("ties", cells{"serial": serial, "person": care, "role": "caretaker", "notices": "yes", "start date": start}, tie...)
			w.add("ties", cells{"serial": serial, "person": payer, "role": "payer", "notices": "no", "start date": start}, tie...)
		}
		if i%13 == 6 {
			care := fmt.Sprintf("p%04d", 300+i)
			add(care, i+1, firstNames[(i+9)%len(firstNames)]+" "+lastNames[(i+7)%len(lastNames)])
			w.add("ties", cells{"serial": serial, "person": care, "role": "caretaker", "notices": "no", "start date": start}, tie...)
		}
	}
}
