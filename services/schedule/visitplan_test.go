package schedule_test

import (
	"strings"
	"testing"

	"halfshaft/services/schedule"
	"halfshaft/services/vehicle"
)

// visitsText is a plan as "2023-06-01: A1 B1; undone: C1".
func visitsText(p *schedule.VisitPlan) string {
	var all []string
	for i := range p.Visits {
		text := vehicle.DateFromOrdinal(int(p.Visits[i].Day)).String() + ":"
		for _, n := range p.Visits[i].Tasks {
			text += " " + p.Tasks[n].ID
		}
		all = append(all, text)
	}
	for _, n := range p.Undone {
		all = append(all, "undone: "+p.Tasks[n].ID)
	}
	return strings.Join(all, "; ")
}

func TestWhenVisitsFall(t *testing.T) {
	yearly := schedule.Item{ID: "A1", Every: limit(0, 12)}
	salted := yearly
	salted.Severe = schedule.Severe{When: []schedule.UseKind{schedule.SaltCoast}, TimeFactor: vehicle.Decimal{Coefficient: 5, Scale: 1}}
	wheel := schedule.Item{ID: "A1", StartsOn: []schedule.EventStart{
		{Event: schedule.WheelRefitted, NotBefore: miles(50), WithinDistance: miles(100), WithinDays: 3}}}
	for _, c := range []struct {
		name    string
		item    schedule.Item
		prepare func(*world)
		on      string
		want    string
	}{
		{"what was missed three times is done once, and then a year later", yearly, func(*world) {},
			"2023-06-01", "2023-06-01: A1; 2024-06-01: A1; 2025-06-01: A1"},
		{"what is overdue in a lay-up is done when it is over", yearly,
			func(w *world) { w.use(schedule.LaidUp, "2023-05-01", "2023-12-31") },
			"2023-06-01", "2024-01-01: A1; 2025-01-01: A1"},
		{"and on no day that is known, when it is not to end", yearly,
			func(w *world) { w.use(schedule.LaidUp, "2023-05-01", "") }, "2023-06-01", "undone: A1"},
		{"hard use shortens every round", salted,
			func(w *world) { w.use(schedule.SaltCoast, "2020-01-01", "").done("2023-01-01", "A1") },
			"2023-06-01", "2023-07-01: A1; 2024-01-01: A1; 2024-07-01: A1; 2025-01-01: A1"},
		// 1,200 miles a year: 50 are driven after 15 days.
		{"what does no good before its days are out is done when it does", wheel,
			func(w *world) { w.event("2023-06-01", schedule.WheelRefitted) }, "2023-06-01", "2023-06-16: A1"},
	} {
		w := delivered(t, "2020-01-01", c.item)
		c.prepare(w)
		p := w.at(c.on).PlanVisits(schedule.VisitRules{}, on(c.on).AddMonths(24))
		if got := visitsText(p); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestAPlanStopsWhereTheCalendarDoes(t *testing.T) {
	w := delivered(t, "2020-01-01").done("9998-06-01", "A1")
	w.Uses = []schedule.UseFact{{Kind: schedule.Seasonal, Start: on("2020-01-01"), FirstMonth: 5, LastMonth: 9}}
	p := w.at("9999-05-01").PlanVisits(schedule.VisitRules{}, on("9999-05-01").AddMonths(24))
	if got := visitsText(p); !strings.HasPrefix(got, "9999-06-01: A1") {
		t.Error(got)
	}
}

func TestAnEventsWindowIsNotOverBeforeItOpens(t *testing.T) {
	w := delivered(t, "2020-01-01", schedule.Item{ID: "A1", StartsOn: []schedule.EventStart{
		{Event: schedule.WheelRefitted, NotBefore: miles(50), WithinDistance: miles(100), WithinDays: 3}}})
	s, st := w.event("2023-06-01", schedule.WheelRefitted).status("2023-06-01", "A1")
	if got := s.Window(st); got.SensibleFrom.String() != "2023-06-16" || got.Latest.Before(got.SensibleFrom) {
		t.Errorf("from %v to %v", got.SensibleFrom, got.Latest)
	}
}

func TestASeasonOverTheTurnOfTheYearIsNamedFromItsBeginning(t *testing.T) {
	w := delivered(t, "2020-01-01")
	w.Uses = []schedule.UseFact{{Kind: schedule.Seasonal, Start: on("2020-01-01"), FirstMonth: 11, LastMonth: 2}}
	p := w.at("2020-06-01").PlanVisits(schedule.VisitRules{}, on("2022-06-01"))
	if got := p.Reasons(); len(got) == 0 || !strings.Contains(got[0].Sentence, "in November, December, January and February, ") {
		t.Errorf("the season is named so: %v", got)
	}
}
