package bulletin_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"halfshaft/services/bulletin"
	"halfshaft/services/vehicle"
)

// list is a campaign of ten vehicles, each with another story.
func list(t testing.TB) (bulletin.Bulletin, []bulletin.FollowUp) {
	t.Helper()
	b := relays(false)
	b.State, b.Issued, b.Reported = bulletin.Issued, entered, entered
	today := day(2026, 11, 25)
	told := did(bulletin.StepNotified, day(2026, 3, 12))
	booked := did(bulletin.StepBooked, day(2026, 12, 1))
	booked.Recorded = at(day(2026, 6, 20))
	left := bulletin.Step{Kind: bulletin.StepNoLongerMeets, Date: day(2026, 6, 3), RecordedBy: bulletin.ByService, Recorded: at(day(2026, 6, 3))}
	var all []bulletin.FollowUp
	for i, steps := range [][]bulletin.Step{
		{},
		{told},
		{told, remedied(t, day(2026, 3, 30), "0.2 mm")},
		{told, remedied(t, day(2026, 5, 2), "0.2 mm"), did(bulletin.StepFoundWrong, day(2026, 6, 10))},
		{told, did(bulletin.StepPartNotThere, day(2026, 4, 2))},
		{did(bulletin.StepOwnerUnknown, day(2026, 3, 10))},
		{told, did(bulletin.StepExported, day(2026, 5, 20))},
		{told, did(bulletin.StepScrapped, day(2026, 6, 1))},
		{told, did(bulletin.StepRefused, day(2026, 4, 4))},
		{did(bulletin.StepNotified, day(2026, 5, 9))},
	} {
		f := entry(entered)
		f.Serial = issuedSerials[i]
		all = append(all, record(t, f, today, steps...))
	}
	all[0].Steps = append(all[0].Steps, left)
	late := entry(day(2026, 5, 25)) // came on the list when a component moved
	late.Serial = issuedSerials[10]
	late.Steps = append(late.Steps, booked)
	return b, append(all, late)
}

func TestAQuarterReportReadsLikeThis(t *testing.T) {
	b, all := list(t)
	r := bulletin.QuarterReport(&b, all, bulletin.Quarter{Year: 2026, Number: 2})
	golden(t, "testdata/quarter.txt", r.Sentences())
	day := bulletin.ReportOn(&b, all, entered.AddDays(20))
	golden(t, "testdata/report.txt", day.Sentences())
}

func TestTheClassesOfAReportAddUp(t *testing.T) {
	b, all := list(t)
	r := bulletin.QuarterReport(&b, all, bulletin.Quarter{Year: 2026, Number: 2})
	want := bulletin.Counts{Vehicles: 11, Notified: 8, Remedied: 1, NotNeeded: 1, Unreachable: 1, Exported: 1, Scrapped: 1, Refused: 1, Outstanding: 5, NoLongerMeets: 1}
	if r.Counts != want {
		t.Errorf("got  %+v\nwant %+v", r.Counts, want)
	}
	first := bulletin.QuarterReport(&b, all, bulletin.Quarter{Year: 2026, Number: 1})
	if n := first.Counts.Vehicles; n != 10 || first.InQuarter != first.Counts {
		t.Errorf("in the first quarter %+v, of which new %+v", first.Counts, first.InQuarter)
	}
	if r.InQuarter.Vehicles != 1 || r.InQuarter.Remedied != 0 || r.InQuarter.Exported != 1 {
		t.Errorf("in the second quarter %+v", r.InQuarter)
	}
	if r.NotifyBy != day(2026, 5, 8) || r.NotifiedBy != 7 { // 60 days; one was told on the day after
		t.Errorf("%d told by %v", r.NotifiedBy, r.NotifyBy)
	}
	why := map[string]int{}
	for _, m := range r.Missing {
		why[m.Why.Rule]++
	}
	if len(r.Missing) != 8 || why["OWNER_UNKNOWN"] != 1 || why["NO_ANSWER"] != 2 || why["EXPORTED"] != 1 || why["REFUSED"] != 1 ||
		why["DONE_WRONG"] != 1 || why["BOOKED"] != 1 || why["NO_LONGER_MEETS"] != 1 {
		t.Errorf("missing: %v", why)
	}
}

func TestTheCompletionCurve(t *testing.T) {
	b, all := list(t)
	type point struct {
		on                            string
		days, on1, completed, scraped int
	}
	var got []point
	for _, p := range bulletin.ReportOn(&b, all, day(2026, 6, 30)).Curve {
		got = append(got, point{p.On.String(), p.Days, p.Vehicles, p.Completed, p.Scrapped})
	}
	want := []point{
		{"2026-03-09", 0, 10, 0, 0}, {"2026-03-30", 21, 10, 1, 0}, {"2026-04-02", 24, 10, 2, 0}, {"2026-05-02", 54, 10, 3, 0},
		{"2026-05-25", 77, 11, 3, 0}, {"2026-06-01", 84, 11, 3, 1}, {"2026-06-10", 93, 11, 2, 1},
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %v\nwant %v", got, want)
	}
	if p := (bulletin.CurvePoint{Vehicles: 11, Completed: 2, Scrapped: 1}); p.Share() != 0.2 {
		t.Errorf("share %v", p.Share())
	}
	if p := (bulletin.CurvePoint{Vehicles: 1, Scrapped: 1}); p.Share() != 0 {
		t.Errorf("share of nobody %v", p.Share())
	}
}

