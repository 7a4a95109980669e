package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/testing/protocmp"

	buildv1 "halfshaft/proto/halfshaft/build/v1"
	schedulev1 "halfshaft/proto/halfshaft/schedule/v1"
	vehiclev1 "halfshaft/proto/halfshaft/vehicle/v1"
	"halfshaft/services/works"
)

// The short form runs with every test run; the long one is TestLongKill….
const shortKills, longKills = 12, 1000

// TestAKilledProcessLosesNoAcknowledgedWrite kills a serving process with
// SIGKILL at random moments while clients write, and looks for every answer it
// gave: nothing acknowledged may be missing, nothing may be there by half, and
// a request repeated after the crash must not take effect twice.
func TestAKilledProcessLosesNoAcknowledgedWrite(t *testing.T) { killWrites(t, shortKills) }

func killWrites(t *testing.T, kills int) {
	data := demoData(t)
	w := &writers{random: rand.New(rand.NewPCG(1, uint64(kills)))}
	for round := range kills {
		p := serve(t, data, "--date", "2026-05-18")
		w.until(t, p, time.Duration(w.random.IntN(40_000))*time.Microsecond)
		if round%25 == 24 || round == kills-1 {
			w.verify(t, serve(t, data, "--date", "2026-05-18"))
		}
		if t.Failed() {
			t.FailNow()
		}
	}
	t.Logf("%d kills: %d acknowledged writes, all there; %d unanswered, of which %d had taken effect, each whole and once",
		kills, len(w.acknowledged), w.unanswered, w.effective)
}

// writers write service entries, each with a reading, all over the fleet, and
// remember what was answered. An entry and its reading are two keys of one
// transaction.
type writers struct {
	vehicles []string // "vehicles/AM0101G"
	random   *rand.Rand

	mu           sync.Mutex
	acknowledged []*schedulev1.ServiceEntry
	open         []*schedulev1.RecordServiceRequest // sent, never answered
	unanswered   int
	effective    int
	written      int
}

// writesEach is the most that one client writes between two kills: of the long
// campaign all vehicles together must find room for it.
const writesEach = 25

// fleet lists the vehicles.
func fleet(t *testing.T, s *works.Session) []string {
	t.Helper()
	r, err := s.Builds.ListBuilds(context.Background(), &buildv1.ListBuildsRequest{PageSize: 500})
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, b := range r.GetBuilds() {
		all = append(all, "vehicles/"+strings.TrimPrefix(b.GetName(), "builds/"))
	}
	return all
}

// until writes from four clients until the process is killed, which happens
// after the pause.
func (w *writers) until(t *testing.T, p *process, pause time.Duration) {
	if w.vehicles == nil {
		w.vehicles = fleet(t, p.session(t))
	}
	var group sync.WaitGroup
	for range 4 {
		session := p.session(t)
		group.Add(1)
		go func() {
			defer group.Done()
			for range writesEach {
				if !w.write(session) {
					break
				}
			}
			session.Close()
		}()
	}
	time.Sleep(pause) // the moment of the kill is random on purpose
	p.kill()
	group.Wait()
}

// write records one entry; false when nobody answers any more.
func (w *writers) write(s *works.Session) bool {
	w.mu.Lock()
	w.written++
	request := w.request(w.written)
	w.mu.Unlock()
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	made, err := s.Schedules.RecordService(ctx, request)
	w.mu.Lock()
	defer w.mu.Unlock()
	if err != nil {
		w.open = append(w.open, request)
		w.unanswered++
		return false
	}
	w.acknowledged = append(w.acknowledged, made)
	return true
}

func (w *writers) request(n int) *schedulev1.RecordServiceRequest {
	return &schedulev1.RecordServiceRequest{
		Parent: w.vehicles[n%len(w.vehicles)], RequestId: uuid.NewString(),
		ServiceEntry: &schedulev1.ServiceEntry{
			ServiceDate: &date.Date{Year: 2026, Month: 5, Day: 17},
			Reading:     &vehiclev1.Distance{EnteredValue: fmt.Sprint(n % 90000), EnteredUnit: "mi"},
			Items:       []*schedulev1.ItemDone{{ItemId: "E01"}},
			Note:        fmt.Sprintf("write %d", n),
		},
	}
}

// verify looks for everything after a restart, and repeats what was never
// answered.
func (w *writers) verify(t *testing.T, p *process) {
	t.Helper()
	session := p.session(t)
	before := w.entries(t, session)
	for _, want := range w.acknowledged {
		if diff := cmp.Diff(want, before[want.GetName()], protocmp.Transform()); diff != "" {
			t.Errorf("an acknowledged entry is not as it was answered (-answered +stored):\n%s", diff)
		}
	}
	notes := map[string]int{}
	for _, e := range before {
		notes[e.GetNote()]++
	}
	for _, request := range w.open {
		already := notes[request.GetServiceEntry().GetNote()]
		w.effective += already
		made, err := session.Schedules.RecordService(context.Background(), request)
		if err != nil {
			t.Errorf("a request repeated after the crash: %v", err)
			continue
		}
		w.acknowledged = append(w.acknowledged, made)
	}
	w.open = nil
	seen := map[string]int{}
	for _, e := range w.entries(t, session) {
		if !strings.HasPrefix(e.GetNote(), "write ") {
			continue
		}
		if seen[e.GetNote()]++; seen[e.GetNote()] > 1 {
			t.Errorf("%q took effect %d times", e.GetNote(), seen[e.GetNote()])
		}
		if e.GetReading() == nil {
			t.Errorf("%q is there without its reading", e.GetNote())
		}
	}
	w.audited(t, session, len(seen))
	session.Close()
	p.stop(t)
}

// entries reads every service entry of the fleet.
func (w *writers) entries(t *testing.T, s *works.Session) map[string]*schedulev1.ServiceEntry {
	t.Helper()
	all := map[string]*schedulev1.ServiceEntry{}
	for _, v := range w.vehicles {
		for token, more := "", true; more; more = token != "" {
			r, err := s.Schedules.ListServiceEntries(context.Background(), &schedulev1.ListServiceEntriesRequest{
				Parent: v, PageSize: 500, PageToken: token,
			})
			if err != nil {
				t.Fatal(err)
			}
			for _, e := range r.GetServiceEntries() {
				all[e.GetName()] = e
			}
			token = r.GetNextPageToken()
		}
	}
	return all
}
