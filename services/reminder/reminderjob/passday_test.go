package reminderjob

import (
	"context"
	"errors"
	"fmt"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"google.golang.org/protobuf/testing/protocmp"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/internal/kv"
	"halfshaft/services/reminder"
)

func TestADayAddsUpItsPasses(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today), item("B02", today.AddDays(5)))
	o.town.owner(serial(1), "p1")
	o.run(t)
	o.now = noon.Add(time.Hour)
	o.town.vehicle(serial(2), item("E01", today.AddDays(9)))
	o.town.owner(serial(2), "p2")
	o.run(t)
	o.run(t) // nothing more
	day, revision, err := o.Store.PassDay(t.Context(), today)
	if err != nil {
		t.Fatal(err)
	}
	want := &reminderv1.PassDay{
		Name: "passDays/2026-05-18",
		Counts: &reminderv1.PassCounts{
			Claimed: 2, Sent: 2, ByStage: map[string]int32{"due": 1, "early": 1}, ByChannel: map[string]int32{"mail": 2},
		},
		Told: []string{
			string(serial(1)) + " B02.2025-05-01 due p1", string(serial(1)) + " E01.2025-05-01 due p1", string(serial(2)) + " E01.2025-05-01 early p2",
		},
	}
	slices.Sort(want.Told)
	if diff := cmp.Diff(want, day, protocmp.Transform()); diff != "" {
		t.Error(diff)
	}
	o.run(t)
	if _, again, err := o.Store.PassDay(t.Context(), today); err != nil || again != revision {
		t.Errorf("a pass that did nothing wrote: %d, %d, %v", revision, again, err)
	}
	o.now = noon.AddDate(0, 0, 1)
	o.run(t)
	days, err := o.Store.PassDays(t.Context(), "", 10)
	if err != nil || len(days) != 2 || days[0].GetName() != "passDays/2026-05-19" || days[0].GetCounts().GetClaimed() != 0 {
		t.Errorf("the latest first: %v, %v", days, err)
	}
	if days, err := o.Store.PassDays(t.Context(), "2026-05-19", 10); err != nil || len(days) != 1 {
		t.Errorf("before a day: %v, %v", days, err)
	}
}

func TestADeposedLeaderWritesNoDay(t *testing.T) {
	o := newOffice(t)
	fence := o.elect(t)
	o.depose(t, fence)
	if _, err := o.pass(t.Context(), fence); !errors.Is(err, kv.ErrNotLeader) {
		t.Errorf("got %v", err)
	}
	if days, err := o.Store.PassDays(t.Context(), "", 1); err != nil || len(days) != 0 {
		t.Errorf("days %v, %v", days, err)
	}
}

