package main

import (
	"fmt"
	"strings"

	"halfshaft/services/vehicle"
)

// home is where owners live and how they are told.
type home struct{ zone, unit, language, phone string }

// zones are where they live: six time zones.
var zones = []home{
	{zone: "Europe/London", language: "en-GB", phone: "+441632960%03d"}, {zone: "America/New_York", language: "en-US", phone: "+12025550%03d"},
	{zone: "Europe/London", language: "en-GB", phone: "+441632960%03d"}, {zone: "Australia/Sydney", unit: "km", language: "en-AU", phone: "+61255500%03d"},
	{zone: "Europe/Lisbon", unit: "km", language: "en-GB", phone: "+441632960%03d"}, {zone: "America/Phoenix", language: "en-US", phone: "+12025550%03d"},
	{zone: "Pacific/Auckland", unit: "km", language: "en-GB", phone: "+441632960%03d"},
}

var firstNames = []string{"Margaret", "Edwin", "Rosalind", "Tobias", "Agnes", "Hector", "Imogen", "Silas", "Beatrix", "Conrad", "Dorothea", "Fergus", "Helga", "Ivor", "Josephine", "Lambert"}

var lastNames = []string{"Harrowgate", "Penwithen", "Oakhampton", "Silverdale", "Thornbury-Vale", "Marchbank", "Underhill", "Wexcombe", "Ravenscar", "Fairweather", "Lowther-Finch", "Ashgrove"}

func (w *works) owners() {
	columns := []string{"id", "full name", "email", "phone", "postal lines", "language", "distance unit", "time zone", "contact from hour", "contact until hour"}
	tie := []string{"serial", "id", "person", "role", "notices", "start date", "end date"}
	serials := w.tables["builds"]
	silent := func(i int) bool { return stories[i] != nil && stories[i].noMail }
	add := func(id string, i int, name string) {
		p := zones[i%len(zones)]
		mail := strings.ToLower(strings.ReplaceAll(name, " ", ".")) + "@" + []string{"harbour.example", "moor.example", "seaside.example"}[i%3]
		if silent(i) {
			mail = ""
		}
		from, until := "", ""
		if i%9 == 4 {
			from, until = "17", "20" // answers after work only
		}
		w.add("people", cells{"id": id, "full name": name, "email": mail, "phone": fmt.Sprintf(p.phone, 100+i),
			"postal lines": fmt.Sprintf("%d Invented Row; Fictionbury", i+1), "language": p.language, "distance unit": p.unit, "time zone": p.zone,
			"contact from hour": from, "contact until hour": until}, columns...)
	}
	names := map[string]bool{}
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
		}
		names[name] = true
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
			w.add("ties", cells{"serial": serial, "person": executor, "role": "caretaker", "notices": "yes", "start date": s.executor.String()}, tie...)
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
