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
	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/testing/protocmp"

	warrantyv1 "halfshaft/proto/halfshaft/warranty/v1"
	"halfshaft/services/works"
)

// claimKills is how often the process is killed; the campaigns of long_test.go
// kill the store underneath far oftener.
const claimKills = 6

// TestAKilledProcessLosesNoClaimAndNoDecision kills a serving process while
// clients make claims, hand them in and decide them. What was acknowledged is
// there as it was answered; what was not is sent again, twice, and takes effect
// once.
func TestAKilledProcessLosesNoClaimAndNoDecision(t *testing.T) {
	data := demoData(t)
	c := &claimants{random: rand.New(rand.NewPCG(11, 11)), acknowledged: map[string]*warrantyv1.Claim{}}
	for range claimKills {
		p := serve(t, data, "--date", "2026-05-18")
		c.until(t, p, 10+c.random.IntN(40))
	}
	c.verify(t, serve(t, data, "--date", "2026-05-18"))
	decided := 0
	for _, m := range c.acknowledged {
		decided += len(m.GetDecisions())
	}
	if len(c.acknowledged) == 0 || decided == 0 {
		t.Errorf("%d claims and %d decisions were acknowledged: the test shows too little", len(c.acknowledged), decided)
	}
	t.Logf("%d kills: %d claims and %d decisions as they were acknowledged, %d requests unanswered", claimKills, len(c.acknowledged), decided, c.unanswered)
}

// claimants make claims and decide them, and remember what was acknowledged.
type claimants struct {
	vehicles []string
	random   *rand.Rand
	answered chan struct{} // one for each answer since the last start

	mu           sync.Mutex
	acknowledged map[string]*warrantyv1.Claim // by name, as last acknowledged
	open         []again                      // sent and never answered
	unanswered   int
	written      int
}

// again sends a request that nobody answered once more. after is the claim that
// it changes as it was before; nil where it makes one.
type again struct {
	send  func(*works.Session) (*warrantyv1.Claim, error)
	after *warrantyv1.Claim
}

// until writes from four clients until the process is killed, which happens after
// so many answers, while the other clients wait for theirs.
func (c *claimants) until(t *testing.T, p *process, answers int) {
	if c.vehicles == nil {
		c.vehicles = fleet(t, p.session(t))
	}
	c.answered = make(chan struct{}, 4*3*writesEach)
	var group sync.WaitGroup
	for range 4 {
		session := p.session(t)
		group.Go(func() {
			for range writesEach {
				if !c.claim(session) {
					break
				}
			}
			session.Close()
		})
	}
	limit := time.After(patience)
	for range answers {
		select {
		case <-c.answered:
		case <-limit:
			t.Fatalf("fewer than %d answers in %v", answers, patience)
		}
	}
	p.kill()
	group.Wait()
}

// claim makes a claim, hands it in and declines it; false when nobody answers any
// more.
func (c *claimants) claim(s *works.Session) bool {
	c.mu.Lock()
	c.written++
	n := c.written
	c.mu.Unlock()
	create := &warrantyv1.CreateClaimRequest{Parent: c.vehicles[n%len(c.vehicles)], RequestId: uuid.NewString(), Claim: &warrantyv1.Claim{
		Position: "gearbox", FailureDate: &date.Date{Year: 2026, Month: 5, Day: 17}, Symptom: fmt.Sprintf("claim %d", n), Remedy: "selector replaced",
		Currency: "GBP", Parts: []*warrantyv1.ClaimPart{{Part: "AP-1110", Quantity: 2, UnitPriceMinor: 6_000}},
	}}
	made := c.try(s, again{send: func(s *works.Session) (*warrantyv1.Claim, error) {
		return s.Warranties.CreateClaim(context.Background(), create)
	}})
	if made == nil {
		return false
	}
	submit := &warrantyv1.SubmitClaimRequest{Name: made.GetName(), Etag: made.GetEtag(), RequestId: uuid.NewString()}
	handed := c.try(s, again{after: made, send: func(s *works.Session) (*warrantyv1.Claim, error) {
		return s.Warranties.SubmitClaim(context.Background(), submit)
	}})
	if handed == nil {
		return false
	}
	decide := &warrantyv1.DecideClaimRequest{Name: made.GetName(), Etag: handed.GetEtag(), RequestId: uuid.NewString(), Decision: &warrantyv1.ClaimDecision{
		Outcome: warrantyv1.ClaimOutcome_CLAIM_OUTCOME_DECLINED, Reason: "It wore as such things do."}}
	return c.try(s, again{after: handed, send: func(s *works.Session) (*warrantyv1.Claim, error) {
		return s.Warranties.DecideClaim(context.Background(), decide)
	}}) != nil
}

// try sends a request and remembers its answer, or that there was none.
func (c *claimants) try(s *works.Session, a again) *warrantyv1.Claim {
	m, err := a.send(s)
	c.mu.Lock()
	defer c.mu.Unlock()
	if err != nil {
		c.open = append(c.open, a)
		c.unanswered++
		return nil
	}
	c.acknowledged[m.GetName()] = m
	c.answered <- struct{}{}
	return m
}

// verify looks for everything after a restart, and sends again what was never
// answered, twice.
func (c *claimants) verify(t *testing.T, p *process) {
	t.Helper()
	s := p.session(t)
	before := c.all(t, s)
	uncertain := map[string]bool{}
	for _, a := range c.open {
		uncertain[a.after.GetName()] = true
	}
	for name, want := range c.acknowledged {
		got := before[name]
		if uncertain[name] && len(got.GetSteps()) == len(want.GetSteps())+1 { // it took effect, and nobody was told
			continue
		}
		if diff := cmp.Diff(want, got, protocmp.Transform()); diff != "" {
			t.Errorf("an acknowledged claim is not as it was answered (-answered +stored):\n%s", diff)
		}
	}
	for _, a := range c.open {
		first, err := a.send(s)
		if err != nil {
			t.Errorf("a request repeated after the crash: %v", err)
			continue
		}
		second, err := a.send(s)
		if err != nil || cmp.Diff(first, second, protocmp.Transform()) != "" {
			t.Errorf("and once more: %v, %v", second, err)
		}
		if want := len(a.after.GetSteps()) + 1; a.after != nil && len(first.GetSteps()) != want {
			t.Errorf("%s has %d steps, want %d", first.GetName(), len(first.GetSteps()), want)
		}
		c.acknowledged[first.GetName()] = first
	}
	after := c.all(t, s)
	if len(after) != len(c.acknowledged) {
		t.Errorf("%d claims are there, want %d", len(after), len(c.acknowledged))
	}
	said := map[string]bool{}
	for name, m := range after {
		if diff := cmp.Diff(c.acknowledged[name], m, protocmp.Transform()); diff != "" {
			t.Errorf("%s (-answered +stored):\n%s", name, diff)
		}
		if said[m.GetSymptom()] {
			t.Errorf("%q was made twice", m.GetSymptom())
		}
		said[m.GetSymptom()] = true
	}
	s.Close()
	p.stop(t)
}

// all reads every claim of the fleet, by name.
func (c *claimants) all(t *testing.T, s *works.Session) map[string]*warrantyv1.Claim {
	t.Helper()
	all := map[string]*warrantyv1.Claim{}
	for token, more := "", true; more; more = token != "" {
		r, err := s.Warranties.ListClaims(context.Background(), &warrantyv1.ListClaimsRequest{Parent: "vehicles/-", PageSize: 500, PageToken: token})
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range r.GetClaims() {
			all[m.GetName()] = m
		}
		token = r.GetNextPageToken()
	}
	return all
}
