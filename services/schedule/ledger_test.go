package schedule_test

import (
	"strings"
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// rules lists the explanations of a doubtful mark, the likeliest first.
func rules(l *schedule.Ledger, mark int) (found []schedule.Rule) {
	for _, e := range l.Explain(mark) {
		found = append(found, e.Rule)
	}
	return found
}

// habit is a vehicle of about 1,200 miles a year, read twice a year.
func habit(t testing.TB) *world {
	w := delivered(t, "2020-01-01")
	for i, date := range []string{"2020-07-01", "2021-01-01", "2021-07-01", "2022-01-01", "2022-07-01", "2023-01-01"} {
		w.read(date, miles(int64(600*(i+1)+17*(i%2))))
	}
	return w
}

func (w *world) ledger() schedule.Ledger { return schedule.NewLedger(w.Segments, w.Marks) }

func TestDoubtfulReadingsAreKeptNotCountedAndExplained(t *testing.T) {
	km := func(n int64) vehicle.Entered {
		return vehicle.Entered{Value: vehicle.Decimal{Coefficient: n}, Unit: vehicle.Kilometres}
	}
	for _, c := range []struct {
		name  string
		date  string
		value vehicle.Entered
		rule  schedule.Rule
		reads string
	}{
		{"tenths typed as units", "2023-07-01", miles(42170), schedule.RuleTenths, "4217.0 mi"},
		{"kilometres given as miles", "2023-07-01", miles(6790), schedule.RuleOtherUnit, "4219 mi"},
		{"the right digits in the wrong unit", "2023-07-01", km(4210), schedule.RuleOtherUnit, "4210 mi"},
		{"two digits changed places", "2023-07-01", miles(2410), schedule.RuleSwapped, "4210 mi"},
		{"the date of last year", "2022-07-01", miles(4210), schedule.RuleDate, "4210 mi"},
		{"a leap that nothing explains", "2023-07-01", miles(20000), schedule.RuleLeap, "20000 mi"},
		{"more digits than the dial has", "2023-07-01", miles(421077), schedule.RuleLeap, "421077 mi"},
	} {
		w := habit(t).read(c.date, c.value)
		l := w.ledger()
		mark := len(w.Marks) - 1
		if l.Outcomes[mark].State != schedule.Doubtful || l.Doubtful != 1 {
			t.Errorf("%s: state %d, %d doubtful; want it alone to be doubtful", c.name, l.Outcomes[mark].State, l.Doubtful)
			continue
		}
		best := l.Explain(mark)[0]
		if best.Rule != c.rule || best.WouldRead.String() != c.reads {
			t.Errorf("%s: the likeliest is %s (%s), want %s (%s); all: %v", c.name, best.Rule, best.WouldRead, c.rule, c.reads, rules(&l, mark))
		}
	}
}

func TestAFallAfterAShortWayIsARolloverOrAnotherDialUntilAPersonDecides(t *testing.T) {
	// checks.md O-65: 99,870.0 to 00,120.0 is 250.0 miles.
	w := delivered(t, "2020-01-01")
	w.Segments[0].Start = miles(99000)
	w.read("2020-10-01", miles(99870)).read("2021-01-01", miles(120)).read("2021-06-01", miles(560))
	l := w.ledger()
	if l.Outcomes[1].State != schedule.Doubtful || l.Outcomes[2].State != schedule.Doubtful {
		t.Fatalf("a fall was accepted: %+v", l.Outcomes)
	}
	if got := l.Explain(1); got[0].Rule != schedule.RuleRollover || got[0].Verdict != schedule.RolledOver || got[1].Rule != schedule.RuleReplaced {
		t.Errorf("explained by %v, want the rollover, then another dial", rules(&l, 1))
	}
	w.Marks[1].Settlement = &schedule.Settlement{Verdict: schedule.RolledOver}
	l = w.ledger()
	if l.Doubtful != 0 || l.Outcomes[1].Distance-l.Outcomes[0].Distance != 250*vehicle.Mile {
		t.Errorf("%d doubtful, %d mm; want none and 250 miles", l.Doubtful, l.Outcomes[1].Distance-l.Outcomes[0].Distance)
	}
	if l.Outcomes[2].Distance != (1000+560)*vehicle.Mile {
		t.Errorf("the reading after it is at %s, want 1,560 miles", l.Outcomes[2].Distance.Text(vehicle.Miles))
	}
	// A reading between the two that came later: it has turned as well.
	w.read("2020-12-20", miles(80))
	if l = w.ledger(); l.Outcomes[3].State != schedule.Counted || l.Outcomes[3].Distance != 1080*vehicle.Mile {
		t.Errorf("the reading just before it: %+v", l.Outcomes[3])
	}
}

func TestTwoReadingsThatWereDecidedSoAfterOneTurnAreOneTurn(t *testing.T) {
	w := delivered(t, "2020-01-01")
	w.Segments[0].Start = miles(99000)
	w.read("2020-10-01", miles(99870)).read("2021-01-01", miles(120)).read("2021-06-01", miles(560))
	for i := 1; i < 3; i++ { // two people decided at once, or one of them twice
		w.Marks[i].Settlement = &schedule.Settlement{Verdict: schedule.RolledOver}
	}
	if o := w.ledger().Outcomes[2]; o.State != schedule.Counted || o.Distance != (1000+560)*vehicle.Mile {
		t.Errorf("the second: state %d at %s, want 1,560 miles", o.State, o.Distance.Text(vehicle.Miles))
	}
	// After the next fall it is another turn (long after: two turns take a while).
	w.read("2060-01-01", miles(99000)).read("2061-01-01", miles(40))
	w.Marks[3].Settlement = &schedule.Settlement{Verdict: schedule.AsRead}
	w.Marks[4].Settlement = &schedule.Settlement{Verdict: schedule.RolledOver}
	if o := w.ledger().Outcomes[4]; o.State != schedule.Counted || o.Distance != (101000+40)*vehicle.Mile {
		t.Errorf("after the second turn: state %d at %s, want 101,040 miles", o.State, o.Distance.Text(vehicle.Miles))
	}
}

func TestTheTenthsWheelRollsOverExactly(t *testing.T) {
	// checks.md O-65: 99,999.9 to 00,000.4 is 0.5 miles.
	tenths := func(n int64) vehicle.Entered {
		return vehicle.Entered{Value: vehicle.Decimal{Coefficient: n, Scale: 1}, Unit: vehicle.Miles}
	}
	w := delivered(t, "2020-01-01")
	w.Segments[0].Start = miles(99000)
	w.read("2020-10-01", tenths(999999)).read("2020-10-02", tenths(4))
	w.Marks[1].Settlement = &schedule.Settlement{Verdict: schedule.RolledOver}
	l := w.ledger()
	if got := l.Outcomes[1].Distance - l.Outcomes[0].Distance; got != 804_672 {
		t.Errorf("%d mm, want half a mile, 804,672", got)
	}
}

func TestSettlementsAreHonoured(t *testing.T) {
	for _, c := range []struct {
		name    string
		verdict schedule.Settlement
		state   schedule.ReadingState
		at      int64
	}{
		{"right as read", schedule.Settlement{Verdict: schedule.AsRead}, schedule.Counted, 9977},
		{"corrected", schedule.Settlement{Verdict: schedule.Corrected, Corrected: miles(4199)}, schedule.Counted, 4199},
		{"rejected", schedule.Settlement{Verdict: schedule.Rejected}, schedule.RejectedState, 0},
	} {
		w := habit(t).read("2023-07-01", miles(9977))
		w.Marks[6].Settlement = &c.verdict
		l := w.ledger()
		if o := l.Outcomes[6]; o.State != c.state || o.Distance.Whole(vehicle.Miles) != c.at || l.Doubtful != 0 {
			t.Errorf("%s: %+v, %d doubtful; want state %d at %d miles", c.name, o, l.Doubtful, c.state, c.at)
		}
	}
}

func TestOneWildReadingDoesNotPoisonThoseAfterIt(t *testing.T) {
	w := habit(t).read("2023-02-01", miles(4800)) // high, but no more than a tour
	if l := w.ledger(); l.Doubtful != 0 {
		t.Fatalf("a tour of 1,200 miles is doubted: %+v", l.Outcomes)
	}
	w.read("2023-07-01", miles(4210)).read("2024-01-01", miles(4830))
	l := w.ledger()
	for i, o := range l.Outcomes {
		if want := i != 6; (o.State == schedule.Counted) != want {
			t.Errorf("reading %d of %v is in state %d", i, w.Marks[i].Value, o.State)
		}
	}
}

func TestTheSameReadingTwiceIsADuplicateAndOfAServiceAConfirmation(t *testing.T) {
	w := habit(t).read("2023-07-01", miles(4210)).read("2023-07-01", miles(4210))
	w.Marks = append(w.Marks, schedule.Mark{Date: on("2023-07-01"), Value: miles(4210), Source: schedule.ByDealer, Record: "serviceEntries/1"})
	l := w.ledger()
	if l.Outcomes[6].State != schedule.Counted || l.Outcomes[7].State != schedule.Doubtful || l.Outcomes[8].State != schedule.Counted {
		t.Errorf("states %d, %d, %d; want counted, doubtful, counted", l.Outcomes[6].State, l.Outcomes[7].State, l.Outcomes[8].State)
	}
	if got := rules(&l, 7); len(got) != 1 || got[0] != schedule.RuleDuplicate {
		t.Errorf("explained by %v", got)
	}
}

func TestAReadingFromTheFutureWaits(t *testing.T) {
	w := habit(t).read("2032-07-01", miles(4210))
	w.Marks[6].Recorded = on("2023-07-02")
	l := w.ledger()
	if got := rules(&l, 6); len(got) == 0 || got[0] != schedule.RuleDate {
		t.Errorf("explained by %v, want the date", got)
	}
}

func TestAChangeOfDialAxleOrTyreBeginsASegment(t *testing.T) {
	kmDial := vehicle.Dial{Digits: 6, Unit: vehicle.Kilometres, TurnsPerUnit: 620}
	w := delivered(t, "2020-01-01")
	w.Segments[0].FactorPPM, w.Segments[0].End = 950_000, miles(1000)
	// Other tyres on 1 January 2021 at 1,000 miles; a kilometre dial, begun at
	// zero, on 1 January 2022 at 2,000 miles.
	w.Segments = append(w.Segments,
		schedule.Segment{From: on("2021-01-01"), Dial: mileDial, FactorPPM: 1_000_000, Start: miles(1000), End: miles(2000)},
		schedule.Segment{From: on("2022-01-01"), Dial: kmDial, FactorPPM: 1_000_000, NewDial: true,
			Start: vehicle.Entered{Unit: vehicle.Kilometres}})
	w.read("2020-06-01", miles(500)).read("2021-06-01", miles(1500)).
		read("2022-06-01", vehicle.Entered{Value: vehicle.Decimal{Coefficient: 1000}, Unit: vehicle.Kilometres})
	l := w.ledger()
	for i, want := range []vehicle.Distance{475 * vehicle.Mile, 1450 * vehicle.Mile, 1950*vehicle.Mile + 1000*vehicle.Kilometre} {
		if l.Outcomes[i].State != schedule.Counted || l.Outcomes[i].Distance != want {
			t.Errorf("reading %d: %+v, want %d mm", i, l.Outcomes[i], want)
		}
	}
}

func TestAChangeThatNobodyReadSharesTheWayByDays(t *testing.T) {
	w := delivered(t, "2020-01-01")
	w.Segments[0].FactorPPM = 900_000
	w.Segments = append(w.Segments, schedule.Segment{From: on("2020-04-10"), Dial: mileDial, FactorPPM: 1_000_000})
	w.read("2020-07-19", miles(400)) // 200 days after the delivery, the change in the middle
	if got := w.ledger().Outcomes[0].Distance; got != 380*vehicle.Mile {
		t.Errorf("%s, want 200 x 0.9 + 200 = 380 miles", got.Text(vehicle.Miles))
	}
}

func TestTheWildReadingOfTheRobustExampleIsTheDoubtfulOne(t *testing.T) {
	// checks.md O-25 flags the fifth reading.
	days := []int{0, 61, 190, 372, 548, 733, 905, 1096}
	read := []int64{112, 391, 690, 1310, 6901, 2480, 2795, 3611}
	w := delivered(t, "2020-01-01")
	w.Segments[0].Start = vehicle.Entered{}
	for i, d := range days {
		w.read(on("2020-01-01").AddDays(d).String(), miles(read[i]))
		l := w.ledger()
		if want := min(max(i-3, 0), 1); l.Doubtful != want {
			t.Errorf("after reading %d: %d doubtful, want %d", i+1, l.Doubtful, want)
		}
	}
	if l := w.ledger(); l.Outcomes[4].State != schedule.Doubtful {
		t.Error("another reading is doubted")
	}
}

func TestThePaceSaysWhatItRestsOn(t *testing.T) {
	w := delivered(t, "2020-01-01", schedule.Item{ID: "A1", Every: limit(0, 1)})
	w.Segments[0].Start = vehicle.Entered{}
	for _, c := range []struct {
		date  string
		value int64
		want  string
	}{
		{"", 0, "There is no reading, so about 1,200 miles a year are assumed, as for any such vehicle."},
		{"2020-03-01", 40, "There is one reading only, so about 1,200 miles a year are assumed, as for any such vehicle."},
		{"2020-04-01", 90, "2 readings from 1 March 2020 to 1 April 2020 say little yet, so about 1,091 miles a year are assumed, going by them and by any such vehicle."},
		{"2021-03-01", 640, "3 readings from 1 March 2020 to 1 March 2021 give about 700 miles a year."},
	} {
		if c.date != "" {
			w.read(c.date, miles(c.value))
		}
		s := w.at("2021-04-01")
		// How far the readings outweigh what is assumed is the forecast's matter.
		want := strings.Replace(c.want, "#", strings.TrimSuffix(s.Pace.PerYear.Text(vehicle.Miles), " miles"), 1)
		if got := s.Evidence(vehicle.Miles).Sentence; got != want {
			t.Errorf("%d readings: %s\nwant %s", len(w.Marks), got, want)
		}
	}
}

func TestOfTwoReadingsThatExcludeEachOtherTheOneNearerToThePaceCounts(t *testing.T) {
	w := delivered(t, "2020-01-01").read("2020-06-01", miles(600)).read("2020-07-01", miles(1500)).read("2020-08-01", miles(800))
	l := w.ledger()
	if l.Outcomes[1].State != schedule.Doubtful || l.Outcomes[2].State != schedule.Counted {
		t.Errorf("states %+v; want 1,500 doubtful", l.Outcomes)
	}
	l = w.read("2020-09-01", miles(1600)).ledger() // both lead to this one
	if l.Outcomes[1].State != schedule.Doubtful || l.Outcomes[2].State != schedule.Counted || l.Outcomes[3].State != schedule.Counted {
		t.Errorf("states %+v; want 1,500 alone doubtful", l.Outcomes)
	}
	w = delivered(t, "2020-01-01").read("2020-06-01", miles(600)).read("2020-07-01", miles(700)).read("2020-08-01", miles(610)).
		read("2020-09-01", miles(900))
	if l = w.ledger(); l.Outcomes[1].State != schedule.Counted || l.Outcomes[2].State != schedule.Doubtful {
		t.Errorf("states %+v; want 610 alone doubtful", l.Outcomes)
	}
	// When the one that was counted first contradicts a better trusted one, that
	// one counts.
	w = delivered(t, "2020-01-01").read("2020-06-01", miles(700)).read("2020-07-01", miles(690))
	w.Marks[1].Source = schedule.ByWorks
	if l = w.ledger(); l.Outcomes[0].State != schedule.Doubtful || l.Outcomes[1].State != schedule.Counted {
		t.Errorf("states %+v; want the works' reading to count", l.Outcomes)
	}
}
