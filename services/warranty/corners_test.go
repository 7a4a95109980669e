package warranty_test

import (
	"strings"
	"testing"
	"time"

	"halfshaft/services/owner"
	"halfshaft/services/vehicle"
	. "halfshaft/services/warranty"
)

// The amounts of a decision are in the claim's currency: were it changed after,
// 240 pounds would become 240 euros.
func TestTheCurrencyStaysOnceSomethingWasDecided(t *testing.T) {
	c := must(submitted(Covered).Decide(move("works", "2026-09-10", ""), partly(24000), StandardAppeals()))
	c = must(must(c.Appeal(move("dealer", "2026-09-12", "No."), nil)).Ask(move("chief", "2026-09-13", "Why?")))
	other := c
	other.Currency = "EUR"
	if _, err := c.Edited(other, move("dealer", "2026-09-14", "")); refusal(err) != "INVALID_FIELD currency" {
		t.Errorf("240 pounds became euros: %v", err)
	}
}

// At 03:30 UTC it is 4 March at the works and 3 March for an owner in the west.
func TestAMomentOfTwoDaysFavoursTheClaimantEachTime(t *testing.T) {
	m := move("works", "2026-03-03", "")
	m.Time, m.Latest = time.Date(2026, time.March, 4, 3, 30, 0, 0, time.UTC), day("2026-03-04")
	today := Claim{Position: "gearbox", Failed: day("2026-03-04")}
	if _, err := Begin(today, m); err != nil {
		t.Errorf("it failed today, by the works' clock: %v", err)
	}
	today.Failed = day("2026-03-05")
	if _, err := Begin(today, m); refusal(err) != "INVALID_FIELD failure_date" {
		t.Errorf("it failed on a day that has come nowhere: %v", err)
	}
	c := submitted(Covered)
	m.By, m.Text = "chief", "x"
	cut := must(c.Decide(m, declined(), Appeals{Days: 10, Answer: 40}))
	if got := cut.Last().AppealUntil; got != day("2026-03-14") {
		t.Errorf("the days for an appeal are counted from the later day, and end with %s", got)
	}
	late := m
	late.On, late.Latest = day("2026-03-14"), day("2026-03-15")
	if _, err := cut.Appeal(late, nil); err != nil {
		t.Errorf("it is still the last day where the owner lives: %v", err)
	}
}

// A term that ends later and leaves the fault out says nothing about one that
// ended yesterday.
func TestGoodwillIsOfWhicheverTermEndedLately(t *testing.T) {
	q := question()
	frame := works()
	frame.ID, frame.Months, frame.Title = "FRAME", 72, "Six years"
	frame.Exclusions = []Exclusion{{ID: "cases", Text: "Cases.", Positions: []string{"transfer-case"}}}
	q.Terms = append(q.Terms, frame)
	q.On, q.Goodwill = day("2027-03-04"), StandardGoodwill()
	c := Decide(q)
	if !c.Goodwill || ruleOf(c, "GOODWILL").Record != TermName("WORKS-12", 1) {
		t.Errorf("goodwill %v: %v", c.Goodwill, c.Reasons)
	}
	if ruleOf(c, "TIME_OVER").Rule == "" {
		t.Errorf("it does not say which ended lately: %v", c.Reasons)
	}
}

func TestWhatWasReplacedBeginsAnewUnderATermOfFittings(t *testing.T) {
	q := question()
	q.Terms = []Term{supplier()}
	q.Unit.Fitted, q.Unit.Source, q.Unit.FittedAt = day("2026-05-31"), SourceService, True(miles(200))
	q.Facts.Repairs = []Repair{{Position: "transfer-case", Date: day("2026-05-31"), At: True(miles(200)), Term: TermName("BROOKFORD-24", 1)}}
	c := Decide(q)
	if c.Best().Last != day("2028-05-31") {
		t.Errorf("until %s", c.Best().Last)
	}
	if r := ruleOf(c, "REPAIRED_REST"); r.Rule != "" {
		t.Errorf("it has all of the term and not the rest: %s", r.Sentence)
	}
	q.Facts.Repairs[0].Date = day("2026-08-01") // put in order where it stands
	if ruleOf(Decide(q), "REPAIRED_REST").Rule == "" {
		t.Error("it has the rest, and nobody says so")
	}
}

