package figure_test

import (
	"fmt"
	"math"

	"halfshaft/services/internal/figure"
	"halfshaft/services/vehicle"
)

// sample is a figure of invented data, for goldens, checks and the contact
// sheet.
type sample struct {
	name string
	unit vehicle.Unit
	draw func(figure.Reader, figure.Layout) figure.Figure
}

// day reads a date.
func day(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func miles(n float64) vehicle.Distance {
	return vehicle.Distance(math.Round(n * float64(vehicle.Mile)))
}

// samples are the figures of vehicles like those of testdata/aldermoor, and
// those with nothing, one, much and long names.
func samples() []sample {
	var all []sample
	add := func(name string, unit vehicle.Unit, draw func(figure.Reader, figure.Layout) figure.Figure) {
		all = append(all, sample{name, unit, draw})
	}
	add("ledger", vehicle.Miles, alpha().Figure)
	add("ledger-km", vehicle.Kilometres, alpha().Figure)
	add("ledger-long", vehicle.Miles, longLedger().Figure)
	add("ledger-one", vehicle.Miles, oneReading().Figure)
	add("ledger-none", vehicle.Miles, figure.Ledger{Vehicle: "AM0149T", Today: day("2026-11-27")}.Figure)
	add("visits", vehicle.Miles, plannedVisits().Figure)
	add("visits-crowded", vehicle.Miles, crowdedVisits().Figure)
	add("visits-none", vehicle.Miles, figure.Visits{Vehicle: "AM0149T", Today: day("2026-11-27")}.Figure)
	add("measured", vehicle.Miles, wearingShaft().Figure)
	add("measured-distance", vehicle.Miles, reshimmed().Figure)
	add("measured-one", vehicle.Miles, oneTread().Figure)
	add("measured-none", vehicle.Miles, figure.Measured{Name: "Output shaft bearing of AM0149T", Unit: "mm", Decimals: 2}.Figure)
	add("speed", vehicle.Miles, tallerTyres().Figure)
	add("speed-km", vehicle.Kilometres, tallerTyres().Figure)
	add("speed-none", vehicle.Miles, figure.Speedometer{Vehicle: "AM0149T"}.Figure)
	add("gears", vehicle.Miles, eightGears().Figure)
	add("gears-long", vehicle.Kilometres, twoGears().Figure)
	add("gears-none", vehicle.Miles, figure.RoadSpeeds{Vehicle: "AM0149T"}.Figure)
	add("completion", vehicle.Miles, campaign().Figure)
	add("completion-none", vehicle.Miles, figure.Completion{Name: "C-2026-03"}.Figure)
	add("load", vehicle.Miles, weeklyLoad(26, 6).Figure)
	add("load-year", vehicle.Miles, weeklyLoad(104, 0).Figure)
	add("load-one", vehicle.Miles, weeklyLoad(1, 2).Figure)
	add("load-none", vehicle.Miles, weeklyLoad(0, 0).Figure)
	return all
}

// plannedVisits is the plan of AM0147P, which is laid up every winter.
func plannedVisits() figure.Visits {
	return figure.Visits{
		Vehicle: "AM0147P", Today: day("2026-11-27"),
		Visits: []figure.Visit{
			{On: day("2027-04-12"), Items: []string{"engine oil and filter", "coolant", "brake fluid", "valve clearances", "swivel housing grease", "tyre pressures"}},
			{On: day("2027-10-04"), Items: []string{"axle oils"}, Note: "before it is put away"},
			{On: day("2028-04-18"), Items: []string{"engine oil and filter", "brake linings", "propeller shaft joints"}},
		},
		LayUps: []figure.Span{{From: day("2026-11-10"), To: day("2027-03-31")}, {From: day("2027-11-10"), To: day("2028-03-31")}},
	}
}

// crowdedVisits has visits within days of each other.
func crowdedVisits() figure.Visits {
	v := figure.Visits{Vehicle: "the long-wheelbase carrier of the mountain rescue at Lower Aldermoor", Today: day("2026-02-28")}
	for i := range 14 {
		on := day("2026-03-02").AddDays(i * i * 4)
		v.Visits = append(v.Visits, figure.Visit{On: on, Items: make([]string, 1+i*3)})
		for n := range v.Visits[i].Items {
			v.Visits[i].Items[n] = fmt.Sprintf("item %d", n+1)
		}
	}
	return v
}

// alpha is the ledger of AM0147P as the demo has it, with a doubtful reading
// and a change of its instrument.
func alpha() figure.Ledger {
	l := figure.Ledger{Vehicle: "AM0147P", Today: day("2026-11-27"), Chance: 80}
	for _, r := range []struct {
		on string
		mi float64
	}{
		{"2022-05-17", 33}, {"2023-01-02", 417}, {"2023-10-04", 801}, {"2024-04-18", 801},
		{"2025-01-27", 1185}, {"2025-07-22", 1397}, {"2025-12-24", 1569}, {"2026-04-14", 1569},
	} {
		l.Readings = append(l.Readings, figure.Reading{On: day(r.on), Distance: miles(r.mi), Shown: fmt.Sprintf("%.0f miles", r.mi)})
	}
	l.Readings = append(l.Readings, figure.Reading{
		On: day("2024-09-02"), Distance: miles(9950), Shown: "9950 miles", Doubtful: true, Note: "8,765 miles more than the next reading",
	})
	l.Events = []figure.InstrumentEvent{{On: day("2024-04-18"), Name: "new instrument", Note: "replaced at the works, set to 801 miles"}}
	l.Forecast = fan(day("2026-11-27"), miles(1860), 24, 420)
	l.Limits = []figure.DistanceLimit{
		{At: miles(2500), Name: "Engine oil and filter"}, {At: miles(3033), Name: "Swivel housing grease"}, {At: miles(3033), Name: "Brake linings"},
	}
	return l
}

// fan is a forecast by month.
func fan(from vehicle.Date, start vehicle.Distance, months int, perYear float64) []figure.FanPoint {
	var all []figure.FanPoint
	for m := range months + 1 {
		years := float64(m) / 12
		likely := start + miles(perYear*years)
		all = append(all, figure.FanPoint{
			On: from.AddMonths(m), Likely: likely, Low: start + miles(0.6*perYear*years), High: start + miles(1.5*perYear*years),
		})
	}
	return all
}

// longLedger is a life of 200 readings over a roll-over and two instruments.
func longLedger() figure.Ledger {
	l := figure.Ledger{Vehicle: "AM01052", Today: day("2026-11-27"), Chance: 80}
	on, at := day("1998-03-02"), 0.0
	for i := range 200 {
		at += 260 + 240*math.Sin(float64(i)*1.7)
		l.Readings = append(l.Readings, figure.Reading{On: on, Distance: miles(at), Shown: fmt.Sprintf("%05.0f miles", math.Mod(at, 100_000)), Doubtful: i%41 == 40})
		on = on.AddDays(35 + i%31)
	}
	l.Events = []figure.InstrumentEvent{
		{On: day("2004-06-11"), Name: "new instrument"}, {On: day("2004-08-02"), Name: "instrument changed back after its repair"},
		{On: day("2019-10-30"), Name: "rolled over"},
	}
	l.Forecast = fan(day("2026-11-27"), miles(at+1200), 24, 2900)
	for i, name := range []string{
		"Engine oil and filter", "Gearbox oil, transfer box oil and both differentials", "Valve clearances", "Propeller shaft joints",
	} {
		l.Limits = append(l.Limits, figure.DistanceLimit{At: miles(at + 900 + float64(i)*1500), Name: name})
	}
	return l
}

func oneReading() figure.Ledger {
	return figure.Ledger{
		Vehicle: "AM0148R", Today: day("2026-11-27"), Chance: 80,
		Readings: []figure.Reading{{On: day("2026-09-01"), Distance: miles(12), Shown: "12 miles"}},
		Limits:   []figure.DistanceLimit{{At: miles(500), Name: "First service"}},
	}
}
