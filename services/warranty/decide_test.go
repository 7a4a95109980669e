package warranty_test

import (
	"strings"
	"testing"
	"time"

	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

func day(text string) vehicle.Date {
	d, err := vehicle.ParseDate(text)
	if err != nil {
		panic(err)
	}
	return d
}

func miles(n int) vehicle.Distance { return vehicle.Distance(n) * vehicle.Mile }

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// works is the works' own term with a limit of distance added, so that both
// limbs can be met.
func works() Term {
	t := StandardTerm(day("2020-01-01"))
	t.Distance = miles(12000)
	return t
}

// supplier is a term for one part, from its fitting, for the first owner only.
func supplier() Term {
	return Term{
		ID: "BROOKFORD-24", Version: 1, Title: "Two years on transfer cases", Giver: Supplier, Supplier: "Brookford Gears",
		Parts: []string{"AP-3100"}, Start: FromFitting, Months: 24, CoversParts: true, Effective: day("2020-01-01"), Sample: true,
	}
}

// question is about the transfer case of a vehicle that was delivered on 3 March
// 2026 with ten miles on it.
func question() *Question {
	return &Question{
		Facts: Facts{
			Serial: "AM0147P", Release: "R3", Delivered: day("2026-03-03"), DeliveredAt: True(miles(10)),
			Built: day("2026-02-10"), BuiltAt: True(0),
		},
		Terms: []Term{works()}, Position: "transfer-case", Unit: &Unit{Part: "AP-3100", Source: SourceBuild},
		On: day("2026-09-01"), Distance: True(miles(500)),
	}
}

func TestCoverAtItsBoundaries(t *testing.T) {
	repaired := func(q *Question, date string, at int) {
		q.Facts.Repairs = []Repair{{Position: "transfer-case", Date: day(date), At: True(miles(at)), Term: TermName("WORKS-12", 1), Record: "vehicles/AM0147P/claims/1"}}
	}
	out := func(q *Question, spans ...[2]string) {
		for _, s := range spans {
			span := Span{Start: day(s[0]), Counts: true}
			if s[1] != "" {
				span.End = day(s[1])
			}
			q.Facts.Spans = append(q.Facts.Spans, span)
		}
	}
	for name, c := range map[string]struct {
		change func(*Question)
		state  State
		last   string // of the term that decides
		rule   string // of the first reason
	}{
		"in the middle of the year":               {func(*Question) {}, Covered, "2027-03-03", "COVERED"},
		"the day before delivery":                 {func(q *Question) { q.On = day("2026-03-02") }, NotCovered, "2027-03-03", "NOT_STARTED"},
		"the day of delivery":                     {func(q *Question) { q.On = day("2026-03-03") }, Covered, "2027-03-03", "COVERED"},
		"the last day":                            {func(q *Question) { q.On = day("2027-03-03") }, Covered, "2027-03-03", "COVERED"},
		"the day after the last":                  {func(q *Question) { q.On = day("2027-03-04") }, NotCovered, "2027-03-03", "TIME_OVER"},
		"delivered on a leap day, on 28 February": {func(q *Question) { q.Facts.Delivered, q.On = day("2024-02-29"), day("2025-02-28") }, Covered, "2025-02-28", "COVERED"}, // O-21: LocalDate.plusYears (java.time)
		"delivered on a leap day, on 1 March":     {func(q *Question) { q.Facts.Delivered, q.On = day("2024-02-29"), day("2025-03-01") }, NotCovered, "2025-02-28", "TIME_OVER"},
		"four years from a leap day, on a leap day": {func(q *Question) {
			q.Terms[0].Months, q.Facts.Delivered, q.On = 48, day("2024-02-29"), day("2028-02-29")
		}, Covered, "2028-02-29", "COVERED"}, // O-21, computed
		"delivered on 28 February before a leap year": {func(q *Question) { q.Facts.Delivered, q.On = day("2027-02-28"), day("2028-02-29") }, NotCovered, "2028-02-28", "TIME_OVER"},
		"one month from 31 March": {func(q *Question) {
			q.Terms[0].Months, q.Facts.Delivered, q.On = 1, day("2027-03-31"), day("2027-04-30")
		}, Covered, "2027-04-30", "COVERED"}, // O-20

		"at the limit of distance":                  {func(q *Question) { q.Distance = True(miles(12010)) }, Covered, "2027-03-03", "COVERED"},
		"a millimetre over the limit":               {func(q *Question) { q.Distance = True(miles(12010) + 1) }, NotCovered, "2027-03-03", "DISTANCE_OVER"},
		"distance not known":                        {func(q *Question) { q.Distance = TrueDistance{} }, Unknown, "2027-03-03", "DISTANCE_UNKNOWN"},
		"distance not known, time over":             {func(q *Question) { q.Distance, q.On = TrueDistance{}, day("2027-03-04") }, NotCovered, "2027-03-03", "TIME_OVER"},
		"distance not known and no matter":          {func(q *Question) { q.Distance, q.Terms[0].Distance = TrueDistance{}, 0 }, Covered, "2027-03-03", "COVERED"},
		"start distance not known, less run in all": {func(q *Question) { q.Facts.DeliveredAt, q.Distance = TrueDistance{}, True(miles(12000)) }, Covered, "2027-03-03", "COVERED"},
		"start distance not known, more run in all": {func(q *Question) { q.Facts.DeliveredAt, q.Distance = TrueDistance{}, True(miles(12000)+1) }, Unknown, "2027-03-03", "START_DISTANCE_UNKNOWN"},
		"no end":                {func(q *Question) { q.Terms[0].Months, q.Terms[0].Distance, q.On = 0, 0, day("2060-01-01") }, Covered, "", "COVERED"},
		"still at the works":    {func(q *Question) { q.Facts.Delivered, q.Facts.AtWorks = vehicle.Date{}, true }, NotCovered, "", "NOT_STARTED"},
		"delivery not recorded": {func(q *Question) { q.Facts.Delivered = vehicle.Date{} }, Unknown, "", "START_UNKNOWN"},
		"no day":                {func(q *Question) { q.On = vehicle.Date{} }, Unknown, "", "DAY_UNKNOWN"},

		"one day out of service, on the day it added": {func(q *Question) { out(q, [2]string{"2026-05-05", "2026-05-05"}); q.On = day("2027-03-04") }, Covered, "2027-03-04", "COVERED"},
		"and the day after":                           {func(q *Question) { out(q, [2]string{"2026-05-05", "2026-05-05"}); q.On = day("2027-03-05") }, NotCovered, "2027-03-04", "TIME_OVER"},
		"both ends of a time count":                   {func(q *Question) { out(q, [2]string{"2026-05-05", "2026-05-14"}) }, Covered, "2027-03-13", "COVERED"},
		"times that overlap count once": {func(q *Question) {
			out(q, [2]string{"2026-05-05", "2026-05-14"}, [2]string{"2026-05-10", "2026-05-16"})
		}, Covered, "2027-03-15", "COVERED"},
		"one time within another": {func(q *Question) {
			out(q, [2]string{"2026-05-05", "2026-05-14"}, [2]string{"2026-05-07", "2026-05-08"})
		}, Covered, "2027-03-13", "COVERED"},
		"times that touch": {func(q *Question) {
			out(q, [2]string{"2026-05-15", "2026-05-16"}, [2]string{"2026-05-05", "2026-05-14"})
		}, Covered, "2027-03-15", "COVERED"},
		"days before delivery do not count":                  {func(q *Question) { out(q, [2]string{"2026-03-01", "2026-03-04"}) }, Covered, "2027-03-05", "COVERED"},
		"a time over the last day goes on in what was added": {func(q *Question) { out(q, [2]string{"2027-03-02", "2027-03-11"}); q.On = day("2027-03-13") }, Covered, "2027-03-13", "COVERED"},
		"a time after the last day adds nothing":             {func(q *Question) { out(q, [2]string{"2027-03-04", "2027-03-11"}); q.On = day("2027-03-04") }, NotCovered, "2027-03-03", "TIME_OVER"},
		"a time that lasts counts up to the day":             {func(q *Question) { out(q, [2]string{"2026-08-23", ""}) }, Covered, "2027-03-13", "COVERED"},
		"a time that was not for a covered fault":            {func(q *Question) { out(q, [2]string{"2026-05-05", "2026-05-14"}); q.Facts.Spans[0].Counts = false }, Covered, "2027-03-03", "COVERED"},
		"a term that is not extended":                        {func(q *Question) { out(q, [2]string{"2026-05-05", "2026-05-14"}); q.Terms[0].ExtendedByDaysOut = false }, Covered, "2027-03-03", "COVERED"},

		"repaired early: the rest is longer":        {func(q *Question) { repaired(q, "2026-05-01", 200); q.On = day("2027-03-03") }, Covered, "2027-03-03", "COVERED"},
		"repaired late, on the last day of its own": {func(q *Question) { repaired(q, "2027-02-10", 900); q.On = day("2027-05-10") }, Covered, "2027-05-10", "COVERED_REPAIR"},
		"repaired late, the day after":              {func(q *Question) { repaired(q, "2027-02-10", 900); q.On = day("2027-05-11") }, NotCovered, "2027-05-10", "TIME_OVER"},
		"repaired late at another position": {func(q *Question) {
			repaired(q, "2027-02-10", 900)
			q.Facts.Repairs[0].Position, q.On = "gearbox", day("2027-05-10")
		}, NotCovered, "2027-03-03", "TIME_OVER"},
		"repaired late under another term": {func(q *Question) {
			repaired(q, "2027-02-10", 900)
			q.Facts.Repairs[0].Term, q.On = "warrantyTerms/OTHER/versions/1", day("2027-05-10")
		}, NotCovered, "2027-03-03", "TIME_OVER"},
		"repaired, and another unit fitted since": {func(q *Question) {
			repaired(q, "2027-02-10", 900)
			q.Unit.Fitted, q.Unit.Source, q.On = day("2027-02-11"), SourceService, day("2027-05-10")
		}, NotCovered, "2027-03-03", "TIME_OVER"},
		"repaired with the rest only": {func(q *Question) {
			repaired(q, "2027-02-10", 900)
			q.Terms[0].Repair, q.On = RepairTerm{}, day("2027-03-04")
		}, NotCovered, "2027-03-03", "TIME_OVER"},
		"repaired, at the limit of its own distance": {func(q *Question) {
			repaired(q, "2027-02-10", 900)
			q.Terms[0].Repair.Distance, q.On, q.Distance = miles(1000), day("2027-04-01"), True(miles(1900))
		}, Covered, "2027-05-10", "COVERED_REPAIR"},
		"repaired, over the limit of its own distance": {func(q *Question) {
			repaired(q, "2027-02-10", 900)
			q.Terms[0].Repair.Distance, q.On, q.Distance = miles(1000), day("2027-04-01"), True(miles(1900)+1)
		}, NotCovered, "2027-05-10", "DISTANCE_OVER"},
		"a replaced part in the year of its replacement": {func(q *Question) { q.Unit.Fitted, q.Unit.Source = day("2026-05-01"), SourceService }, Covered, "2027-03-03", "COVERED"},

		"sold on, and the term goes along": {func(q *Question) { q.Facts.OwnerChanges = []vehicle.Date{day("2026-06-01")} }, Covered, "2027-03-03", "COVERED"},
		"sold on, and it does not, on the last day before": {func(q *Question) {
			q.Terms[0].Transferable, q.Facts.OwnerChanges, q.On = false, []vehicle.Date{day("2026-06-01")}, day("2026-05-31")
		}, Covered, "2026-05-31", "COVERED"},
		"sold on, and it does not, on the day": {func(q *Question) {
			q.Terms[0].Transferable, q.Facts.OwnerChanges, q.On = false, []vehicle.Date{day("2026-06-01")}, day("2026-06-01")
		}, NotCovered, "2026-05-31", "OWNER_CHANGED"},
		"whose it is is not known, and the term goes along": {func(q *Question) { q.Facts.OwnersUnknown = true }, Covered, "2027-03-03", "COVERED"},
		"whose it is is not known, and it does not":         {func(q *Question) { q.Facts.OwnersUnknown, q.Terms[0].Transferable = true, false }, Unknown, "2027-03-03", "OWNER_UNKNOWN"},
		"whose it is is not known, and the time is over": {func(q *Question) {
			q.Facts.OwnersUnknown, q.Terms[0].Transferable, q.On = true, false, day("2027-03-04")
		}, NotCovered, "2027-03-03", "TIME_OVER"},
		"the owner's own modification":             {func(q *Question) { q.Unit.Source = SourceOwner }, NotCovered, "", "OWNERS_PART"},
		"the owner's own, which the term names":    {func(q *Question) { q.Unit.Source, q.Terms[0].Parts = SourceOwner, []string{"AP-3100"} }, Covered, "2027-03-03", "COVERED"},
		"an exclusion that was found":              {func(q *Question) { q.Exclusions = []string{"wear"} }, NotCovered, "2027-03-03", "EXCLUDED"},
		"an exclusion that the term does not know": {func(q *Question) { q.Exclusions = []string{"weather"} }, Covered, "2027-03-03", "COVERED"},
		"an exclusion of the position": {func(q *Question) {
			q.Terms[0].Exclusions = []Exclusion{{ID: "cases", Text: "Cases.", Positions: []string{"transfer-case"}}}
		}, NotCovered, "2027-03-03", "EXCLUDED"},
		"an exclusion of another position": {func(q *Question) {
			q.Terms[0].Exclusions = []Exclusion{{ID: "cases", Text: "Cases.", Positions: []string{"gearbox"}}}
		}, Covered, "2027-03-03", "COVERED"},
		"serviced elsewhere":                              {func(q *Question) { q.Facts.Serviced.Elsewhere = true }, Covered, "2027-03-03", "COVERED"},
		"another release":                                 {func(q *Question) { q.Terms[0].Releases = []string{"R1"} }, NotCovered, "", "NO_TERM"},
		"the release is not known":                        {func(q *Question) { q.Terms[0].Releases, q.Facts.Release = []string{"R3"}, "" }, Unknown, "2027-03-03", "RELEASE_UNKNOWN"},
		"another position":                                {func(q *Question) { q.Terms[0].Positions = []string{"gearbox"} }, NotCovered, "", "NO_TERM"},
		"delivered before the first version":              {func(q *Question) { q.Facts.Delivered, q.On = day("2019-12-31"), day("2020-06-01") }, NotCovered, "", "NO_TERM"},
		"delivered on the first day of the first version": {func(q *Question) { q.Facts.Delivered, q.On = day("2020-01-01"), day("2020-06-01") }, Covered, "2021-01-01", "COVERED"},
		"the vehicle as a whole":                          {func(q *Question) { q.Position, q.Unit = "", nil }, Covered, "2027-03-03", "COVERED"},
		"registered later, where the term begins with that": {func(q *Question) {
			q.Terms[0].Start, q.Facts.Registered, q.On = FromRegistration, day("2026-04-01"), day("2027-04-01")
		}, Covered, "2027-04-01", "COVERED"},
		"registration not recorded":        {func(q *Question) { q.Terms[0].Start = FromRegistration }, Unknown, "", "START_UNKNOWN"},
		"a term from the end of the build": {func(q *Question) { q.Terms[0].Start, q.On = FromBuild, day("2027-02-11") }, NotCovered, "2027-02-10", "TIME_OVER"},
		"a term of repairs, repaired": {func(q *Question) {
			repaired(q, "2028-02-10", 900)
			q.Terms[0].Start, q.Terms[0].Months, q.Facts.Repairs[0].Term, q.On = FromRepair, 6, "", day("2028-08-10")
		}, Covered, "2028-08-10", "COVERED"},
		"a term of repairs, not repaired": {func(q *Question) { q.Terms[0].Start = FromRepair }, NotCovered, "", "NO_TERM"},
	} {
		t.Run(name, func(t *testing.T) {
			q := question()
			c.change(q)
			got := Decide(q)
			last := ""
			if b := got.Best(); b != nil {
				last = b.Last.String()
			}
			if got.State != c.state || last != c.last || got.Reasons[0].Rule != c.rule {
				t.Errorf("state %d until %q by %s, want %d until %q by %s\n%s", got.State, last, got.Reasons[0].Rule, c.state, c.last, c.rule, got.Sentence)
			}
			if (got.State == Unknown) != (got.Question != "") {
				t.Errorf("state %d with the question %q", got.State, got.Question)
			}
			if got.Sentence == "" || strings.Contains(got.Sentence, "%!") {
				t.Errorf("sentence: %q", got.Sentence)
			}
		})
	}
}

func TestCoverOfAUnitFromItsFitting(t *testing.T) {
	for name, c := range map[string]struct {
		change      func(*Question)
		state       State
		first, last string
	}{
		"fitted at the build: from delivery":    {func(*Question) {}, Covered, "2026-03-03", "2028-03-03"},
		"fitted before delivery: from delivery": {func(q *Question) { q.Unit.Fitted = day("2026-02-01") }, Covered, "2026-03-03", "2028-03-03"},
		"fitted in service":                     {func(q *Question) { q.Unit.Fitted, q.Unit.Source = day("2026-05-31"), SourceService }, Covered, "2026-05-31", "2028-05-31"},
		"on the last day":                       {func(q *Question) { q.On = day("2028-03-03") }, Covered, "2026-03-03", "2028-03-03"},
		"on the day after":                      {func(q *Question) { q.On = day("2028-03-04") }, NotCovered, "2026-03-03", "2028-03-03"},
		"moved here: from the first fitting": {func(q *Question) {
			q.Unit.Moved, q.Unit.FirstFitted, q.Unit.Fitted = true, day("2025-01-10"), day("2026-05-31")
		}, Covered, "2025-01-10", "2027-01-10"},
		"moved here, nobody knows since when":  {func(q *Question) { q.Unit.Moved, q.Unit.Fitted = true, day("2026-05-31") }, Unknown, "", ""},
		"fitted in service, nobody knows when": {func(q *Question) { q.Unit.Source = SourceService }, Unknown, "", ""},
		"sold on before it was fitted": {func(q *Question) {
			q.Unit.Fitted, q.Unit.Source, q.Facts.OwnerChanges = day("2026-05-31"), SourceService, []vehicle.Date{day("2026-04-01")}
		}, Covered, "2026-05-31", "2028-05-31"},
		"sold on after it was fitted":                {func(q *Question) { q.Facts.OwnerChanges = []vehicle.Date{day("2026-04-01")} }, NotCovered, "2026-03-03", "2026-03-31"},
		"with what it ran elsewhere, at the limit":   {func(q *Question) { moved(q, 4000); q.Distance = True(miles(2000)) }, Covered, "2025-01-10", "2027-01-10"},
		"with what it ran elsewhere, over the limit": {func(q *Question) { moved(q, 4000); q.Distance = True(miles(2000) + 1) }, NotCovered, "2025-01-10", "2027-01-10"},
		"it ran nobody knows how far elsewhere":      {func(q *Question) { moved(q, 4000); q.Unit.Prior = TrueDistance{}; q.Distance = True(miles(1000)) }, Unknown, "2025-01-10", "2027-01-10"},
		"it ran as far as the limit here alone":      {func(q *Question) { moved(q, 0); q.Unit.Prior = TrueDistance{}; q.Distance = True(miles(6000)) }, Unknown, "2025-01-10", "2027-01-10"},
		"it ran further than the limit here alone":   {func(q *Question) { moved(q, 0); q.Unit.Prior = TrueDistance{}; q.Distance = True(miles(6000) + 1) }, NotCovered, "2025-01-10", "2027-01-10"},
		"sold on the day on which it was fitted": {func(q *Question) {
			q.Unit.Fitted, q.Unit.Source, q.Facts.OwnerChanges = day("2026-05-31"), SourceService, []vehicle.Date{day("2026-05-31")}
		}, Covered, "2026-05-31", "2028-05-31"},
		"which part it is is not known":                    {func(q *Question) { q.Unit.Part = "" }, Unknown, "2026-03-03", "2028-03-03"},
		"what stands there is not known":                   {func(q *Question) { q.Unit = nil }, Unknown, "", ""},
		"the owner's own, of the part that the term names": {func(q *Question) { q.Unit.Fitted, q.Unit.Source = day("2026-05-31"), SourceOwner }, Covered, "2026-05-31", "2028-05-31"},
	} {
		t.Run(name, func(t *testing.T) {
			q := question()
			q.Terms = []Term{supplier()}
			c.change(q)
			got := Decide(q)
			b := got.Best()
			if b == nil || got.State != c.state || b.First.String() != c.first || b.Last.String() != c.last {
				t.Errorf("got %+v, want %d from %q until %q: %s", b, c.state, c.first, c.last, got.Sentence)
			}
			if got.Work {
				t.Error("the supplier pays for labour")
			}
		})
	}
	for name, change := range map[string]func(*Question){
		"another part":           func(q *Question) { q.Unit.Part = "AP-3101" },
		"nothing stands there":   func(q *Question) { q.Unit, q.Bare = nil, true },
		"the vehicle as a whole": func(q *Question) { q.Position = "" },
	} {
		q := question()
		q.Terms = []Term{supplier()}
		change(q)
		if got := Decide(q); got.State != NotCovered || got.Best() != nil {
			t.Errorf("%s: %s", name, got.Sentence)
		}
	}
}

// moved makes the unit one that came at 1,000 miles after running somewhere else,
// under a term of 5,000 miles.
func moved(q *Question, prior int) {
	q.Terms[0].Distance = miles(5000)
	q.Unit.Moved, q.Unit.FirstFitted, q.Unit.Fitted = true, day("2025-01-10"), day("2026-05-31")
	q.Unit.FittedAt, q.Unit.Prior = True(miles(1000)), True(miles(prior))
}

func TestADayLastsWhileItIsThatDayInEitherZone(t *testing.T) {
	london, newYork, auckland := zone(t, "Europe/London"), zone(t, "America/New_York"), zone(t, "Pacific/Auckland")
	at := func(text string) time.Time {
		m, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	for name, c := range map[string]struct {
		moment   string
		owner    *time.Location
		midnight Midnight
		want     State
	}{
		// New York is on summer time from 14 March 2027 and four hours behind UTC; on
		// 3 March it is five.
		"the last minute at the works":                             {"2027-03-03T23:59:59Z", london, EitherMidnight, Covered},
		"midnight at the works":                                    {"2027-03-04T00:00:00Z", london, EitherMidnight, NotCovered},
		"midnight at the works, still yesterday for the owner":     {"2027-03-04T00:00:00Z", newYork, EitherMidnight, Covered},
		"the last minute for the owner":                            {"2027-03-04T04:59:59Z", newYork, EitherMidnight, Covered},
		"midnight for the owner":                                   {"2027-03-04T05:00:00Z", newYork, EitherMidnight, NotCovered},
		"by the works' clock it is over":                           {"2027-03-04T00:00:00Z", newYork, WorksMidnight, NotCovered},
		"by the owner's clock it is not":                           {"2027-03-04T00:00:00Z", newYork, OwnerMidnight, Covered},
		"tomorrow already for the owner, not at the works":         {"2027-03-03T23:00:00Z", auckland, EitherMidnight, Covered},
		"by the owner's clock it is over":                          {"2027-03-03T23:00:00Z", auckland, OwnerMidnight, NotCovered},
		"the day of delivery has begun for the owner":              {"2026-03-02T12:00:00Z", auckland, EitherMidnight, Covered},
		"and has not begun by the works' clock":                    {"2026-03-02T12:00:00Z", auckland, WorksMidnight, NotCovered},
		"the day of delivery has begun for nobody":                 {"2026-03-02T10:00:00Z", auckland, EitherMidnight, NotCovered},
		"an owner without a zone keeps the clock of the works":     {"2027-03-04T00:00:00Z", nil, EitherMidnight, NotCovered},
		"and so does an owner without a zone by the owner's clock": {"2027-03-03T23:59:59Z", nil, OwnerMidnight, Covered},
	} {
		t.Run(name, func(t *testing.T) {
			q := question()
			q.Terms[0].Midnight = c.midnight
			q.At, q.WorksZone, q.OwnerZone = at(c.moment), london, c.owner
			got := Decide(q)
			if got.State != c.want {
				t.Errorf("got %d: %s", got.State, got.Sentence)
			}
		})
	}
	q := question()
	q.At, q.WorksZone = at("2027-03-03T12:00:00Z"), auckland // 4 March there, 3 March in UTC
	if c := Decide(q); c.State != NotCovered || c.On != day("2027-03-04") {
		t.Errorf("an owner without a zone does not keep the works' clock: %s", c.Sentence)
	}
	q = question()
	q.Terms[0].Transferable, q.Facts.OwnerChanges = false, []vehicle.Date{day("2026-06-01")}
	q.At, q.WorksZone, q.OwnerZone = at("2026-06-01T03:00:00Z"), london, newYork // 31 May there
	if c := Decide(q); c.State != Covered {
		t.Errorf("still the last day of the former owner where they live: %s", c.Sentence)
	}
	q = question()
	q.At, q.WorksZone, q.OwnerZone = at("2027-03-04T00:30:00Z"), london, newYork
	if r := ruleOf(Decide(q), "MIDNIGHT"); r.Fact("earlier_date") != "2027-03-03" || r.Fact("later_date") != "2027-03-04" {
		t.Errorf("the answer does not say whose midnight: %+v", r)
	}
}

func ruleOf(c *Cover, rule string) vehicle.Reason {
	for _, r := range c.Reasons {
		if r.Rule == rule {
			return r
		}
	}
	return vehicle.Reason{}
}

func TestTheVersionInForceAtTheStartBinds(t *testing.T) {
	second := works()
	second.Version, second.Effective, second.Months = 2, day("2026-04-01"), 24
	third := works()
	third.Version, third.Effective, third.Withdrawn = 3, day("2027-01-01"), true
	for name, c := range map[string]struct {
		delivered string
		version   int
	}{
		"before the second":    {"2026-03-31", 1},
		"on the day of it":     {"2026-04-01", 2},
		"the last day with it": {"2026-12-31", 2},
		"withdrawn":            {"2027-01-01", 0},
	} {
		q := question()
		q.Terms = []Term{third, works(), second}
		q.Facts.Delivered, q.On = day(c.delivered), day(c.delivered)
		got := 0
		if b := Decide(q).Best(); b != nil {
			got = b.Term.Version
		}
		if got != c.version {
			t.Errorf("%s: version %d, want %d", name, got, c.version)
		}
	}
}

func TestALaterVersionThatNobodyKnowsTheStartOf(t *testing.T) {
	later := works()
	later.Version, later.Start, later.Effective = 2, FromRegistration, day("2026-01-01")
	q := question()
	q.Terms = append(q.Terms, later)
	if c := Decide(q); c.State != Unknown || c.Question != "On which day was the rebuilt vehicle first registered?" {
		t.Errorf("either version may bind: %d, %s", c.State, c.Sentence)
	}
	q.Terms[1].Withdrawn = true
	if c := Decide(q); c.State != Unknown || c.Question != "On which day was the rebuilt vehicle first registered?" || c.Reasons[0].Rule != "VERSION_UNKNOWN" {
		t.Errorf("the first may bind, or none: %d, %s", c.State, c.Sentence)
	}
	q.Facts.Registered = day("2025-12-31") // before the second version
	if c := Decide(q); c.State != Covered || c.Best().Term.Version != 1 {
		t.Errorf("the first binds: %s", c.Sentence)
	}
}

func TestAWithdrawnVersionThatHasNotBegunHidesNoOther(t *testing.T) {
	q := question()
	q.Facts.Delivered, q.Facts.AtWorks = vehicle.Date{}, true
	q.Terms[0].Start = FromRepair
	later := works()
	later.Version, later.Withdrawn, later.Effective = 2, true, day("2026-01-01")
	q.Terms = append(q.Terms, later)
	q.Facts.Repairs = []Repair{{Position: "transfer-case", Date: day("2026-08-20"), At: True(0)}}
	if c := Decide(q); c.State != Covered || c.Best().Term.Version != 1 {
		t.Errorf("repaired at the works: %s", c.Sentence)
	}
}

func TestWhichLimbEndedIt(t *testing.T) {
	for name, c := range map[string]struct {
		on    string
		miles int
		want  Limb
	}{
		"neither":  {"2027-03-03", 12010, NoLimb},
		"time":     {"2027-03-04", 12010, TimeLimb},
		"distance": {"2027-03-03", 12011, DistanceLimb},
		"both":     {"2027-03-04", 12011, BothLimbs},
	} {
		q := question()
		q.On, q.Distance = day(c.on), True(miles(c.miles))
		if got := Decide(q).Best().EndedBy; got != c.want {
			t.Errorf("%s: got %d, want %d", name, got, c.want)
		}
	}
}

func TestGoodwillLooksALittleBeyondTheEnd(t *testing.T) {
	for name, c := range map[string]struct {
		on     string
		miles  int
		change func(*Question)
		want   bool
	}{
		"while it is covered":       {"2027-03-03", 500, nil, false},
		"the day after":             {"2027-03-04", 500, nil, true},
		"the last day of goodwill":  {"2027-06-03", 500, nil, true},
		"the day after that":        {"2027-06-04", 500, nil, false},
		"the last mile of goodwill": {"2026-09-01", 13010, nil, true},
		"the mile after":            {"2026-09-01", 13011, nil, false},
		"both a little over":        {"2027-05-01", 12500, nil, true},
		"time too long over":        {"2027-07-01", 12500, nil, false},
		"left out by an exclusion":  {"2026-09-01", 500, func(q *Question) { q.Exclusions = []string{"wear"} }, false},
		"another owner": {"2026-09-01", 500, func(q *Question) {
			q.Terms[0].Transferable, q.Facts.OwnerChanges = false, []vehicle.Date{day("2026-08-31")}
		}, false},
		"left out, and over as well": {"2027-03-04", 500, func(q *Question) { q.Exclusions = []string{"wear"} }, false},
	} {
		q := question()
		q.On, q.Distance, q.Goodwill = day(c.on), True(miles(c.miles)), StandardGoodwill()
		if c.change != nil {
			c.change(q)
		}
		if got := Decide(q).Goodwill; got != c.want {
			t.Errorf("%s: got %v", name, got)
		}
	}
}

func TestASuppliersTermStandsBesideTheWorks(t *testing.T) {
	q := question()
	q.Terms = []Term{works(), supplier()}
	q.On = day("2027-09-01")
	if got := Decide(q); got.State != Covered || got.Best().Term.ID != "BROOKFORD-24" || !got.Parts || got.Work || len(got.Terms) != 2 {
		t.Errorf("both: %s", got.Sentence)
	}
}

func TestServiceElsewhereIsNoGroundForRefusal(t *testing.T) {
	for _, on := range []string{"2026-09-01", "2027-03-04"} {
		q := question()
		q.On = day(on)
		before := Decide(q)
		q.Facts.Serviced = Serviced{Elsewhere: true, Record: "vehicles/AM0147P/serviceEntries/7"}
		after := Decide(q)
		if before.State != after.State || ruleOf(after, "SERVICED_ELSEWHERE").Record == "" {
			t.Errorf("%s: %d became %d: %v", on, before.State, after.State, after.Reasons)
		}
	}
}

func TestASampleSaysSo(t *testing.T) {
	q := question()
	if c := Decide(q); !c.Sample || ruleOf(c, "SAMPLE").Rule == "" {
		t.Error("a sample does not say so")
	}
	q.Terms[0].Sample, q.Terms[0].SignedBy = false, "the works' engineer"
	if c := Decide(q); c.Sample || ruleOf(c, "SAMPLE").Rule != "" {
		t.Error("what was signed is called a sample")
	}
}
