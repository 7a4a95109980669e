package reminderwords

import (
	"bytes"
	"io/fs"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"go.yaml.in/yaml/v3"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
	"halfshaft/testdata/aldermoor"
)

// The letters that tests print. Names and numbers are invented; telephone
// numbers are from the range Ofcom keeps for drama, 01632 960000 to 960999
// (from memory).

var works = Works{
	Name: "Aldermoor Works", From: "service@aldermoor.example", ReplyTo: "workshop@aldermoor.example",
	Phone: "+44 1632 960983", UnsubscribeMail: "stop@aldermoor.example",
	Postal: []string{"Aldermoor Works", "1 Invented Row", "Fictionbury"},
}

// token is as long as the token of a link about one notice.
const token = "AQAAAAFvAAECAwQFBgcIAAAAAGjdeABBTTAxNDdQLnAwMDMxLjEuRTAxLjIwMjYtMDUtMDEuZWFybHkubWFpbABCDEFGHIJKLMNOPQRSTUV"

func allLinks() Links {
	at := func(purpose string) string { return "https://owners.aldermoor.example/l/" + purpose + token }
	return Links{
		Schedule: at("s"), Odometer: at("o"), Booked: at("b"), Snooze: at("z"), Done: at("d"), Stop: at("u"),
		Transfer: at("t"), Calendar: at("c"),
	}
}

func renderer(t testing.TB, over fs.FS) *Renderer {
	t.Helper()
	if over == aldermoorWords {
		r, err := demoRenderer()
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	r, err := New(over)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// aldermoorWords are the demo works' own words; its renderer is made once.
var (
	aldermoorWords = aldermoor.Words()
	demoRenderer   = sync.OnceValues(func() (*Renderer, error) { return New(withCampaigns(aldermoorWords)) })
)

func day(y int, m time.Month, d int) vehicle.Date { return vehicle.MustDate(y, m, d) }

func quantity(text string) vehicle.Quantity {
	q, err := vehicle.ParseQuantity(text)
	if err != nil {
		panic(err)
	}
	return q
}

func zone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		panic(err)
	}
	return z
}

func serial(body string) vehicle.Serial {
	s, err := vehicle.NewSerial(body)
	if err != nil {
		panic(err)
	}
	return s
}

func fact(name, value string) vehicle.Fact { return vehicle.Fact{Name: name, Value: value} }

// inTime is a time limb that decides, counted from the last time it was done.
func inTime(done, due vehicle.Date, months, driven, interval string) []vehicle.Reason {
	return []vehicle.Reason{
		{Rule: "TIME_LIMB_FIRST", Sentence: "An English sentence.", Facts: []vehicle.Fact{
			fact("due_date", due.String()), fact("counted_from", done.String()), fact("interval_months", months),
			fact("driven", driven), fact("interval_distance", interval),
		}},
		{Rule: "LAST_DONE", Sentence: "Another.", Facts: []vehicle.Fact{fact("date", done.String())}},
	}
}

// programmeItems are the items of the demo works' programme.
func programmeItems(t testing.TB) []reminder.Item {
	t.Helper()
	items, err := readItems()
	if err != nil {
		t.Fatal(err)
	}
	return slices.Clone(items)
}

var readItems = sync.OnceValues(func() ([]reminder.Item, error) {
	var file struct {
		Items []struct {
			ID       string `yaml:"item_id"`
			Title    string
			Why      string
			Caution  string
			Position string
			Owner    bool `yaml:"owner_check"`
			Tools    []string
			Fluid    struct {
				Fluid, Quantity string
				NeverMix        string `yaml:"never_mix"`
			}
			Measured []struct{ Characteristic, Unit, Lower, Upper, Action, Method string }
			Parts    []struct {
				Position string
				Quantity int
				IfNeeded bool `yaml:"if_needed"`
			}
		}
	}
	text, err := aldermoor.Files.ReadFile("programmes/packhorse.v2.yaml")
	if err != nil {
		return nil, err
	}
	if err := yaml.NewDecoder(bytes.NewReader(text)).Decode(&file); err != nil {
		return nil, err
	}
	var items []reminder.Item
	for n, f := range file.Items {
		i := reminder.Item{
			ID: f.ID, Cycle: f.ID + ".2026-05-01", Title: f.Title, Why: f.Why, Caution: f.Caution, Tools: f.Tools, OwnerCheck: f.Owner,
			ActBy: day(2027, time.May, 1).AddDays(n % 20), LastDone: day(2026, time.May, 1), Reasons: inTime(day(2026, time.May, 1), day(2027, time.May, 1), "12", "180 miles", "3,000 miles"),
		}
		if f.Fluid.Fluid != "" {
			i.Fluid = &reminder.Fluid{Name: f.Fluid.Fluid, Quantity: quantity(f.Fluid.Quantity), NeverMix: f.Fluid.NeverMix}
		}
		for _, m := range f.Measured {
			i.Measured = append(i.Measured, reminder.Measure(m))
		}
		for _, p := range f.Parts {
			i.Parts = append(i.Parts, reminder.PartNeed{Position: p.Position, Quantity: p.Quantity, IfNeeded: p.IfNeeded})
		}
		items = append(items, i)
	}
	return items, nil
})

