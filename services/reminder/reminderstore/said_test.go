package reminderstore

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	reminderv1 "halfshaft/proto/halfshaft/reminder/v1"
	"halfshaft/services/fault"
	"halfshaft/services/internal/etcdtest"
	"halfshaft/services/internal/kv"
	"halfshaft/services/internal/projection"
	"halfshaft/services/reminder"
	"halfshaft/services/vehicle"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var noon = time.Date(2026, time.May, 18, 12, 0, 0, 0, time.UTC)

const serial = vehicle.Serial("AM0147P")

func open(t *testing.T, store *kv.Store) *Store {
	t.Helper()
	s, err := Open(t.Context(), store, &projection.Group{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(s.Close)
	return s
}

func answer(id string, at time.Time) reminder.Answer {
	return reminder.Answer{
		ID: id, Serial: serial, Person: "p1", Kind: reminder.Booked, Cycles: []string{"E01.2025-05-01"},
		Day: vehicle.MustDate(2026, 6, 1), Created: at, RecordedBy: "front desk",
	}
}

// TestWhatPeopleSaidIsThereAfterARestart writes by one store and reads by that
// one, by one that follows, and by one that opens afterwards.
func TestWhatPeopleSaidIsThereAfterARestart(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s, follower := open(t, store), open(t, store)
	ctx := t.Context()
	second, first := answer("b", noon), answer("a", noon.Add(-time.Hour))
	for _, a := range []reminder.Answer{second, first, answer("c", noon)} {
		if _, err := s.CreateAnswer(ctx, Request{}, a, nil); err != nil {
			t.Fatal(err)
		}
	}
	gone, err := s.Answer(ctx, serial, "c")
	if err != nil {
		t.Fatal(err)
	}
	gone.Withdrawn = noon
	if _, err := s.PutAnswer(ctx, Request{}, gone.Answer, gone.Revision, nil); err != nil {
		t.Fatal(err)
	}
	own := reminder.Cadence{Early: 10, Overdue: 11, SecondOverdue: 12, Works: 13, Apart: 14}
	if _, err := s.PutCadence(ctx, Request{}, reminder.Seasonal, own, 0); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if _, err := s.RaiseEpoch(ctx, Request{}, "p1"); err != nil {
			t.Fatal(err)
		}
	}
	year := reminder.OptOut{Serial: serial, Person: "p1", Created: noon, Way: "page", Purpose: reminder.YearLetter}
	if _, err := s.OptOut(ctx, Request{}, year); err != nil {
		t.Fatal(err)
	}
	if err := follower.Sync(ctx); err != nil {
		t.Fatal(err)
	}
	for name, s := range map[string]*Store{"the one that wrote": s, "one that follows": follower, "one that opens later": open(t, store)} {
		if diff := cmp.Diff([]reminder.Answer{first, second}, s.Answers(serial)); diff != "" {
			t.Errorf("%s: the answers that hold, the oldest first:\n%s", name, diff)
		}
		if c := s.Cadences(); c.Of(reminder.Seasonal) != own || c.Of(reminder.Vital) != reminder.Usual(reminder.Vital) {
			t.Errorf("%s: cadences %+v", name, c)
		}
		if s.Epoch("p1") != 2 || s.Epoch("p2") != 0 {
			t.Errorf("%s: numbers of links %d and %d", name, s.Epoch("p1"), s.Epoch("p2"))
		}
		if !s.OptedOutOf(serial, reminder.YearLetter)["p1"] || s.OptedOutOf(serial, reminder.Service)["p1"] {
			t.Errorf("%s: opted out of the wrong thing", name)
		}
		known := map[string]bool{}
		for key := range s.state.Known() {
			known[key] = true
		}
		want := map[string]bool{
			answerKey(serial, "a"): true, answerKey(serial, "b"): true, cadencesPrefix + "seasonal": true, epochsPrefix + "p1": true, optOutKey(year): true,
		}
		if diff := cmp.Diff(want, known); diff != "" {
			t.Errorf("%s: what a relist must find gone:\n%s", name, diff)
		}
	}
}

func TestAnAnswerAndItsTaskAreOneWrite(t *testing.T) {
	s := open(t, kv.NewStore(etcdtest.Client(t)))
	a := answer("a", noon)
	a.Kind = reminder.Done
	task := a.SaidDoneTask(noon)
	if _, err := s.CreateAnswer(t.Context(), Request{}, a, &task); err != nil {
		t.Fatal(err)
	}
	a.ID = "b" // another answer that would make the same task
	if _, err := s.CreateAnswer(t.Context(), Request{}, a, &task); !fault.Is(err, fault.AlreadyExists) {
		t.Errorf("two answers made one task: %v", err)
	}
	if _, err := s.Answer(t.Context(), serial, "b"); !fault.Is(err, fault.NotFound) {
		t.Errorf("the answer is there without its task: %v", err)
	}
}

func TestADayIsWrittenByTheLeaderOnly(t *testing.T) {
	store := kv.NewStore(etcdtest.Client(t))
	s, day := open(t, store), vehicle.DateOf(noon)
	count := func(p *reminderv1.PassDay) {
		p.Counts = &reminderv1.PassCounts{Claimed: p.GetCounts().GetClaimed() + 1}
	}
	if err := s.AddToPassDay(t.Context(), kv.Fence{Key: "/nobody", CreateRevision: 1}, day, count); !errors.Is(err, kv.ErrNotLeader) {
		t.Errorf("by somebody who does not lead: %v", err)
	}
	resp, err := store.Client().Put(t.Context(), "/fence", "us")
	if err != nil {
		t.Fatal(err)
	}
	fence := kv.Fence{Key: "/fence", CreateRevision: resp.Header.Revision}
	for n := range int32(3) {
		if err := s.AddToPassDay(t.Context(), fence, day, count); err != nil {
			t.Fatal(err)
		}
		if p, _, err := s.PassDay(t.Context(), day); err != nil || p.GetCounts().GetClaimed() != n+1 {
			t.Errorf("got %v, %v", p, err)
		}
	}
}