func TestWhereNothingStandsTheAnswerSaysSo(t *testing.T) {
	q := question()
	q.Unit, q.Bare = nil, true
	c := Decide(q)
	if c.State != Covered || ruleOf(c, "NOTHING_THERE").Rule == "" {
		t.Errorf("%d: %v", c.State, c.Reasons)
	}
	q.Facts.Repairs = []Repair{{Position: "transfer-case", Date: day("2027-02-10"), At: True(miles(900)), Term: TermName("WORKS-12", 1)}}
	q.On = day("2027-05-10")
	if c := Decide(q); c.State != NotCovered {
		t.Errorf("what was repaired is gone, and covered: %s", c.Sentence)
	}
}

// A promise to the first owner only does not come along to somebody else's
// vehicle, and is not ended by a sale of the vehicle before the unit came.
func TestAMovedUnitHasTheOwnersOfWhereItStood(t *testing.T) {
	for name, c := range map[string]struct {
		unit, vehicle []string
		unknown       bool
		want          State
	}{
		"of one owner": {nil, nil, false, Covered},
		"sold before it came, which is nothing to it": {nil, []string{"2026-05-01"}, false, Covered},
		"moved to somebody else's":                    {[]string{"2026-05-31"}, nil, false, NotCovered},
		"sold where it stood before":                  {[]string{"2025-06-01"}, nil, false, NotCovered},
		"to be sold tomorrow":                         {[]string{"2026-09-02"}, nil, false, Covered},
		"whose it was is not known":                   {nil, nil, true, Unknown},
	} {
		q := question()
		q.Terms = []Term{supplier()}
		q.Unit.Moved, q.Unit.FirstFitted, q.Unit.Fitted, q.Unit.Source = true, day("2025-01-10"), day("2026-05-31"), SourceService
		q.Unit.OwnersUnknown = c.unknown
		for _, d := range c.unit {
			q.Unit.OwnerChanges = append(q.Unit.OwnerChanges, day(d))
		}
		for _, d := range c.vehicle {
			q.Facts.OwnerChanges = append(q.Facts.OwnerChanges, day(d))
		}
		if got := Decide(q); got.State != c.want {
			t.Errorf("%s: %s", name, got.Sentence)
		}
	}
}

// Whose a vehicle is is asked of the day in question: that nobody has it now says
// nothing of a year ago.
func TestWhoseItWasIsOfTheDay(t *testing.T) {
	ties := []owner.Tie{{Person: "a", Role: owner.Owner, Start: day("2026-03-03"), End: day("2026-06-01")}}
	for on, want := range map[string]bool{"2026-04-01": false, "2026-05-31": false, "2026-06-01": true, "2027-01-01": true} {
		if _, unknown := OwnerChanges(ties, day("2026-03-03"), day(on)); unknown != want {
			t.Errorf("on %s: unknown %v", on, unknown)
		}
	}
}

func TestLongAgoIsSaidInYears(t *testing.T) {
	for on, want := range map[string]string{
		"2027-03-04": "ended on 3 March 2027, 1 day before",
		"2027-04-03": "ended on 3 March 2027, 31 days before",
		"2027-09-10": "ended on 3 March 2027, more than 6 months before",
		"2041-09-10": "ended on 3 March 2027, more than 14 years before",
	} {
		q := question()
		q.On = day(on)
		if c := Decide(q); !strings.Contains(c.Sentence, want) {
			t.Errorf("%s", c.Sentence)
		}
	}
}