// item gives an item of the demo works' programme.
func item(t testing.TB, id string) reminder.Item {
	t.Helper()
	for _, i := range programmeItems(t) {
		if i.ID == id {
			return i
		}
	}
	t.Fatalf("the programme has no item %s", id)
	return reminder.Item{}
}

// titles are what the catalogue calls some parts.
var titles = map[string]string{
	"oil-filter": "Oil filter, element", "fan-belt": "Fan belt", "output-shaft-bearing": "Re-shim kit, output shaft",
	"battery": "Battery, agm", "tyres": "Tyre", "fuel-hoses": "Fuel hose set, rubber",
}

// letter is a letter about some items, for a reader of miles in Britain.
func letter(stage reminder.Stage, items ...reminder.Item) Letter {
	l := Letter{
		Works: works, Links: allLinks(),
		Draft: reminder.Draft{
			Vehicle: reminder.Vehicle{Serial: serial("AM0147"), Sample: true, Unit: vehicle.Miles, Estimated: 11_410 * vehicle.Mile, LastReading: day(2026, time.November, 2)},
			To: reminder.Recipient{
				Person: "p0031", Name: "Margaret Hale", Address: "margaret.hale@harbour.example", Language: "en-GB",
				Unit: vehicle.Miles, Zone: zone("Europe/London"), Role: "owner",
			},
			Channel: reminder.Mail, Stage: stage,
		},
		MessageID: "<0123456789abcdef0123456789abcdef@aldermoor.example>",
		Time:      time.Date(2027, time.April, 1, 9, 12, 0, 0, time.UTC),
		Parts:     map[string][]Part{},
	}
	for _, i := range items {
		l.Draft.Lines = append(l.Draft.Lines, reminder.Line{Item: i, Stage: stage})
		for _, need := range i.Parts {
			l.Parts[i.Cycle] = append(l.Parts[i.Cycle], Part{Number: "AP-1107", Title: titles[need.Position], Position: need.Position, Quantity: need.Quantity, IfNeeded: need.IfNeeded})
		}
	}
	return l
}

// earlyOil is one item in good time.
func earlyOil(t testing.TB) Letter {
	oil := item(t, "E01")
	oil.DueDistance = 14_230 * vehicle.Mile
	l := letter(reminder.Early, oil)
	l.Draft.Vehicle.Sample = false
	l.Parts[oil.Cycle] = append(l.Parts[oil.Cycle], Part{Number: "AP-1108", Title: "Fan belt", Position: "fan-belt", Quantity: 1, GoesWith: true})
	return l
}

