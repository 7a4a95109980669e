package schedule_test

import (
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"halfshaft/services/schedule"
	"halfshaft/services/schedule/schedulewire"
	"halfshaft/services/vehicle"
)

var update = flag.Bool("update", false, "write the golden files anew; read the difference before committing it")

// packhorse is a sample Packhorse with a history: low mileage by the sea, laid
// up in winter, waded once, re-shimmed in its eleventh year.
func packhorse(t testing.TB) *world {
	w := &world{t: t, plan: compiled(t, sample(t, 2)), fitted: everything().Fitted}
	w.plan.Follow(compiled(t, sample(t, 1)))
	w.Delivered = on("2014-04-10")
	w.Segments = []schedule.Segment{{From: on("2014-04-10"), Dial: mileDial, FactorPPM: 974_501, Start: miles(212)}}
	for position := range w.fitted {
		w.components = append(w.components, schedule.Component{Position: position, Fitted: on("2014-03-20")})
	}
	slices.SortFunc(w.components, func(a, b schedule.Component) int { return strings.Compare(a.Position, b.Position) })
	for i := range w.components {
		switch w.components[i].Position {
		case "output-shaft-bearing":
			w.components[i].Bedding = on("2025-05-12")
		case "tyres", "battery":
			w.components[i].Fitted = on("2021-05-03")
		}
	}
	for i, mi := range []int64{640, 1150, 1580, 2040, 2620, 3110, 3380, 3900, 4420, 4890, 5400} {
		w.read(fmt.Sprintf("%d-09-20", 2014+i), miles(mi))
	}
	w.read("2025-05-12", miles(5460)).read("2025-09-20", miles(59020)) // tenths
	for y := 2014; y < 2026; y++ {
		w.use(schedule.LaidUp, fmt.Sprintf("%d-11-01", y), fmt.Sprintf("%d-03-31", y+1))
	}
	w.use(schedule.SaltCoast, "2019-06-01", "")
	w.done("2014-06-20", "E01", "G01", "T01", "D01F", "D02R", "T02", "W01", "L01", "L02", "S05", "S04", "E04", "E06")
	w.done("2024-10-15", "E01", "E04", "E06", "E07R", "B01", "C01F", "B02F", "B02R", "B04", "T04", "R01", "R02", "R03", "W01", "K02")
	w.done("2025-05-12", "T01", "T02", "P01", "S05", "S01", "D01F", "D02R", "G01", "W01", "E10", "X01", "W03", "B04")
	w.event("2025-05-12", schedule.WheelRefitted).event("2025-09-14", schedule.Wading)
	return w
}

// text is a schedule as a person reads it.
func text(w *world, s *schedule.Schedule) string {
	var b strings.Builder
	unit := s.Unit()
	fmt.Fprintf(&b, "On %s: about %s driven. %s\n", s.On.Long(), s.Distance.Text(unit), s.Evidence(unit).Sentence)
	for i := range s.Ledger.Outcomes {
		if s.Ledger.Outcomes[i].State != schedule.Doubtful {
			continue
		}
		fmt.Fprintf(&b, "Doubtful: %s on %s.\n", w.Marks[i].Value, w.Marks[i].Date.Long())
		for _, e := range s.Ledger.Explain(i) {
			fmt.Fprintf(&b, "  %s: %s\n", e.Rule, e.Sentence)
		}
	}
	order := make([]*schedule.Status, len(s.Statuses))
	for i := range s.Statuses {
		order[i] = &s.Statuses[i]
	}
	slices.SortStableFunc(order, (*schedule.Status).Before)
	names := []string{"", "not yet", "coming", "due", "OVERDUE", "nothing"}
	for _, st := range order {
		reasons, sentence := s.Explain(st)
		rules := make([]string, len(reasons))
		for i, r := range reasons {
			rules[i] = r.Rule
		}
		fmt.Fprintf(&b, "%-8s %s\n         [%s] act by %s\n", names[st.State], sentence, strings.Join(rules, " "), st.ActBy())
	}
	return b.String()
}

func TestSchedulesReadAsTheGoldenFilesSay(t *testing.T) {
	w := packhorse(t)
	for _, day := range []string{"2014-05-01", "2025-05-20", "2025-09-16", "2026-01-15"} {
		path := "testdata/packhorse-" + day + ".golden"
		got := text(w, w.at(day))
		if *update {
			if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), got); diff != "" {
			t.Errorf("%s: %s", path, diff)
		}
	}
}

func TestTimeLimbsThatDecideSaySoInWords(t *testing.T) {
	w := packhorse(t)
	s := w.at("2026-01-15")
	byTime := 0
	for i := range s.Statuses {
		st := &s.Statuses[i]
		if !st.Open() || st.Binding != schedule.TimeLimb {
			continue
		}
		byTime++
		_, sentence := s.Explain(st)
		if !strings.Contains(sentence, " since ") && !strings.Contains(sentence, " after ") && !strings.Contains(sentence, "at once") {
			t.Errorf("it does not say from when: %s", sentence)
		}
	}
	if byTime < 40 {
		t.Errorf("only %d items are decided by time", byTime)
	}
}

func TestProgrammesComeBackFromTheirMessages(t *testing.T) {
	for version := 1; version <= 2; version++ {
		p := sample(t, version)
		message := schedulewire.ProgrammeProto(p)
		back, err := schedulewire.Programme(message)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(*p, back); diff != "" {
			t.Errorf("version %d: %s", version, diff)
		}
	}
}

func TestAProgrammeIsRefusedWithAllThatIsWrongWithIt(t *testing.T) {
	five := vehicle.Decimal{Coefficient: 5}
	p := schedule.Programme{ID: "Pack Horse", Version: 0, Items: []schedule.Item{
		{ID: "e1", Every: schedule.Limit{Months: -1}, LayUp: 9, SourceMark: "d"},
		{ID: "A1", Title: "x", Group: "y", SourceMark: "a", Severe: schedule.Severe{TimeFactor: five}, Resets: []string{"A1", "Q9"}},
		{ID: "A1", Title: "x", Group: "y", SourceMark: "a", Every: schedule.Limit{Distance: miles(0)},
			Measured:   []schedule.MeasuredLimit{{Characteristic: "gap", Unit: "mm"}},
			StartsOn:   []schedule.EventStart{{Event: 99, NotBefore: miles(100), WithinDistance: miles(30)}},
			NoticeDays: 999},
	}}
	var got []string
	for _, f := range p.Validate() {
		got = append(got, f.Name)
	}
	want := []string{
		"name", "title", "effective_date", "signed_by",
		"items[0].item_id", "items[0].title", "items[0].group", "items[0].every.months", "items[0].lay_up", "items[0].source_mark",
		"items[A1].severe.time_factor", "items[A1].severe", "items[A1].every",
		"items[A1].item_id", "items[A1].every.distance", "items[A1].starts_on[0].event", "items[A1].starts_on[0].not_before",
		"items[A1].measured[0]", "items[A1].notice_days", "items[A1].resets[0]", "items[A1].resets[1]",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