func TestAPaperSaysWhatIsOverAndWhatWasAdded(t *testing.T) {
	q := question()
	text := func() string {
		var all []string
		for _, s := range Write(q, Contact{Name: "Aldermoor Works"}).Sections {
			all = append(all, s.Paragraphs...)
		}
		return strings.Join(all, "\n")
	}
	if got := text(); strings.Contains(got, "It is over") {
		t.Error("a term that lasts is said to be over")
	}
	q.Facts.Spans = []Span{{Start: day("2026-05-05"), End: day("2026-05-14"), Counts: true}}
	if got := text(); !strings.Contains(got, "13 March 2027 with the 10 days added so far") {
		t.Errorf("the days that were added are not in it: %s", got)
	}
	q.On, q.Distance = day("2027-03-14"), True(miles(500))
	if got := text(); !strings.Contains(got, "It is over.") {
		t.Errorf("what is over is not said to be: %s", got)
	}
	q.On, q.Distance = day("2026-09-01"), True(miles(12011))
	if got := text(); !strings.Contains(got, "It is over.") {
		t.Errorf("over by its distance, and not said to be: %s", got)
	}
	q.On, q.Distance, q.Terms[0].Transferable, q.Facts.OwnerChanges = day("2026-09-01"), True(miles(500)), false, []vehicle.Date{day("2026-06-01")}
	if got := text(); !strings.Contains(got, "It is over") {
		t.Errorf("the vehicle has another owner, and the term is not said to be over: %s", got)
	}
}

// Read twice on one day, it had gone so far as either when it failed.
func TestADayWithTwoReadingsIsARange(t *testing.T) {
	marks := []Mark{{day("2026-03-03"), 0}, {day("2026-09-01"), miles(12_020)}, {day("2026-09-01"), miles(11_990)}}
	r := ReachOn(marks, Pace{}, day("2026-09-01"))
	if r.Low != miles(11_990) || r.High != miles(12_020) || !r.Known || r.Read {
		t.Errorf("it had gone %+v", r)
	}
	q := question()
	if c := DecideWithin(q, r); c.State != Unknown || ruleOf(c, "DISTANCE_NOT_SURE").Rule == "" {
		t.Errorf("the limit is at 12,010: %s", c.Sentence)
	}
	marks[2].Distance = marks[1].Distance
	if r := ReachOn(marks, Pace{}, day("2026-09-01")); !r.Read {
		t.Errorf("read twice alike: %+v", r)
	}
}

// Where nobody read the odometer when a unit was fitted, its term ends somewhere
// between two distances: within them the answer asks, outside it does not.
func TestALimitFromADayThatNobodyReadIsARange(t *testing.T) {
	marks := []Mark{{day("2026-03-03"), miles(1000)}, {day("2026-10-01"), miles(2000)}}
	start := ReachOn(marks, Pace{}, day("2026-05-31")).True()
	for name, c := range map[string]struct {
		reach    Reach
		want     State
		question string
	}{
		"before the earliest":          {ReadAs(miles(6000)), Covered, ""},
		"between the two":              {ReadAs(miles(6001)), Unknown, "What did the odometer show on the day of its fitting?"},
		"at the latest":                {ReadAs(miles(7000)), Unknown, "What did the odometer show on the day of its fitting?"},
		"after the latest":             {ReadAs(miles(7001)), NotCovered, ""},
		"a range before the earliest":  {Reach{Low: miles(5000), Likely: miles(5500), High: miles(6000), Known: true}, Covered, ""},
		"a range that reaches into it": {Reach{Low: miles(5000), Likely: miles(5500), High: miles(6001), Known: true}, Unknown, "What did the odometer show on that day?"},
		"a range behind the latest":    {Reach{Low: miles(7001), Likely: miles(7100), High: miles(7200), Known: true}, NotCovered, ""},
	} {
		q := question()
		q.Terms = []Term{supplier()}
		q.Terms[0].Distance = miles(5000)
		q.Unit.Fitted, q.Unit.Source, q.Unit.FittedAt = day("2026-05-31"), SourceService, start
		q.On = day("2027-05-01")
		if got := DecideWithin(q, c.reach); got.State != c.want || got.Question != c.question {
			t.Errorf("%s: %s", name, got.Sentence)
		}
		own := question()
		own.Terms[0].Repair = RepairTerm{Months: 24, Distance: miles(5000)}
		own.Facts.Repairs = []Repair{{Position: "transfer-case", Date: day("2026-05-31"), At: start, Term: TermName("WORKS-12", 1)}}
		own.On = day("2027-05-01")
		if got := DecideWithin(own, c.reach); got.State != c.want {
			t.Errorf("%s, of a repair: %s", name, got.Sentence)
		}
	}
}