// dueVisit is five items on their day, one of which an event started.
func dueVisit(t testing.TB) Letter {
	nuts, fluid, float, belt, oil := item(t, "W01"), item(t, "B01"), item(t, "T02"), item(t, "E08R"), item(t, "E01")
	nuts.ActBy, nuts.NotBefore, nuts.Class = day(2027, time.April, 9), day(2027, time.April, 3), reminder.Settling
	nuts.Reasons = []vehicle.Reason{
		{Rule: "TIME_LIMB_ONLY", Facts: []vehicle.Fact{fact("due_date", "2027-04-09"), fact("counted_from", "2027-03-29"), fact("interval_days", "11")}},
		{Rule: "STARTED_BY_EVENT", Facts: []vehicle.Fact{fact("date", "2027-03-29"), fact("event", "a wheel was refitted")}},
	}
	fluid.ActBy, fluid.Class = day(2027, time.April, 1), reminder.Vital
	fluid.Reasons = []vehicle.Reason{
		{Rule: "TIME_LIMB_ONLY", Facts: []vehicle.Fact{fact("due_date", "2027-04-01"), fact("counted_from", "2025-04-01"), fact("interval_months", "24")}},
		{Rule: "LAST_DONE", Facts: []vehicle.Fact{fact("date", "2025-04-01")}},
	}
	float.ActBy = day(2027, time.April, 20)
	float.Reasons = []vehicle.Reason{
		{Rule: "DISTANCE_LIMB_FIRST", Facts: []vehicle.Fact{
			fact("due_date", "2027-04-20"), fact("counted_from", "2026-10-10"), fact("driven", "420 miles"), fact("interval_distance", "500 miles"),
			fact("per_year", "840 miles"), fact("time_due_date", "2027-10-10"),
		}},
		{Rule: "COUNTED_FROM_FITTING", Facts: []vehicle.Fact{fact("date", "2026-10-10"), fact("position", "output-shaft-bearing"), fact("bedding_in", "yes")}},
		{Rule: "SEVERE_USE", Facts: []vehicle.Fact{fact("use", "salt coast and dust")}},
		{Rule: "DISTANCE_FORECAST", Facts: []vehicle.Fact{fact("due_distance", "11,490 miles"), fact("early", "2027-04-10"), fact("late", "2027-06-30")}},
		{Rule: "PACE_FROM_READINGS", Facts: []vehicle.Fact{fact("readings", "4")}},
	}
	l := letter(reminder.Due, fluid, nuts, float, belt, oil)
	l.Draft.To.Role = "caretaker"
	return l
}

// overdue is what has been overdue for long, for a reader of kilometres whose
// dates begin with the month.
func overdue(t testing.TB) Letter {
	fluid, float := item(t, "B01"), item(t, "T02")
	fluid.ActBy, fluid.Class = day(2027, time.January, 10), reminder.Vital
	float.ActBy = day(2027, time.January, 30)
	l := letter(reminder.Overdue, fluid, float)
	l.Draft.Lines[1].Stage = reminder.Due
	l.Draft.To = reminder.Recipient{
		Person: "p0044", Name: "José Ångström-Okafor", Address: "jose@shore.example", Language: "en-US",
		Unit: vehicle.Kilometres, Zone: zone("America/New_York"), Role: "payer",
	}
	l.Links = Links{Stop: l.Links.Stop} // a payer can do no more by a link
	return l
}

// last is the second overdue notice.
func last(t testing.TB) Letter {
	l := overdue(t)
	l.Draft.Stage = reminder.SecondOverdue
	l.Draft.Lines[0].Stage = reminder.SecondOverdue
	l.Draft.To.Role = "executor"
	return l
}

// seasonal is work that waits for the vehicle to come out.
func seasonal(t testing.TB) Letter {
	road, belt := item(t, "Z03"), item(t, "E08R")
	out := day(2027, time.May, 15)
	for _, i := range []*reminder.Item{&road, &belt} {
		i.ActBy, i.MovedTo, i.Class = out, out, reminder.Seasonal
	}
	belt.Reasons = append(inTime(day(2023, time.January, 20), day(2027, time.January, 20), "48", "1,310 miles", "12,000 miles"),
		vehicle.Reason{Rule: "LAY_UP", Facts: []vehicle.Fact{fact("lay_up_from", "2026-10-20"), fact("lay_up_to", "2027-05-14"), fact("act_by", "2027-05-15")}})
	road.Reasons = []vehicle.Reason{
		{Rule: "TIME_LIMB_ONLY", Facts: []vehicle.Fact{fact("due_date", "2027-05-15"), fact("counted_from", "2027-05-15"), fact("interval_days", "0")}},
		{Rule: "STARTED_BY_EVENT", Facts: []vehicle.Fact{fact("date", "2027-05-15"), fact("event", "the return from the lay-up")}},
	}
	l := letter(reminder.Early, road, belt)
	l.Draft.Season = reminder.Season{Kind: reminder.Recommissioning, Day: out}
	return l
}