func TestADayKeepsWhatTwoWriteAtOnce(t *testing.T) {
	o := newOffice(t)
	fence := o.elect(t)
	done := make(chan error)
	const writers = 4
	for range writers {
		go func() {
			for range 5 {
				err := o.Store.AddToPassDay(context.WithoutCancel(t.Context()), fence, today, func(p *reminderv1.PassDay) {
					p.Counts = added(p.GetCounts(), &reminderv1.PassCounts{Claimed: 1})
				})
				for err != nil && strings.Contains(err.Error(), "changed since") {
					err = o.Store.CountOnDay(context.WithoutCancel(t.Context()), today, func(p *reminderv1.PassDay) {
						p.Counts = added(p.GetCounts(), &reminderv1.PassCounts{Claimed: 1})
					})
				}
				if err != nil {
					done <- err
					return
				}
			}
			done <- nil
		}()
	}
	for range writers {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	if day, _, err := o.Store.PassDay(t.Context(), today); err != nil || day.GetCounts().GetClaimed() != 5*writers {
		t.Errorf("%v, %v", day.GetCounts(), err)
	}
}

func TestTheDifferencesToTheDayBeforeAreSentences(t *testing.T) {
	notice := func(n int, person, title string, stage reminder.Stage) reminder.Notice {
		s := serial(n)
		return reminder.Notice{
			ID: fmt.Sprintf("%s.%s", s, person), Serial: s, Person: person, Channel: reminder.Mail, Stage: stage,
			Lines: []reminder.ToldLine{{ItemID: "E01", Cycle: "E01.2025-05-01", Title: title, Stage: stage}, {ItemID: "B02", Cycle: "B02.2025-05-01", Title: "Brake fluid", Stage: stage}},
		}
	}
	r := &Report{Claimed: 2, Notices: []reminder.Notice{
		notice(2, "p2", "Engine oil and filter", reminder.Early), notice(3, "p3", "EP oil in the axles", reminder.SecondOverdue),
	}, Lines: []reminder.Pending{
		{Serial: serial(4), Person: "p4", Reason: reminder.MonthlyLimit, Stage: reminder.Due},
		{Serial: serial(5), Person: "p5", Reason: reminder.MonthlyLimit, Stage: reminder.Due},
		{Serial: serial(6), Person: "p6", Reason: reminder.OutsideHours, Stage: reminder.Due},
		{Serial: serial(7), Person: "p7", Reason: reminder.NotYet},
		{Serial: serial(8), Person: "p8", Reason: reminder.IsBooked},
		{Serial: serial(9), Person: "p9", Reason: reminder.Told, Stage: reminder.Due},
	}}
	before := &reminderv1.PassDay{
		Counts: &reminderv1.PassCounts{Claimed: 14, ByStage: map[string]int32{"early": 10, "due": 4}},
		Told:   []string{string(serial(3)) + " E01.2025-05-01 overdue p3", string(serial(3)) + " E01.2025-05-01 overdue p9"},
	}
	want := []string{
		"12 notices less than yesterday: 9 fewer early, 4 fewer due, 1 more second overdue; held back: by the limit of messages 2, outside the recipient's hours 1",
		string(serial(2)) + ": engine oil and filter and 1 more, early, to be told to people/p2 by mail; yesterday nothing",
		string(serial(3)) + ": EP oil in the axles and 1 more, second overdue, to be told to people/p3 by mail; yesterday E01 overdue",
	}
	if diff := cmp.Diff(want, r.Differences(before, "yesterday")); diff != "" {
		t.Error(diff)
	}
	if got := (&Report{}).Differences(&reminderv1.PassDay{}, "yesterday"); len(got) != 0 {
		t.Errorf("of two days without anything: %v", got)
	}
	many := &Report{}
	for n := range mostDifferences + 7 {
		many.claimed(notice(1, fmt.Sprintf("p%d", n), "Oil", reminder.Due))
	}
	if got := many.Differences(&reminderv1.PassDay{}, "the day before"); len(got) != mostDifferences+2 || got[len(got)-1] != "and 7 notices more" ||
		got[0] != fmt.Sprintf("%d notices more than the day before: %d more due", mostDifferences+7, mostDifferences+7) {
		t.Errorf("%d sentences, from %q to %q", len(got), got[0], got[len(got)-1])
	}
}

// scrape gives what a collector reads, without comments.
func (o *office) scrape(t *testing.T) map[string]string {
	t.Helper()
	registry := prometheus.NewRegistry()
	if err := o.Register(registry); err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	promhttp.HandlerFor(registry, promhttp.HandlerOpts{}).ServeHTTP(w, httptest.NewRequest("GET", "/metrics", nil))
	out := map[string]string{}
	for line := range strings.Lines(w.Body.String()) {
		if name, value, ok := strings.Cut(strings.TrimSpace(line), " "); ok && !strings.HasPrefix(line, "#") {
			out[strings.TrimPrefix(name, "halfshaft_reminder_")] = value
		}
	}
	return out
}

func TestTheMetricsCountWhatHappens(t *testing.T) {
	o := newOffice(t)
	for n := range 3 {
		o.town.vehicle(serial(n), item("E01", today))
		o.town.owner(serial(n), fmt.Sprintf("p%d", n))
	}
	o.post.does = func(to string, _ []byte) reminder.Attempt {
		switch to {
		case "p1@harbour.example":
			return reminder.Attempt{Outcome: reminder.RefusedIt, Text: "550 no"}
		case "p2@harbour.example":
			return reminder.Attempt{Outcome: reminder.TryLater, Text: "451 later"}
		}
		return reminder.Attempt{Outcome: reminder.Accepted, Text: "250 ok"}
	}
	o.want(t, "one of each", "claimed 3 sent 1 waiting 1 parked 1 tasks 1")
	o.now = noon.Add(90 * time.Second)
	got := o.scrape(t)
	for name, want := range map[string]string{
		`notices_claimed_total{channel="mail",stage="due"}`: "3",
		`notices_sent_total{channel="mail"}`:                "1",
		`notices_parked_total{channel="mail"}`:              "1",
		`claim_to_acceptance_seconds_count{channel="mail"}`: "1",
		`backlog_notices{channel="mail"}`:                   "1",
		`backlog_oldest_seconds{channel="mail"}`:            "90",
		`backlog_notices{channel="letter"}`:                 "0",
		`standstill_seconds`:                                "0",
		`pass_seconds_count`:                                "1",
	} {
		if got[name] != want {
			t.Errorf("%s is %q, want %s", name, got[name], want)
		}
	}
	o.post.does = nil
	o.now = noon.Add(time.Hour)
	o.want(t, "later", "sent 1")
	got = o.scrape(t)
	if got[`claim_to_acceptance_seconds_sum{channel="mail"}`] != "3600" || got[`claim_to_acceptance_seconds_bucket{channel="mail",le="900"}`] != "1" {
		t.Errorf("the delays: %v", got)
	}
	for name := range got {
		if strings.Contains(name, "AM") || strings.Contains(name, "p0") || strings.Contains(name, "harbour") {
			t.Errorf("%s names somebody", name)
		}
	}
}

func TestAStandstillIsOneTaskThatClosesItself(t *testing.T) {
	o := newOffice(t)
	o.town.vehicle(serial(1), item("E01", today))
	o.town.owner(serial(1), "p1")
	o.post.does = func(string, []byte) reminder.Attempt {
		return reminder.Attempt{Outcome: reminder.TryLater, Text: "not now"}
	}
	tasks := func() (open, closed []string) {
		all, err := o.Store.Tasks(t.Context(), "", 100, func(task reminder.Task) bool { return task.Kind == reminder.Standstill })
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range all {
			if k.Completed.IsZero() {
				open = append(open, k.ID)
			} else {
				closed = append(closed, k.Outcome)
			}
		}
		return open, closed
	}
	for hours := 0; hours <= 54; hours += 6 {
		o.now = noon.Add(time.Duration(hours) * time.Hour)
		if hours == 30 { // a restart forgets nothing
			fresh, err := New(o.Config)
			if err != nil {
				t.Fatal(err)
			}
			o.Job = fresh
		}
		r := o.run(t)
		open, _ := tasks()
		if want := map[bool]int{true: 2}[hours > 24]; len(open) != want && hours != 24 {
			t.Fatalf("after %d hours: tasks %v, alarms %v", hours, open, r.Alarms)
		}
	}
	if got := o.scrape(t); got["standstill_seconds"] != "194400" || got[`alarms_total{kind="nothing-sent"}`] == "" { // 54 hours
		t.Errorf("the metrics: %v", got)
	}
	if alarms, err := o.Alarms(t.Context()); err != nil || len(alarms) != 2 || !strings.Contains(alarms[1], "nothing went out") {
		t.Errorf("alarms %q, %v", alarms, err)
	}
	o.post.does = nil
	o.now = noon.Add(70 * time.Hour)
	o.run(t)
	open, closed := tasks()
	if len(open) != 0 || len(closed) != 2 || closed[0] != "halfshaft: notices go out again" {
		t.Errorf("when it moves: open %v, closed %v", open, closed)
	}
	if alarms, err := o.Alarms(t.Context()); err != nil || len(alarms) != 0 || o.scrape(t)["standstill_seconds"] != "0" {
		t.Errorf("alarms %q, %v", alarms, err)
	}
}

func TestAHandClosedStandstillStaysClosed(t *testing.T) {
	o := newOffice(t)
	fence := o.elect(t)
	k, err := o.Store.Standstill(t.Context(), reminder.Backlog)
	if err != nil {
		t.Fatal(err)
	}
	task := reminder.Alarm{Kind: reminder.Backlog, Sentence: "it waits", Since: noon}.Task(serial(1), noon)
	if err := o.Store.StandStill(t.Context(), fence, k, noon, &task); err != nil {
		t.Fatal(err)
	}
	kept, err := o.Store.Task(t.Context(), task.ID)
	if err != nil {
		t.Fatal(err)
	}
	kept.Completed, kept.Outcome = noon, "desk: seen to"
	if _, err := o.Store.PutTask(t.Context(), reminderRequest(), kept.Task, kept.Revision); err != nil {
		t.Fatal(err)
	}
	if k, err = o.Store.Standstill(t.Context(), reminder.Backlog); err != nil || k.Task != task.ID || !k.Since.Equal(noon) {
		t.Fatalf("remembered as %+v, %v", k, err)
	}
	later := noon.Add(time.Hour) // it stands still all the same
	if err := o.Store.StandStill(t.Context(), fence, k, later, &task); err != nil {
		t.Fatal(err)
	}
	if kept, err = o.Store.Task(t.Context(), task.ID); err != nil || kept.Outcome != "desk: seen to" {
		t.Errorf("the task is open again: %+v, %v", kept, err)
	}
	if k, err = o.Store.Standstill(t.Context(), reminder.Backlog); err != nil || !k.Since.Equal(later) {
		t.Errorf("remembered as %+v, %v", k, err)
	}
	if err := o.Store.Moves(t.Context(), fence, k, noon.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if kept, err = o.Store.Task(t.Context(), task.ID); err != nil || kept.Outcome != "desk: seen to" {
		t.Errorf("got %+v, %v", kept, err)
	}
}
