package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"google.golang.org/protobuf/testing/protocmp"

	enquiryv1 "halfshaft/proto/halfshaft/enquiry/v1"
	"halfshaft/services/works"
)

// enquiryKills is how often the process is killed; the campaigns of long_test.go
// kill the store underneath far oftener.
const enquiryKills = 6

// TestAKilledProcessLosesNoEnquiryAndNoAnswer kills a serving process while
// clients record questions, of people on record and of others, and answer them.
// What was acknowledged is there with its words and every answer, once.
func TestAKilledProcessLosesNoEnquiryAndNoAnswer(t *testing.T) {
	data := demoData(t)
	a := &askers{random: rand.New(rand.NewPCG(7, 7)), acknowledged: map[string]*enquiryv1.Enquiry{}}
	for range enquiryKills {
		p := serve(t, data, "--date", "2026-05-18")
		a.until(t, p, time.Duration(20_000+a.random.IntN(130_000))*time.Microsecond)
	}
	a.verify(t, serve(t, data, "--date", "2026-05-18"))
	if len(a.acknowledged) == 0 {
		t.Error("nothing was acknowledged: the test shows nothing")
	}
	t.Logf("%d kills: %d enquiries as they were acknowledged, %d requests unanswered", enquiryKills, len(a.acknowledged), a.unanswered)
}

// askers record enquiries and answers, and remember what was acknowledged.
type askers struct {
	vehicles []string
	random   *rand.Rand

	mu           sync.Mutex
	acknowledged map[string]*enquiryv1.Enquiry // by name, as last acknowledged
	open         []*enquiryv1.CreateEnquiryRequest
	answering    map[string]bool // names of which an answer was sent and not acknowledged
	unanswered   int
	written      int
}

func (a *askers) until(t *testing.T, p *process, pause time.Duration) {
	if a.vehicles == nil {
		a.vehicles, a.answering = fleet(t, p.session(t)), map[string]bool{}
	}
	var group sync.WaitGroup
	for range 4 {
		session := p.session(t)
		group.Go(func() {
			for range writesEach {
				if !a.ask(session) {
					break
				}
			}
			session.Close()
		})
	}
	time.Sleep(pause) // the moment of the kill is random on purpose
	p.kill()
	group.Wait()
}

// ask records a question and then an answer; false when nobody answers any more.
func (a *askers) ask(s *works.Session) bool {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	a.mu.Lock()
	a.written++
	n := a.written
	a.mu.Unlock()
	r := &enquiryv1.CreateEnquiryRequest{Parent: a.vehicles[n%len(a.vehicles)], RequestId: uuid.NewString(), Enquiry: &enquiryv1.Enquiry{
		Channel: enquiryv1.EnquiryChannel_ENQUIRY_CHANNEL_TELEPHONE, AskerKind: enquiryv1.AskerKind_ASKER_KIND_OWNER,
		Question: fmt.Sprintf("question %d", n), Symptom: "drip"}}
	if n%2 == 0 {
		r.Enquiry.Person = "people/p0003"
	}
	made, err := s.Enquiries.CreateEnquiry(ctx, r)
	if err != nil {
		a.mu.Lock()
		defer a.mu.Unlock()
		a.open = append(a.open, r)
		a.unanswered++
		return false
	}
	a.acknowledge(made)
	answered, err := s.Enquiries.RecordAnswer(ctx, &enquiryv1.RecordAnswerRequest{Name: made.GetName(), RequestId: uuid.NewString(), Answer: &enquiryv1.EnquiryAnswer{Text: "answer"}})
	if err != nil {
		a.mu.Lock()
		defer a.mu.Unlock()
		a.answering[made.GetName()] = true
		a.unanswered++
		return false
	}
	a.acknowledge(answered)
	return true
}

func (a *askers) acknowledge(e *enquiryv1.Enquiry) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.acknowledged[e.GetName()] = e
}

// verify looks for everything after a restart, and sends again what was never
// answered, twice.
func (a *askers) verify(t *testing.T, p *process) {
	t.Helper()
	s := p.session(t)
	ctx := context.Background()
	for name, want := range a.acknowledged {
		got, err := s.Enquiries.GetEnquiry(ctx, &enquiryv1.GetEnquiryRequest{Name: name})
		if err != nil {
			t.Errorf("an acknowledged enquiry: %v", err)
			continue
		}
		if a.answering[name] && len(got.GetAnswers()) == 1 { // it took effect, and nobody was told
			continue
		}
		if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" {
			t.Errorf("an acknowledged enquiry is not as it was answered (-answered +stored):\n%s", diff)
		}
	}
	for _, r := range a.open {
		for range 2 {
			if _, err := s.Enquiries.CreateEnquiry(ctx, r); err != nil {
				t.Errorf("a request repeated after the crash: %v", err)
			}
		}
	}
	times := map[string]int{}
	for token, more := "", true; more; more = token != "" {
		r, err := s.Enquiries.ListEnquiries(ctx, &enquiryv1.ListEnquiriesRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range r.GetEnquiries() {
			if times[e.GetQuestion()]++; times[e.GetQuestion()] > 1 || e.GetQuestion() == "" {
				t.Errorf("%q stands %d times", e.GetQuestion(), times[e.GetQuestion()])
			}
		}
		token = r.GetNextPageToken()
	}
	if want := len(a.acknowledged) + len(a.open); len(times) != want {
		t.Errorf("%d enquiries are there, want %d", len(times), want)
	}
	s.Close()
	p.stop(t)
}
