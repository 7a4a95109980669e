package aldermoor_test

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	partsv1 "halfshaft/proto/halfshaft/parts/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	"halfshaft/services/vehicle"
	"halfshaft/services/vehicle/vehiclewire"
	"halfshaft/services/works"
	"halfshaft/testdata/aldermoor"
)

// These tests import the demo works into a process of all services and ask what
// STORIES.md tells people to look at. What is wanted is the hard case itself;
// the dates follow from the programme's intervals and the story's own days.

// demo is a process with the demo works in it.
func demo(t *testing.T) (context.Context, works.Clients) {
	t.Helper()
	noon := aldermoor.Today.Start(time.UTC).Add(12 * time.Hour)
	p, err := works.Start(t.Context(), works.Config{Data: t.TempDir(), Passes: works.Never, Clock: func() time.Time { return noon }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	dir := filepath.Join(t.TempDir(), "files")
	if err := os.CopyFS(dir, aldermoor.Files); err != nil {
		t.Fatal(err)
	}
	ctx, c := works.Operator(context.Background()), p.Clients()
	var report strings.Builder
	if ok, err := works.Import(ctx, c, aldermoor.Today, []string{dir}, false, &report, io.Discard); err != nil || !ok {
		t.Fatalf("the demo's files were refused: %v\n%s", err, report.String())
	}
	return ctx, c
}

func TestEveryStoryIsStillTold(t *testing.T) {
	ctx, c := demo(t)
	t.Run("what a vehicle is", func(t *testing.T) { fitted(t, ctx, c) })
	t.Run("which vehicle is meant", func(t *testing.T) { found(t, ctx, c) })
	t.Run("which part fits", func(t *testing.T) { answered(t, ctx, c) })
	t.Run("which part fits at a place on an assembly", func(t *testing.T) { placed(t, ctx, c) })
	t.Run("what the odometer says", func(t *testing.T) { read(t, ctx, c) })
	t.Run("what is due", func(t *testing.T) { due(t, ctx, c) })
	t.Run("what was measured", func(t *testing.T) { measured(t, ctx, c) })
	t.Run("how it is used", func(t *testing.T) { used(t, ctx, c) })
}

func fitted(t *testing.T, ctx context.Context, c works.Clients) {
	for _, s := range []struct {
		serial, on, position, part, unit string
		origin                           buildv1.FittedOrigin
	}{
		{"AM0102E", "2017-05-03", "air-cleaner", "AP-1020", "", buildv1.FittedOrigin_FITTED_ORIGIN_RELEASE},
		{"AM0102E", "2017-05-04", "air-cleaner", "AP-1021", "", buildv1.FittedOrigin_FITTED_ORIGIN_SERVICE},
		{"AM0103C", "2018-03-12", "brake-hydraulics", "AP-4047", "MC2201", buildv1.FittedOrigin_FITTED_ORIGIN_CAMPAIGN},
		{"AM01058", "2019-06-02", "rear-axle-differential", "AP-3010", "R1052", buildv1.FittedOrigin_FITTED_ORIGIN_BUILD},
		{"AM01058", "2019-06-03", "rear-axle-differential", "AP-3010", "R9004", buildv1.FittedOrigin_FITTED_ORIGIN_SERVICE},
		{"AM01066", "2019-06-10", "rear-axle-differential", "AP-3010", "R1052", buildv1.FittedOrigin_FITTED_ORIGIN_SERVICE},
		{"AM0110E", "2020-09-09", "distributor", "AP-1045", "", buildv1.FittedOrigin_FITTED_ORIGIN_OWNER},
		{"AM0158J", "2026-02-10", "free-wheel-hubs", "AP-3300", "", buildv1.FittedOrigin_FITTED_ORIGIN_OPTION},
		{"AM0158J", "2026-02-09", "tow-hitch", "AP-8020", "", buildv1.FittedOrigin_FITTED_ORIGIN_OPTION},
		{"AM0158J", "2026-02-10", "tow-hitch", "", "", 0},
	} {
		conf, err := c.Builds.GetConfiguration(ctx, &buildv1.GetConfigurationRequest{Name: "builds/" + s.serial, OnDate: vehiclewire.DateProto(day(t, s.on))})
		if err != nil {
			t.Fatal(err)
		}
		var got *buildv1.Fitted
		if i := slices.IndexFunc(conf.GetFitted(), func(f *buildv1.Fitted) bool { return f.GetComponent().GetPosition() == s.position }); i >= 0 {
			got = conf.GetFitted()[i]
		}
		if u := got.GetComponent(); u.GetPart() != s.part || u.GetSerial() != s.unit || got.GetOrigin() != s.origin {
			t.Errorf("%s on %s, %s: got %s %s by %s, want %s %s by %s", s.serial, s.on, s.position, u.GetPart(), u.GetSerial(), got.GetOrigin(), s.part, s.unit, s.origin)
		}
	}
	amendments, err := c.Builds.ListAmendments(ctx, &buildv1.ListAmendmentsRequest{Parent: "builds/AM01090"})
	if err != nil {
		t.Fatal(err)
	}
	if a := amendments.GetAmendments(); len(a) != 1 || a[0].GetBefore().GetKeyNumbers()[0] != "K308" {
		t.Errorf("the correction of AM01090: got %v", a)
	}
	record, err := c.Builds.GetBuild(ctx, &buildv1.GetBuildRequest{Name: "builds/AM01090"})
	if err != nil {
		t.Fatal(err)
	}
	// But for the key number the record reads as it did.
	before := amendments.GetAmendments()[0].GetBefore()
	if len(before.GetRoadTest()) != len(record.GetRoadTest()) || before.GetMeasurements()[2].GetValue().GetUnit() != record.GetMeasurements()[2].GetValue().GetUnit() {
		t.Error("the record of AM01090 before its correction differs in more than the key number: mend amendments/")
	}
}

func found(t *testing.T, ctx context.Context, c works.Clients) {
	for _, s := range []struct {
		query   string
		matches []string // with "former " before what is of the past
		near    string
	}{
		{"O05O7", []string{"AM0104A"}, ""},
		{"AM O1 O4 A", nil, "builds/AM0104A"},
		{"PH 1", []string{"former AM01074", "AM01090"}, ""},
		{"R1052", []string{"former AM01058", "AM01066"}, ""},
	} {
		got, err := c.Builds.FindBuilds(ctx, &buildv1.FindBuildsRequest{Query: s.query})
		if err != nil {
			t.Fatal(err)
		}
		var matches []string
		for _, m := range got.GetMatches() {
			serial := strings.TrimPrefix(m.GetBuild(), "builds/")
			if m.GetFormer() {
				serial = "former " + serial
			}
			matches = append(matches, serial)
		}
		if !slices.Equal(matches, s.matches) || s.near != "" && !slices.Contains(got.GetNearSerials(), s.near) {
			t.Errorf("%q: got %v, near %v; want %v, near %q", s.query, matches, got.GetNearSerials(), s.matches, s.near)
		}
	}
}

func answered(t *testing.T, ctx context.Context, c works.Clients) {
	for _, s := range []struct {
		serial, question, order string // several orders joined by "+"
		rule                    string // a reason that is given, or the rule of the refusal
	}{
		{"AM0101G", "fan belt", "AP-1063", "SUPERSEDED"},
		{"AM0102E", "air cleaner", "AP-1021", "UPGRADED"},
		{"AM0104A", "alternator", "AP-6010", "CONDITION_NOT_MET"},
		{"AM0111C", "alternator", "AP-6011", "SUPERSEDED"},
		{"AM0112A", "AP-2072", "AP-2070", "KIT"},
		{"AM0112A", "re-shim kit", "AP-2070", "SUPERSEDED"},
		{"AM01082", "swivel seal", "AP-31002+AP-31102A", "Left or right?"},
		{"AM01082", "swivel seal left", "AP-31002", "APPLICATION"},
		{"AM01082", "swivle seal right", "AP-31102A", "APPLICATION"},
		{"AM0120A", "outrigger left", "", "UNAVAILABLE"},
		{"AM0101G", "starter motor", "AP-6020", "SUPERSESSION_OTHER_RELEASE"},
		{"AM0154R", "starter motor", "AP-6021", "SUPERSEDED"},
		{"AM0101G", "exhaust", "AP-1121", "SUPERSEDED"},
		{"AM0103C", "brake hydraulics", "AP-4047", "CAMPAIGN_OUTRANKS"},
		{"AM0110E", "distributor", "AP-1040", "OWNER_MODIFICATION"},
	} {
		a, err := c.Parts.AnswerPart(ctx, &partsv1.AnswerPartRequest{Build: "builds/" + s.serial, Question: s.question})
		if err != nil {
			t.Fatal(err)
		}
		rules := []string{a.GetRefusal().GetRule(), a.GetAskBack()}
		var orders []string
		for _, choice := range a.GetChoices() {
			orders = append(orders, strings.TrimPrefix(choice.GetOrder().GetName(), "parts/"))
			for _, r := range choice.GetReasons() {
				rules = append(rules, r.GetRule())
			}
		}
		if order := strings.Join(orders, "+"); order != s.order || !slices.Contains(rules, s.rule) {
			t.Errorf("%s, %s: got %q by %v, want %q by %s", s.serial, s.question, order, rules, s.order, s.rule)
		}
	}
	refused, err := c.Parts.AnswerPart(ctx, &partsv1.AnswerPartRequest{Build: "builds/AM0120A", Question: "outrigger left"})
	if err != nil || !strings.Contains(refused.GetRefusal().GetSentence(), "ADR-5050") {
		t.Errorf("the outrigger: got %v, %v; want the drawing", refused, err)
	}
}

func read(t *testing.T, ctx context.Context, c works.Clients) {
	for _, s := range []struct {
		serial   string
		doubtful int
		likeliest, would,
		verdict string // of the last doubtful one; or "" for none
	}{
		{"AM01138", 5, "ROLLOVER", "705", "VERDICT_ROLLED_OVER"},
		{"AM0119X", 1, "TENTHS_AS_UNITS", "11561.6", "VERDICT_CORRECTED"},
		{"AM01218", 1, "DIGITS_SWAPPED", "3621", "VERDICT_CORRECTED"},
		{"AM01322", 1, "OTHER_UNIT", "3455", "VERDICT_CORRECTED"},
		{"AM01234", 0, "", "", ""},
		{"AM01146", 0, "", "", ""},
		{"AM01162", 0, "", "", ""},
		{"AM01226", 0, "", "", ""},
	} {
		got, err := c.Schedules.ListReadings(ctx, &schedulev1.ListReadingsRequest{Parent: "vehicles/" + s.serial, PageSize: 500})
		if err != nil {
			t.Fatal(err)
		}
		var last *schedulev1.Reading
		n, before := 0, int64(0)
		for _, r := range got.GetReadings() {
			switch r.GetState() {
			case schedulev1.ReadingState_READING_STATE_DOUBTFUL:
				last = r
				n++
			case schedulev1.ReadingState_READING_STATE_COUNTED:
				if r.GetLifeDistance().GetMillimetres() < before {
					t.Errorf("%s: the true distance falls at %s", s.serial, r.GetName())
				}
				before = r.GetLifeDistance().GetMillimetres()
			}
		}
		if n != s.doubtful {
			t.Errorf("%s: %d doubtful readings, want %d", s.serial, n, s.doubtful)
		}
		if e := last.GetExplanations(); s.doubtful > 0 && n > 0 && (e[0].GetRule() != s.likeliest || e[0].GetWouldRead().GetEnteredValue() != s.would || e[0].GetVerdict().String() != s.verdict) {
			t.Errorf("%s: got %v first, want %s, %s", s.serial, e[0], s.likeliest, s.would)
		}
	}
}

func measured(t *testing.T, ctx context.Context, c works.Clients) {
	for _, s := range []struct {
		serial, on, position, characteristic string
		last                                 schedulev1.MeasuredVerdict
		direction                            schedulev1.TrendDirection
		breaks, forecasts                    int
	}{
		{"AM01082", "2026-05-18", "output-shaft-bearing", "end-float", schedulev1.MeasuredVerdict_MEASURED_VERDICT_OUTSIDE_WINDOW, schedulev1.TrendDirection_TREND_DIRECTION_RISING, 0, 1},
		{"AM0101G", "2022-03-01", "output-shaft-bearing", "end-float", schedulev1.MeasuredVerdict_MEASURED_VERDICT_OUTSIDE_WINDOW, schedulev1.TrendDirection_TREND_DIRECTION_RISING, 0, 1},
		{"AM0101G", "2026-05-18", "output-shaft-bearing", "end-float", schedulev1.MeasuredVerdict_MEASURED_VERDICT_OUTSIDE_WINDOW, schedulev1.TrendDirection_TREND_DIRECTION_UNSPECIFIED, 2, 0},
		{"AM0103C", "2026-05-18", "tyres", "tread-depth", schedulev1.MeasuredVerdict_MEASURED_VERDICT_WITHIN, schedulev1.TrendDirection_TREND_DIRECTION_FALLING, 1, 2},
	} {
		got, err := c.Schedules.ListMeasuredSeries(ctx, &schedulev1.ListMeasuredSeriesRequest{Parent: "vehicles/" + s.serial,
			OnDate: vehiclewire.DateProto(day(t, s.on)), Position: s.position, Characteristic: s.characteristic})
		if err != nil || len(got.GetMeasuredSeries()) != 1 {
			t.Fatalf("%s: %v, %d series", s.serial, err, len(got.GetMeasuredSeries()))
		}
		m := got.GetMeasuredSeries()[0]
		last := m.GetValues()[len(m.GetValues())-1]
		if last.GetVerdict() != s.last || m.GetTrend().GetDirection() != s.direction || len(m.GetBreaks()) != s.breaks || len(m.GetTrend().GetForecasts()) != s.forecasts {
			t.Errorf("%s on %s: last %s, %s, %d breaks, %d forecasts", s.serial, s.on, last.GetVerdict(), m.GetTrend().GetDirection(), len(m.GetBreaks()), len(m.GetTrend().GetForecasts()))
		}
	}
}

func due(t *testing.T, ctx context.Context, c works.Clients) {
	const today = "2026-05-18"
	for _, s := range []struct {
		serial, on, item string
		act              string // the day to act on; "about" where it rests on the pace, "" for nothing to do, "none" for an item that does not apply
		rule             string
	}{
		{"AM0101G", today, "T02", "2026-09-02", "COUNTED_FROM_FITTING"}, // 6 months from the re-shim of 2 March
		{"AM0102E", today, "E02", "none", ""},
		{"AM0102E", today, "E03", "2028-03-04", "LAST_DONE"},
		{"AM0164N", today, "E01", "about", "PACE_ASSUMED"},
		{"AM0134Z", today, "E01", "2027-03-09", "TIME_LIMB_FIRST"},
		{"AM0155P", "2024-03-05", "K02", "2026-02-28", "COUNTED_FROM_DELIVERY"}, // 24 months from 29 February, constrained (checks.md O-21)
		{"AM01250", today, "E01", "2026-06-04", "SEVERE_USE"},                   // half of 12 months
		{"AM0129T", today, "R02", "2026-08-04", "SEVERE_USE"},                   // a quarter of 12 months
		{"AM0129T", today, "S03", "2026-05-17", "STARTED_BY_EVENT"},             // 2 days after the beach
		{"AM0126Z", today, "W01", "about", "NOT_BEFORE"},
		{"AM0154R", today, "W05", "2026-05-26", "STARTED_BY_EVENT"}, // 14 days after the tyres of 12 May
		{"AM0154R", today, "K04", "2026-06-11", "STARTED_BY_EVENT"}, // 30 days
		{"AM0127X", today, "G01W", "2026-05-18", "STARTED_BY_EVENT"},
		{"AM0128V", today, "G01W", "", "NO_EVENT"},
		{"AM0128V", "2025-10-04", "G01W", "2025-10-06", "STARTED_BY_EVENT"},
		{"AM01306", today, "E08", "2026-10-01", "LAY_UP"}, // the day after the lay-up
		{"AM0139P", today, "E01", "2026-05-31", "LAY_UP"}, // the day before it
		{"AM0139P", today, "E08", "2026-09-16", "LAY_UP"},
		{"AM0147P", today, "Z03", "", "NO_EVENT"},
		{"AM01314", today, "E01", "2027-01-17", "LAST_DONE"}, // 12 months from the work abroad
		{"AM01170", "2022-04-21", "W05", "2022-05-04", "STARTED_BY_EVENT"},
		{"AM0118Z", "2023-03-16", "W05", "2023-03-29", "STARTED_BY_EVENT"},
	} {
		got, err := c.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + s.serial + "/schedule", OnDate: vehiclewire.DateProto(day(t, s.on))})
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(got.GetItems(), func(i *schedulev1.ItemStatus) bool { return i.GetItemId() == s.item })
		if (i < 0) != (s.act == "none") {
			t.Errorf("%s, %s: applies %v", s.serial, s.item, i >= 0)
		}
		if i < 0 {
			continue
		}
		item := got.GetItems()[i]
		act, err := vehiclewire.Date(item.GetActByDate())
		if err != nil {
			t.Fatal(err)
		}
		var rules []string
		for _, r := range item.GetReasons() {
			rules = append(rules, r.GetRule())
		}
		if want := s.act; want == "" && !act.IsZero() || want == "about" && act.IsZero() || want != "" && want != "about" && act.String() != want || !slices.Contains(rules, s.rule) {
			t.Errorf("%s on %s, %s: got %s by %v, want %s by %s: %s", s.serial, s.on, s.item, act, rules, s.act, s.rule, item.GetSentence())
		}
	}
}

