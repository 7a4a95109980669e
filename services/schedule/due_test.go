package schedule_test

import (
	"strings"
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

func half() vehicle.Decimal { return vehicle.Decimal{Coefficient: 5, Scale: 1} }

// want compares what a test says in words: "due state cycle", dates in ISO.
func want(t *testing.T, st *schedule.Status, id, due string, state schedule.DueState, cycle string) {
	t.Helper()
	if st.DueDate().String() != due || st.State != state || st.Cycle(id) != cycle {
		t.Errorf("%s is due %v, state %d, cycle %q; want %s, %d, %q", id, st.DueDate(), st.State, st.Cycle(id), due, state, cycle)
	}
}

func TestMonthsAreConstrainedAndCountedFromTheDayOfTheWork(t *testing.T) {
	for _, c := range []struct {
		name, done string
		months     int
		due        string
	}{
		{"31 March and a month", "2007-03-31", 1, "2007-04-30"},        // checks.md O-20: java.time LocalDate.plusMonths
		{"leap day and a year", "2008-02-29", 12, "2009-02-28"},        // O-21: java.time LocalDate.plusYears
		{"leap day and twelve months", "2024-02-29", 12, "2025-02-28"}, // O-21, computed
		// O-21 prints 2028-02-28 for this one, against its own rule (F15: anchored)
		// and its source: LocalDate.plusMonths keeps the 29th where it exists.
		{"leap day and four years", "2024-02-29", 48, "2028-02-29"},
		{"October's last day and a month", "2025-10-31", 1, "2025-11-30"}, // O-22: AddDate of Go would say 1 December
		{"anchored, one month", "2026-01-31", 1, "2026-02-28"},            // O-23, all six computed there
		{"anchored, two months", "2026-01-31", 2, "2026-03-31"},
		{"anchored, three months", "2026-01-31", 3, "2026-04-30"},
		{"anchored, four months", "2026-01-31", 4, "2026-05-31"},
		{"anchored, five months", "2026-01-31", 5, "2026-06-30"},
		{"anchored, six months", "2026-01-31", 6, "2026-07-31"},
	} {
		w := delivered(t, "2000-01-01", schedule.Item{ID: "A1", Every: limit(0, c.months)}).done(c.done, "A1")
		_, st := w.status(c.done, "A1")
		if got := st.DueDate().String(); got != c.due {
			t.Errorf("%s: due %s, want %s", c.name, got, c.due)
		}
	}
}

func TestWhicheverLimbComesFirstDecides(t *testing.T) {
	// checks.md O-66, computed there with F8.
	oil := schedule.Item{ID: "E01", Every: limit(3000, 12)}
	for _, c := range []struct {
		name           string
		perFourYears   int64
		due, byMiles   string
		binding        schedule.Limb
		words, notSaid string
	}{
		{"1,200 miles a year: time", 4800, "2027-05-01", "2028-10-30", schedule.TimeLimb, "12 months since", "3,000 miles since"},
		{"9,000 miles a year: distance", 36000, "2026-08-30", "2026-08-30", schedule.DistanceLimb, "3,000 miles since", "12 months since"},
	} {
		w := delivered(t, "2022-05-01", oil).read("2026-05-01", miles(c.perFourYears)).done("2026-05-01", "E01")
		s, st := w.status("2026-05-01", "E01")
		if st.DueDate().String() != c.due || st.DistanceDueDate().String() != c.byMiles || st.Binding != c.binding {
			t.Errorf("%s: due %v by limb %d, distance on %v; want %s by %d, %s", c.name, st.DueDate(), st.Binding,
				st.DistanceDueDate(), c.due, c.binding, c.byMiles)
		}
		_, sentence := s.Explain(st)
		if !strings.Contains(sentence, c.words) || strings.Contains(sentence, c.notSaid) {
			t.Errorf("%s: the sentence does not say it: %s", c.name, sentence)
		}
	}
}

func TestSeasonalUseCountsOnlyTheDaysDriven(t *testing.T) {
	// checks.md O-67, computed there: 1,200 miles from June to August each year.
	w := delivered(t, "2024-06-01", schedule.Item{ID: "A1", Every: limit(1500, 0)})
	w.read("2024-09-01", miles(1200)).read("2025-06-01", miles(1200)).read("2025-09-01", miles(2400)).
		read("2026-06-01", miles(2400)).read("2026-09-01", miles(3600)).done("2026-09-01", "A1")
	for _, y := range []string{"2024", "2025", "2026", "2027"} {
		w.use(schedule.LaidUp, y+"-09-01", string([]byte{y[0], y[1], y[2], y[3] + 1})+"-05-31")
	}
	_, st := w.status("2026-09-01", "A1")
	if got := st.DueDate().String(); got != "2028-06-24" {
		t.Errorf("due %s, want 2028-06-24; a uniform rate would say 2027-12-01", got)
	}
}

func TestBeddingInBelongsToTheComponent(t *testing.T) {
	float := schedule.Item{ID: "T02", Position: "output-shaft-bearing", First: limit(500, 6), FirstFrom: schedule.FromFitting,
		Every: limit(12000, 24)}
	w := delivered(t, "2014-04-01", float).component("output-shaft-bearing", "2014-03-01").
		read("2014-08-01", miles(400)).done("2014-08-15", "T02").read("2025-03-01", miles(9000)).done("2024-05-01", "T02")
	_, st := w.status("2025-03-01", "T02")
	want(t, st, "T02", "2026-05-01", schedule.NotYet, "T02.2024-05-01")

	// A re-shim in year eleven begins a new 500-mile check.
	w.components[0].Bedding = on("2025-03-01")
	w.done("2025-03-01", "T02") // the measurement at the re-shim itself is not the check after it
	s, st := w.status("2025-03-02", "T02")
	want(t, st, "T02", "2025-09-01", schedule.NotYet, "T02.2025-03-01")
	if !st.Bedding {
		t.Error("not marked as bedding-in")
	}
	if at, _ := st.DueDistance(); at.Whole(vehicle.Miles) != 9500 {
		t.Errorf("due at %s, want 9,500 miles", at.Text(vehicle.Miles))
	}
	reasons, _ := s.Explain(st)
	if reasons[1].Rule != "COUNTED_FROM_FITTING" {
		t.Errorf("the reason is %s", reasons[1].Rule)
	}
	_, st = w.done("2025-07-01", "T02").status("2025-07-02", "T02")
	want(t, st, "T02", "2027-07-01", schedule.NotYet, "T02.2025-07-01")
}

func TestAComponentFromAnotherVehicleBringsItsBeddingIn(t *testing.T) {
	oil := schedule.Item{ID: "D01", Position: "rear-axle-differential", First: limit(500, 0), Every: limit(12000, 24)}
	w := delivered(t, "2014-04-01", oil).read("2020-04-01", miles(6000)).read("2021-04-01", miles(7000))
	w.components = []schedule.Component{{Position: "rear-axle-differential", Fitted: on("2020-04-01"), Bedding: on("2020-01-01"),
		Prior: 200 * vehicle.Mile}}
	w.fitted["rear-axle-differential"] = nil
	_, st := w.status("2020-04-02", "D01")
	if at, _ := st.DueDistance(); at.Whole(vehicle.Miles) != 6300 || !st.Bedding {
		t.Errorf("200 of 500 miles were done elsewhere: due at %s, bedding-in %v; want 6,300 miles, true", at.Text(vehicle.Miles), st.Bedding)
	}
	w.components[0].Prior = 4000 * vehicle.Mile
	_, st = w.status("2020-04-02", "D01")
	want(t, st, "D01", "2022-04-01", schedule.NotYet, "D01.2020-04-01")
}

func TestOneItemLooksAfterSeveralPositions(t *testing.T) {
	hubs := schedule.Item{ID: "S05", Position: "hub", First: limit(0, 6), Every: limit(0, 24)}
	w := delivered(t, "2020-01-01", hubs).component("hub-front-left", "2019-12-01").component("hub-rear-left", "2022-06-30").
		component("hubcap", "2023-01-01").done("2020-05-01", "S05")
	_, st := w.status("2022-07-01", "S05")
	want(t, st, "S05", "2022-12-30", schedule.NotYet, "S05.2022-06-30") // the hub fitted last, not what only begins alike
}

func TestEventsStartItems(t *testing.T) {
	nuts := schedule.Item{ID: "W01", NoticeDays: 14, StartsOn: []schedule.EventStart{
		{Event: schedule.WheelRefitted, NotBefore: miles(30), WithinDistance: miles(100)}}}
	water := schedule.Item{ID: "D01W", NoticeDays: 2, StartsOn: []schedule.EventStart{
		{Event: schedule.Wading, WithinDistance: miles(100), WithinDays: 2}}}
	w := delivered(t, "2020-01-01", nuts, water).read("2024-01-01", miles(4*1461)) // 4 miles a day
	_, st := w.status("2024-02-01", "W01")
	want(t, st, "W01", "", schedule.NothingToDo, "")

	w.event("2024-03-01", schedule.WheelRefitted).event("2024-03-01", schedule.Wading).done("2024-03-01", "W01")
	_, st = w.status("2024-03-02", "W01") // 30 miles are 7.5 days, 100 are 25
	want(t, st, "W01", "2024-03-26", schedule.NotYet, "W01.2024-03-01")
	if st.NotBefore().String() != "2024-03-08" {
		t.Errorf("not before %v, want 2024-03-08", st.NotBefore())
	}
	_, st = w.status("2024-03-08", "W01")
	want(t, st, "W01", "2024-03-26", schedule.Due, "W01.2024-03-01")
	_, st = w.status("2024-03-27", "W01")
	want(t, st, "W01", "2024-03-26", schedule.Overdue, "W01.2024-03-01")
	_, st = w.status("2024-03-01", "D01W")
	want(t, st, "D01W", "2024-03-03", schedule.Coming, "D01W.2024-03-01")
	_, st = w.done("2024-03-02", "D01W").status("2024-03-04", "D01W")
	want(t, st, "D01W", "", schedule.NothingToDo, "")
	_, st = w.done("2024-03-10", "W01").status("2024-03-27", "W01")
	want(t, st, "W01", "", schedule.NothingToDo, "")
}

func TestAnEventBringsAnIntervalForwardUnderTheSameName(t *testing.T) {
	nuts := schedule.Item{ID: "W01", Every: limit(0, 12), StartsOn: []schedule.EventStart{
		{Event: schedule.WheelRefitted, WithinDays: 10}}}
	w := delivered(t, "2020-01-01", nuts).done("2024-01-15", "W01").event("2024-06-01", schedule.WheelRefitted)
	_, st := w.status("2024-06-02", "W01")
	want(t, st, "W01", "2024-06-11", schedule.Coming, "W01.2024-01-15")
	// Overdue by its interval already: a new event does not buy time.
	_, st = w.event("2025-06-01", schedule.WheelRefitted).status("2025-06-02", "W01")
	want(t, st, "W01", "2024-06-11", schedule.Overdue, "W01.2024-01-15")
}

func TestResetsReachThroughOtherItems(t *testing.T) {
	w := delivered(t, "2020-01-01", schedule.Item{ID: "A1", Every: limit(0, 60), Resets: []string{"A2"}},
		schedule.Item{ID: "A2", Every: limit(0, 24), Resets: []string{"A3"}}, schedule.Item{ID: "A3", Every: limit(0, 6)})
	w.done("2021-03-01", "A1").done("2021-05-01", "A2")
	for id, due := range map[string]string{"A1": "2026-03-01", "A2": "2023-05-01", "A3": "2021-11-01"} {
		if _, st := w.status("2021-06-01", id); st.DueDate().String() != due {
			t.Errorf("%s is due %v, want %s", id, st.DueDate(), due)
		}
	}
}

func TestOnceIsOnce(t *testing.T) {
	torque := schedule.Item{ID: "E05", Position: "cylinder-head", First: limit(500, 0)}
	w := delivered(t, "2020-01-01", torque).component("cylinder-head", "2019-11-01").read("2021-01-01", miles(400)).
		done("2021-02-01", "E05")
	s, st := w.status("2026-01-01", "E05")
	want(t, st, "E05", "", schedule.NothingToDo, "")
	if reasons, _ := s.Explain(st); reasons[0].Rule != "DONE_ONCE" || reasons[0].Record == "" {
		t.Errorf("the reason is %+v", reasons[0])
	}
}

func TestALateEntryCountsFromTheDayTheWorkWasDone(t *testing.T) {
	w := delivered(t, "2020-01-01", schedule.Item{ID: "B01", Every: limit(0, 24)}).done("2024-06-30", "B01")
	_, st := w.status("2025-01-01", "B01")
	want(t, st, "B01", "2026-06-30", schedule.NotYet, "B01.2024-06-30")
	// Reported last, done before: it changes nothing.
	_, st = w.done("2023-02-01", "B01").status("2025-01-01", "B01")
	want(t, st, "B01", "2026-06-30", schedule.NotYet, "B01.2024-06-30")
	_, st = w.done("2024-11-11", "B01").status("2025-01-01", "B01")
	want(t, st, "B01", "2026-11-11", schedule.NotYet, "B01.2024-11-11")
}

func TestHardUseNeverMovesAPastDueDate(t *testing.T) {
	oil := schedule.Item{ID: "E01", Every: limit(0, 12), Severe: schedule.Severe{When: []schedule.UseKind{schedule.Dust}, TimeFactor: half()}}
	for _, c := range []struct {
		name, start, end, due string
		severe                bool
	}{
		{"declared before the short limit", "2024-03-01", "", "2024-07-01", true},
		{"declared after the short limit: due on that day, not before", "2024-09-10", "", "2024-09-10", true},
		{"declared after the normal limit: too late to matter", "2025-02-01", "", "2025-01-01", false},
		{"over before the short limit", "2024-02-01", "2024-06-30", "2025-01-01", false},
		{"just reaching the short limit", "2024-02-01", "2024-07-01", "2024-07-01", true},
	} {
		w := delivered(t, "2020-01-01", oil).done("2024-01-01", "E01").use(schedule.Dust, c.start, c.end)
		_, st := w.status("2024-02-01", "E01")
		if st.DueDate().String() != c.due || st.Severe != c.severe {
			t.Errorf("%s: due %v, severe %v; want %s, %v", c.name, st.DueDate(), st.Severe, c.due, c.severe)
		}
	}
}

func TestTheGeneralRuleWantsTwoKindsAtOnce(t *testing.T) {
	oil := schedule.Item{ID: "G01", Every: limit(0, 24), Severe: schedule.Severe{TimeFactor: half()}}
	w := delivered(t, "2020-01-01", oil).done("2024-01-01", "G01").use(schedule.Dust, "2024-01-01", "").use(schedule.Towing, "2024-01-01", "2024-06-01")
	_, st := w.status("2024-02-01", "G01")
	want(t, st, "G01", "2026-01-01", schedule.NotYet, "G01.2024-01-01")
	_, st = w.use(schedule.SaltCoast, "2025-01-20", "").status("2024-02-01", "G01")
	want(t, st, "G01", "2025-01-20", schedule.NotYet, "G01.2024-01-01")
}

func TestALayUpMovesTheWork(t *testing.T) {
	items := []schedule.Item{
		{ID: "E01", Every: limit(0, 12), LayUp: schedule.BeforeLayUp},
		{ID: "B01", Every: limit(0, 12), LayUp: schedule.AtRecommission},
		{ID: "X01", Every: limit(0, 12), LayUp: schedule.StaysInLayUp},
		{ID: "Z01", LayUp: schedule.BeforeLayUp, StartsOn: []schedule.EventStart{{Event: schedule.LayUpBegins}}},
		{ID: "Z02", Every: limit(0, 1), LayUp: schedule.OnlyInLayUp},
		{ID: "Z03", StartsOn: []schedule.EventStart{{Event: schedule.Recommission}}},
	}
	w := delivered(t, "2020-01-01", items...).done("2024-12-15", "E01", "B01", "X01").use(schedule.LaidUp, "2025-11-01", "2026-04-30")
	for _, c := range []struct {
		on, id, due, act string
		state            schedule.DueState
	}{
		{"2025-09-01", "E01", "2025-12-15", "2025-10-31", schedule.NotYet},
		{"2025-10-15", "E01", "2025-12-15", "2025-10-31", schedule.Coming},
		{"2025-11-02", "E01", "2025-12-15", "2026-05-01", schedule.NotYet}, // missed before: when it comes back
		{"2025-10-15", "B01", "2025-12-15", "2026-05-01", schedule.NotYet},
		{"2026-05-02", "B01", "2025-12-15", "2026-05-01", schedule.Overdue},
		{"2026-01-01", "X01", "2025-12-15", "2025-12-15", schedule.Overdue},
		{"2025-10-15", "Z01", "2025-11-01", "2025-10-31", schedule.Coming},
		{"2025-11-02", "Z01", "", "", schedule.NothingToDo}, // missed: nobody puts away what stands
		{"2025-10-15", "Z02", "", "", schedule.NothingToDo},
		{"2025-11-10", "Z02", "2025-12-01", "2025-12-01", schedule.Coming},
		{"2026-04-10", "Z03", "2026-05-01", "2026-05-01", schedule.Coming},
		{"2026-05-01", "Z03", "2026-05-01", "2026-05-01", schedule.Due},
	} {
		_, st := w.status(c.on, c.id)
		if st.DueDate().String() != c.due || st.ActBy().String() != c.act || st.State != c.state {
			t.Errorf("%s on %s: due %v, act by %v, state %d; want %s, %s, %d", c.id, c.on, st.DueDate(), st.ActBy(), st.State, c.due, c.act, c.state)
		}
	}
	// Put away early and written down: that is it.
	_, st := w.done("2025-10-20", "Z01").status("2025-10-25", "Z01")
	want(t, st, "Z01", "", schedule.NothingToDo, "")
	// Made ready while it stands, as owners are told to in good time: that is it,
	// before the day and after it. What was done before it was put away is not.
	for _, c := range []struct{ done, on, due string }{
		{"2026-04-03", "2026-04-10", ""}, {"2026-04-03", "2026-05-20", ""}, {"2025-10-30", "2026-04-10", "2026-05-01"}, {"2026-02-01", "2026-04-10", "2026-05-01"},
	} {
		w := delivered(t, "2020-01-01", items...).use(schedule.LaidUp, "2025-11-01", "2026-04-30").done(c.done, "Z03")
		if _, st := w.status(c.on, "Z03"); st.DueDate().String() != c.due {
			t.Errorf("made ready on %s: on %s due %v, want %q", c.done, c.on, st.DueDate(), c.due)
		}
	}
}

func TestALayUpWithoutAnEndLeavesTheDayOpen(t *testing.T) {
	w := delivered(t, "2020-01-01", schedule.Item{ID: "B01", Every: limit(0, 12)}).done("2024-12-15", "B01").use(schedule.LaidUp, "2025-11-01", "")
	s, st := w.status("2026-02-01", "B01")
	if !st.ActBy().IsZero() || st.State != schedule.NotYet {
		t.Errorf("act by %v, state %d; want no day, not yet", st.ActBy(), st.State)
	}
	if _, sentence := s.Explain(st); !strings.HasSuffix(sentence, "when it is brought back.") {
		t.Errorf("the sentence does not say it: %s", sentence)
	}
}

func TestNothingIsDueBeforeTheDelivery(t *testing.T) {
	w := delivered(t, "2026-06-01", schedule.Item{ID: "B01", Every: limit(0, 1)})
	s, st := w.status("2026-05-31", "B01")
	want(t, st, "B01", "", schedule.NothingToDo, "")
	if reasons, _ := s.Explain(st); reasons[0].Rule != "NOT_DELIVERED" {
		t.Errorf("the reason is %s", reasons[0].Rule)
	}
}

func TestADistanceNobodyWillReachSaysSo(t *testing.T) {
	w := delivered(t, "2020-01-01", schedule.Item{ID: "A1", Every: limit(30000, 0)}).read("2021-01-01", miles(0))
	s, st := w.status("2022-01-01", "A1")
	if !st.DueDate().IsZero() || st.State != schedule.NotYet {
		t.Errorf("due %v, state %d; want no date, not yet", st.DueDate(), st.State)
	}
	if _, sentence := s.Explain(st); !strings.Contains(sentence, "not in sight") {
		t.Errorf("the sentence does not say it: %s", sentence)
	}
}