// away is work for before the vehicle is put away.
func away(t testing.TB) Letter {
	oil := item(t, "E01")
	oil.ActBy, oil.Class = day(2027, time.May, 9), reminder.Seasonal
	oil.Reasons = append(oil.Reasons, vehicle.Reason{Rule: "LAY_UP", Facts: []vehicle.Fact{fact("lay_up_from", "2027-05-10"), fact("act_by", "2027-05-09")}})
	l := letter(reminder.Early, oil)
	l.Draft.Season = reminder.Season{Kind: reminder.PuttingAway, Day: day(2027, time.May, 10)}
	return l
}

// askReading is a request for a reading and nothing else.
func askReading(testing.TB) Letter {
	return letter(reminder.Early, reminder.Item{
		ID: "READ", Cycle: "READ.2026-11-02", Title: "Report what the odometer shows", ActBy: day(2027, time.April, 1), Reading: true,
		Reasons: []vehicle.Reason{{Rule: "READING_WORTH_ASKING", Facts: []vehicle.Fact{
			fact("item", "E01"), fact("title", "Engine oil and filter"), fact("early", "2027-03-01"), fact("late", "2027-08-01"), fact("last_reading", "2026-11-02"),
		}}},
	})
}

// wholeYear is the letter at the year's end.
func wholeYear(testing.TB) Letter {
	l := letter(reminder.Early, reminder.Item{ID: "YEAR", Cycle: "YEAR.2026", Year: 2026})
	l.Draft.Purpose = reminder.YearLetter
	l.Time = time.Date(2026, time.December, 12, 10, 0, 0, 0, time.UTC)
	entered := func(text string) vehicle.Entered {
		value, err := vehicle.ParseDecimal(text)
		if err != nil {
			panic(err)
		}
		return vehicle.Entered{Value: value, Unit: vehicle.Miles}
	}
	l.Year = &Year{
		Year: 2026, Driven: 1_310 * vehicle.Mile,
		Readings: []Reading{{day(2026, time.March, 2), entered("10100")}, {day(2026, time.November, 2), entered("11410")}},
		Works: []Work{
			{day(2026, time.May, 1), "E01", "Engine oil and filter", "Harbour Garage"},
			{day(2026, time.October, 10), "T02", "Output-shaft end-float and re-shim check", ""},
		},
		Measured: []Change{
			{Characteristic: "end-float", Position: "transfer-case", Unit: "mm", Before: "0.12", Now: "0.09", BeforeDate: day(2024, time.May, 3), NowDate: day(2026, time.October, 10), Lower: "0.05", Upper: "0.15"},
			{Characteristic: "rest-voltage", Unit: "V", Now: "12.7", NowDate: day(2026, time.May, 1), Lower: "12.6"},
		},
		Next: []Coming{{"B01", "Brake fluid change (DOT 4)", day(2027, time.April, 1)}, {"E01", "Engine oil and filter", day(2027, time.May, 1)}},
	}
	return l
}

var letters = map[string]func(testing.TB) Letter{
	"early": earlyOil, "due": dueVisit, "overdue": overdue, "last": last, "season": seasonal, "away": away, "reading": askReading, "year": wholeYear,
	"campaign": campaign, "stop": stopUse, "handbook": handbook,
}

// inGerman is a letter for a reader in Germany.
func inGerman(l Letter) Letter {
	l.Draft.To.Language, l.Draft.To.Unit, l.Draft.To.Zone = "de-DE", vehicle.Kilometres, zone("Europe/Berlin")
	l.Draft.To.Name = "Jürgen Weiß"
	return l
}

// many is forty items, with names that are as long as names can be.
func many(t testing.TB, n int) Letter {
	var items []reminder.Item
	for _, i := range programmeItems(t) {
		if !i.OwnerCheck && len(items) < n {
			i.Title = strings.TrimSuffix(i.Title, ".")
			items = append(items, i)
		}
	}
	l := letter(reminder.Due, items...)
	l.Draft.To.Name = "Wolfeschlegelsteinhausenbergerdorff-" + strings.Repeat("Featherstonehaugh", 5)
	l.Draft.To.Language = "en-GB"
	return l
}