// used looks at what the forecast says it rests on, and at whom it asks.
func used(t *testing.T, ctx context.Context, c works.Clients) {
	for _, s := range []struct {
		serial, says string
		ask          bool
	}{
		{"AM0150Z", "give about 4,", true},
		{"AM0161T", "used June to August as its owner says", false},
		{"AM0134Z", "a year", false},
		{"AM0164N", "There is one reading only", false},
	} {
		got, err := c.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + s.serial + "/schedule"})
		if err != nil {
			t.Fatal(err)
		}
		text, ask := got.GetPace().GetEvidence().GetSentence(), got.GetReadingRequest()
		if !strings.Contains(text, s.says) || (ask != nil) != s.ask {
			t.Errorf("%s: %q, asked %v; want %q, %v", s.serial, text, ask, s.says, s.ask)
		}
	}
}

func day(t *testing.T, text string) vehicle.Date {
	t.Helper()
	d, err := vehicle.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Who reads a story must be able to open its vehicle.
func TestTheVehiclesOfTheStoriesAreInTheFleet(t *testing.T) {
	text, err := os.ReadFile("STORIES.md")
	if err != nil {
		t.Fatal(err)
	}
	fleet, err := aldermoor.Files.ReadFile("builds.csv")
	if err != nil {
		t.Fatal(err)
	}
	serials := regexp.MustCompile(`\bAM[0-9]{4}[0-9A-Z]\b`).FindAllString(string(text), -1)
	if len(serials) < 40 {
		t.Fatalf("only %d serials in STORIES.md", len(serials))
	}
	for _, serial := range serials {
		if !strings.Contains(string(fleet), "\n"+serial+",") {
			t.Errorf("%s is not in builds.csv", serial)
		}
	}
}

// The demo has to be large and mixed enough to show the job, and its mails few
// enough to be read.
func TestTheFleetIsMixed(t *testing.T) {
	ctx, c := demo(t)
	states := map[schedulev1.DueState]int{}
	byTime := 0
	for token := ""; ; {
		page, err := c.Builds.ListBuilds(ctx, &buildv1.ListBuildsRequest{PageSize: 500, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range page.GetBuilds() {
			serial := strings.TrimPrefix(b.GetName(), "builds/")
			s, err := c.Schedules.GetSchedule(ctx, &schedulev1.GetScheduleRequest{Name: "vehicles/" + serial + "/schedule"})
			if err != nil {
				t.Fatal(err)
			}
			states[worst(s)]++
			if timeAloneDecides(t, s) {
				byTime++
			}
		}
		if token = page.GetNextPageToken(); token == "" {
			break
		}
	}
	quiet := states[schedulev1.DueState_DUE_STATE_NOT_YET]
	told := states[schedulev1.DueState_DUE_STATE_COMING] + states[schedulev1.DueState_DUE_STATE_DUE] + states[schedulev1.DueState_DUE_STATE_OVERDUE]
	if quiet < 32 || told < 12 || told > 30 || states[schedulev1.DueState_DUE_STATE_OVERDUE] < 3 || states[schedulev1.DueState_DUE_STATE_COMING] < 5 {
		t.Errorf("got %v", states)
	}
	// Such vehicles move little, so that the calendar decides for most of them
	// (trade.md: low mileage makes the time limbs dominate; common practice).
	if byTime < 32 {
		t.Errorf("time alone decides for %d vehicles, want at least half of 64", byTime)
	}
	t.Logf("time alone decides for %d vehicles; states: %v", byTime, states)
}

// timeAloneDecides says whether no distance limb of a vehicle comes first, and
// looks whether each sentence says what the distance would have allowed.
func timeAloneDecides(t *testing.T, s *schedulev1.Schedule) bool {
	t.Helper()
	alone := true
	for _, i := range s.GetItems() {
		if i.GetItem().GetOwnerCheck() || i.GetTimeDueDate() == nil || i.GetDistanceDueDate() == nil {
			continue
		}
		if i.GetBinding() == schedulev1.Limb_LIMB_DISTANCE {
			alone = false
		} else if text := i.GetSentence(); !strings.Contains(text, " driven, of ") {
			t.Errorf("%s, %s: time decides, and the sentence does not say how far it was driven: %s", s.GetName(), i.GetItemId(), text)
		}
	}
	return alone
}

// worst is the most urgent state of what a workshop does.
func worst(s *schedulev1.Schedule) schedulev1.DueState {
	state := schedulev1.DueState_DUE_STATE_NOT_YET
	for _, i := range s.GetItems() {
		if !i.GetItem().GetOwnerCheck() && i.GetState() != schedulev1.DueState_DUE_STATE_NOTHING_TO_DO {
			state = max(state, i.GetState())
		}
	}
	return state
}