// TestTheCurveIsWhatCountingEachDayGives holds the curve against counting all
// vehicles day by day, over random histories.
func TestTheCurveIsWhatCountingEachDayGives(t *testing.T) {
	b := relays(false)
	b.Issued = entered
	ready := prepare(t, b)
	rapid.Check(t, func(r *rapid.T) {
		var all []bulletin.FollowUp
		last := entered.AddDays(120)
		for i := range rapid.IntRange(0, 5).Draw(r, "vehicles") {
			today := entered.AddDays(rapid.IntRange(0, 30).Draw(r, "entered"))
			f := entry(today)
			f.Serial = issuedSerials[i]
			for range rapid.IntRange(0, 8).Draw(r, "events") {
				today = today.AddDays(rapid.IntRange(0, 20).Draw(r, "later"))
				f = happens(t, r, f, ready, today)
			}
			all = append(all, f)
		}
		curve := bulletin.ReportOn(&b, all, last).Curve
		at, next := bulletin.CurvePoint{}, 0
		for d := entered; !d.After(last); d = d.AddDays(1) {
			if next < len(curve) && curve[next].On == d {
				at, next = curve[next], next+1
			}
			vehicles, completed, scrapped := 0, 0, 0
			for i := range all {
				switch st := all[i].StandingOn(d); {
				case st.State == bulletin.NoFollowUpState:
				case st.State == bulletin.Done, st.State == bulletin.NotNeeded:
					completed++
					vehicles++
				case st.State == bulletin.Scrapped:
					scrapped++
					vehicles++
				default:
					vehicles++
				}
			}
			if at.Vehicles != vehicles || at.Completed != completed || at.Scrapped != scrapped {
				r.Fatalf("on %v the curve has %+v, counting gives %d, %d, %d", d, at, vehicles, completed, scrapped)
			}
		}
		if next != len(curve) {
			r.Fatalf("a point of the curve lies outside: %v", curve[next:])
		}
		c := bulletin.ReportOn(&b, all, last).Counts
		if sum := c.Remedied + c.NotNeeded + c.Unreachable + c.Exported + c.Scrapped + c.Refused + c.CalledOff + c.Outstanding; sum != c.Vehicles {
			r.Fatalf("the classes add up to %d of %d vehicles", sum, c.Vehicles)
		}
	})
}

// TestGrowthNotifiesOnce lets a random fleet live on, with a pass each month:
// each vehicle that is ever in the set comes on the list once, none leaves it,
// and no letter's name comes twice.
func TestGrowthNotifiesOnce(t *testing.T) {
	w := newWorld(120, 5)
	w.on = day(2014, 1, 1)
	b := bulletinFor(bulletin.Set{When: &bulletin.Condition{Fitted: &bulletin.FittedUnit{Position: "gearbox", Parts: []string{"AP-2041", "AP-2050"}, Lots: []string{"L07"}}}})
	ready := prepare(t, b)
	var written []vehicle.Serial
	list := map[vehicle.Serial]*bulletin.FollowUp{}
	told := map[string]int{}
	passes, left, cured, grown := 0, 0, 0, 0
	for ; w.on.Before(day(2026, 1, 1)); w.on = w.on.AddMonths(1) {
		passes++
		f := w.fleet(t)
		g := ready.Grow(written, f)
		for _, m := range g.Entered {
			if list[m.Serial] != nil {
				t.Fatalf("%s comes on the list a second time on %v", m.Serial, w.on)
			}
			follow := b.Enter(m, w.on, at(w.on))
			list[m.Serial] = &follow
			written = append(written, m.Serial)
			if passes > 1 {
				grown++
			}
		}
		if again := ready.Grow(written, f); len(again.Entered) > 0 {
			t.Fatalf("the same pass enters %v again", again.Entered)
		}
		for _, ms := range [][]bulletin.Match{g.Left, g.Cured} {
			for _, m := range ms {
				list[m.Serial].Steps = append(list[m.Serial].Steps, list[m.Serial].Observe(bulletin.Seen{Match: &m}, w.on, at(w.on))...)
			}
		}
		left, cured = left+len(g.Left), cured+len(g.Cured)
		members := ready.Members(f)
		for serial, follow := range list {
			st := follow.Standing()
			if in := slices.Contains(members, serial); in && !st.NoLongerMeets.IsZero() && !slices.ContainsFunc(g.Left, func(m bulletin.Match) bool { return m.Serial == serial }) {
				m, _ := ready.Match(f, serial)
				follow.Steps = append(follow.Steps, follow.Observe(bulletin.Seen{Match: &m}, w.on, at(w.on))...)
			} else if !in && st.NoLongerMeets.IsZero() && !st.State.Settled() {
				t.Fatalf("%s is out of the set on %v, and nobody says so", serial, w.on)
			}
			if l, ok := follow.Tell(&b, w.on); ok {
				name := string(serial) + " " + l.Cycle
				if told[name]++; told[name] > 1 {
					t.Fatalf("%s goes out twice", name)
				}
				follow.Steps = append(follow.Steps, did(bulletin.StepNotified, w.on))
			}
		}
		for _, m := range members {
			if list[m] == nil {
				t.Fatalf("%s is in the set on %v and on no list", m, w.on)
			}
		}
	}
	t.Logf("%d passes, %d on the list of which %d came later, %d letters; found out of the set %d times, cured %d times", passes, len(list), grown, len(told), left, cured)
	if grown == 0 || left == 0 || cured == 0 {
		t.Error("nothing of the kind happened: the test tests nothing")
	}
	if g := ready.Grow(append(written, "AM0147P"), bulletin.NewFleet(nil, w.on)); len(g.Gone) != len(written)+1 || len(g.Entered)+len(g.Left) > 0 {
		t.Errorf("of an empty fleet: %+v", g)
	}
}
