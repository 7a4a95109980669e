package reminderwords

import (
	"strings"
	"testing"

	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

// said is the mail of a letter in one line.
func said(t *testing.T, r *Renderer, l Letter) string {
	t.Helper()
	return strings.Join(strings.Fields(mailOf(t, r, l).Text), " ")
}

// at is an item of the programme to be done by a day, and not before another.
func at(t *testing.T, id string, by, from vehicle.Date) reminder.Item {
	i := item(t, id)
	i.ActBy, i.NotBefore = by, from
	return i
}

// none is no day.
var none vehicle.Date

// Letters of these tests are written on 1 April 2027.

func TestNoticesSayHowSoonTheWorkIsDue(t *testing.T) {
	r := renderer(t, aldermoorWords)
	for _, c := range []struct {
		by              vehicle.Date
		english, german string
	}{
		{day(2027, 4, 30), "Nothing is late", "Nichts ist verspätet"},
		{day(2027, 4, 8), "Nothing is late", "Nichts ist verspätet"},
		{day(2027, 4, 7), "due in the next few days", "ist in den nächsten Tagen eine Arbeit fällig"},
		{day(2027, 4, 2), "due in the next few days", "ist in den nächsten Tagen eine Arbeit fällig"},
		{day(2027, 4, 1), "is due today", "ist heute eine Arbeit fällig"},
		{day(2027, 3, 31), "The time has come", "ist eine Arbeit fällig"},
	} {
		l := letter(reminder.Early, at(t, "B02W", c.by, none))
		if got := writerOf(t, r, l).opening(); !strings.Contains(got, c.english) {
			t.Errorf("%s: got %q, want %q", c.by, got, c.english)
		}
		if got := writerOf(t, r, inGerman(l)).opening(); !strings.Contains(got, c.german) {
			t.Errorf("%s: got %q, want %q", c.by, got, c.german)
		}
	}
	// The first of several decides.
	l := letter(reminder.Early, at(t, "E01", day(2027, 5, 1), none), at(t, "B02W", day(2027, 4, 1), none))
	if got := writerOf(t, r, l).opening(); got != "Work on your vehicle is due today." {
		t.Errorf("got %q", got)
	}
}

func TestTheSummaryPromisesNoVisitBeforeTheWorkMayBeDone(t *testing.T) {
	r := renderer(t, aldermoorWords)
	circumference, dial, nuts := at(t, "W05", day(2027, 4, 9), none), at(t, "K04", day(2027, 4, 25), none), at(t, "W01", day(2027, 4, 26), day(2027, 4, 11))
	for name, c := range map[string]struct {
		items []reminder.Item
		want  string
	}{
		"not in one visit": {[]reminder.Item{circumference, dial, nuts},
			"In one visit, by 9 April 2027: 1. Rolling-circumference comparison, front against rear 2. Speedometer check against a measured distance, by 25 April 2027 Not before 11 April 2027 and by 26 April 2027: 3. Wheel-nut re-torque =="},
		"in one visit, but later": {[]reminder.Item{dial, nuts},
			"In one visit, not before 11 April 2027 and by 25 April 2027: 1. Speedometer check against a measured distance 2. Wheel-nut re-torque, by 26 April 2027 =="},
		"on one day": {[]reminder.Item{at(t, "K04", day(2027, 4, 11), none), nuts},
			"In one visit, on 11 April 2027: 1. Speedometer check against a measured distance 2. Wheel-nut re-torque, by 26 April 2027 =="},
		"far apart": {[]reminder.Item{dial, at(t, "E01", day(2027, 5, 26), none)},
			"By 25 April 2027: 1. Speedometer check against a measured distance By 26 May 2027: 2. Engine oil and filter =="},
	} {
		if got := said(t, r, letter(reminder.Early, c.items...)); !strings.Contains(got, c.want) {
			t.Errorf("%s: got %s", name, got)
		}
	}
}

func TestWhatIsOverdueStandsUnderOneHeadingAndTheOpeningAgrees(t *testing.T) {
	r := renderer(t, aldermoorWords)
	tyres, ball := at(t, "W04R", day(2024, 10, 29), none), at(t, "S03", day(2027, 3, 17), none)
	soon, far, nuts := at(t, "E01", day(2027, 4, 20), none), at(t, "E04", day(2027, 6, 20), none), at(t, "W01", day(2027, 4, 20), day(2027, 4, 3))
	same := at(t, "X01", day(2027, 3, 17), none)
	for name, c := range map[string]struct {
		items                    []reminder.Item
		opening, summary, german string
	}{
		"all of it": {[]reminder.Item{tyres, ball}, "By our records the work below is overdue on your vehicle.",
			"In one visit, as soon as possible: 1. Tyre renewal by age, the spare too, was due by 29 October 2024 2. Swivel ball and wiper-seal check, was due by 17 March 2027 ==",
			"Nach unseren Unterlagen sind die folgenden Arbeiten an Ihrem Fahrzeug überfällig."},
		"all by one day": {[]reminder.Item{ball, same}, "By our records the work below is overdue on your vehicle.",
			"In one visit, as soon as possible; all of it was due by 17 March 2027: 1. Swivel ball and wiper-seal check 2. Battery rest-voltage and terminal check ==",
			"Nach unseren Unterlagen sind die folgenden Arbeiten an Ihrem Fahrzeug überfällig."},
		"the rest goes with it": {[]reminder.Item{tyres, soon}, "By our records some of the work below is overdue on your vehicle; the rest goes well with it.",
			"In one visit, as soon as possible: 1. Tyre renewal by age, the spare too, was due by 29 October 2024 2. Engine oil and filter, by 20 April 2027 ==",
			"ist ein Teil der folgenden Arbeiten an Ihrem Fahrzeug überfällig; der Rest lässt sich gut mit erledigen."},
		"the rest comes later": {[]reminder.Item{tyres, far}, "By our records some of the work below is overdue on your vehicle; the rest comes up later.",
			"As soon as possible: 1. Tyre renewal by age, the spare too, was due by 29 October 2024 By 20 June 2027: 2. Valve-clearance check ==",
			"ist ein Teil der folgenden Arbeiten an Ihrem Fahrzeug überfällig; der Rest steht später an."},
		"some of the rest goes with it": {[]reminder.Item{tyres, soon, nuts}, "By our records some of the work below is overdue on your vehicle; the rest goes well with it or comes up later.",
			"2. Engine oil and filter, by 20 April 2027 Not before 3 April 2027 and by 20 April 2027: 3. Wheel-nut re-torque ==",
			"der Rest lässt sich gut mit erledigen oder steht später an."},
	} {
		l := letter(reminder.Overdue, c.items...)
		if got := writerOf(t, r, l).opening(); got != c.opening {
			t.Errorf("%s: it opens with %q", name, got)
		}
		if got := said(t, r, l); !strings.Contains(got, c.summary) {
			t.Errorf("%s: got %s", name, got)
		}
		if got := writerOf(t, r, inGerman(l)).opening(); !strings.Contains(got, c.german) {
			t.Errorf("%s: it opens with %q", name, got)
		}
	}
}

func TestADayThatMuchWorkSharesIsSaidOnce(t *testing.T) {
	r := renderer(t, aldermoorWords)
	soon, later := day(2027, 4, 10), day(2027, 5, 1)
	shafts, first, oil := at(t, "P01", day(2027, 3, 4), none), at(t, "X01", soon, none), at(t, "E01", later, none)
	belt, tyres, valves := at(t, "E08", later, none), at(t, "W03", later, none), at(t, "E04", later, none)
	for name, c := range map[string]struct {
		items []reminder.Item
		want  string
	}{
		"with what is overdue": {[]reminder.Item{shafts, oil, first, belt, tyres},
			"In one visit, as soon as possible: 1. Propshaft greasing, was due by 4 March 2027 2. Battery rest-voltage and terminal check, by 10 April 2027 In the same visit, what is due by 1 May 2027: 3. Engine oil and filter 4. Fan-belt tension and condition check 5. Tyre tread and condition check =="},
		"with what is due sooner": {[]reminder.Item{first, oil, belt, tyres},
			"In one visit, by 10 April 2027: 1. Battery rest-voltage and terminal check In the same visit, what is due by 1 May 2027: 2. Engine oil and filter 3. Fan-belt tension and condition check 4. Tyre tread and condition check =="},
		"a few": {[]reminder.Item{first, oil, belt},
			"In one visit, by 10 April 2027: 1. Battery rest-voltage and terminal check 2. Engine oil and filter, by 1 May 2027 3. Fan-belt tension and condition check, by 1 May 2027 =="},
	} {
		if got := said(t, r, letter(reminder.Due, c.items...)); !strings.Contains(got, c.want) {
			t.Errorf("%s: got %s", name, got)
		}
	}
	// The sections have the numbers of the list.
	got := said(t, r, letter(reminder.Due, shafts, oil, first, belt, tyres, valves))
	for _, heading := range []string{"== 1. Propshaft greasing Was", "== 2. Battery rest-voltage and terminal check Due", "== 3. Engine oil and filter Due", "== 6. Valve-clearance check Due"} {
		if !strings.Contains(got, heading) {
			t.Errorf("no %q in %s", heading, got)
		}
	}
	late := letter(reminder.Overdue, at(t, "X01", day(2027, 2, 1), none))
	for _, i := range []reminder.Item{oil, belt, tyres} {
		i.ActBy = day(2027, 3, 1)
		late.Draft.Lines = append(late.Draft.Lines, reminder.Line{Item: i, Stage: reminder.Overdue})
	}
	if got := said(t, r, late); !strings.Contains(got, "1. Battery rest-voltage and terminal check, was due by 1 February 2027 In the same visit, what was due by 1 March 2027: 2. Engine oil and filter 3.") {
		t.Errorf("got %s", got)
	}
}

func TestWorkOfWhichTheSameIsToBeSaidSharesASection(t *testing.T) {
	r := renderer(t, aldermoorWords)
	var levels []reminder.Item
	for _, id := range []string{"D01FL", "D01RL", "E08", "G01L", "T01L"} {
		levels = append(levels, at(t, id, day(2027, 5, 1), none))
	}
	got := said(t, r, letter(reminder.Early, levels...))
	if !strings.Contains(got, "== 1. Front differential oil level check; 2. Rear differential oil level check; 4. Gearbox oil level check; 5. Transfer-case oil level check Due by 1 May 2027.") ||
		!strings.Contains(got, "== 3. Fan-belt tension and condition check Due by 1 May 2027.") {
		t.Errorf("got %s", got)
	}
	if n := strings.Count(got, "A leak is quiet"); n != 1 {
		t.Errorf("said %d times: %s", n, got)
	}
	if n := strings.Count(got, "1 May 2027"); n != 3 { // over the list, and once in each section
		t.Errorf("the day is said %d times: %s", n, got)
	}
	// What differs in a word, or is asked for, stands by itself.
	levels[1].Caution = "Hot oil burns."
	levels[3].ActBy = day(2027, 5, 2)
	got = said(t, r, letter(reminder.Early, append(levels, at(t, "D01F", day(2027, 5, 1), none), at(t, "D01R", day(2027, 5, 1), none))...))
	for _, heading := range []string{"== 1. Front differential oil level check; 5. Transfer-case oil level check Due", "== 2. Rear differential oil level check Due", "== 4. Gearbox oil level check Due", "== 6. Front differential oil change Due", "== 7. Rear differential oil change Due"} {
		if !strings.Contains(got, heading) {
			t.Errorf("no %q in %s", heading, got)
		}
	}
}

func TestOthersThanTheOwnerReadOfTheVehicleAndNotOfTheirs(t *testing.T) {
	r := renderer(t, aldermoorWords)
	for name, make := range letters {
		for role, own := range map[string]bool{"owner": true, "executor": false, "payer": false, "caretaker": false} {
			l := make(t)
			l.Draft.To.Role = role
			english, german := said(t, r, l), said(t, r, inGerman(l))
			if strings.Contains(english, "your vehicle") && !own || strings.Contains(german, "Ihrem Fahrzeug") && !own || strings.Contains(german, "Ihres Fahrzeugs") && !own {
				t.Errorf("%s reads in %s of their vehicle: %s", role, name, english)
			}
			if name == "due" && own && !strings.Contains(english, "your vehicle") {
				t.Errorf("the owner does not read of their vehicle: %s", english)
			}
		}
	}
}
